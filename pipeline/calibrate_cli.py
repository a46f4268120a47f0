"""The commands that calibrate: print the board, film it, get a lens profile; mark the field."""

from __future__ import annotations

import math
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline.command import debug_option, say
from pipeline.errors import CrossemetryError, OutputError, SettingsError
from pipeline.field_cli import field
from pipeline.help_texts import group, option
from pipeline.whole_file import write_whole

if TYPE_CHECKING:
    from calibration.lens import LensMeasurement
    from pipeline.board_film import BoardFilm

PAPERS = ("a4", "letter")
SQUARE_RANGE_MM = (2.0, 500.0)
NEAR_M = 0.5
"""The uncertainty that an analysis allows for refocusing covers a board filmed from here."""


@group("calibrate", help="calibrate")
def calibrate() -> None:
    """Measure the lens of a phone, or mark the field that it films."""


calibrate.add_command(field)


@calibrate.command("board", help="calibrate.board")
@option(
    "--out", required=True, metavar="FILE", type=click.Path(path_type=Path),
    help="calibrate.board.out",
)  # fmt: skip
@option(
    "--paper", default="a4", show_default=True, metavar="PAPER", help="calibrate.board.paper",
    put_in=dict(zip(("one", "other"), PAPERS, strict=True)),
)  # fmt: skip
@debug_option
@click.pass_context
def board(context: click.Context, /, out: Path, paper: str, debug: bool) -> None:
    """Write the board to print, with a bar to check that it came out at its true size."""
    try:
        if paper not in PAPERS:
            raise SettingsError(
                f"--paper {paper}: not a size of paper that is known.",
                what_to_do=f"Give {' or '.join(PAPERS)}.",
            )
        from calibration.board import ENDINGS, board_file

        if out.suffix.lower() not in ENDINGS:
            raise SettingsError(
                f"{out.name}: a board is written as {' or '.join(ENDINGS)} only.",
                what_to_do="Give it a name such as board.pdf.",
            )
        _write(out, board_file(paper, out.suffix.lower()))
    except CrossemetryError as error:
        context.exit(say(error, debug=debug))
    click.echo(
        f"{out}: print it at 100 %, not fitted to the page, and measure the bar: it must be 100 mm."
    )


@calibrate.command("lens", help="calibrate.lens")
@click.argument("board_clip", metavar="BOARD_CLIP", type=click.Path(path_type=Path))
@option(
    "--out", required=True, metavar="FILE", type=click.Path(path_type=Path),
    help="calibrate.lens.out",
)  # fmt: skip
@option("--name", metavar="TEXT", help="calibrate.lens.name")
@option(
    "--square-mm", default="25", show_default=True, metavar="MM", help="calibrate.lens.square_mm"
)
@debug_option
@click.pass_context
def lens(
    context: click.Context,
    /,
    board_clip: Path,
    out: Path,
    name: str | None,
    square_mm: str,
    debug: bool,
) -> None:
    """Measure the lens from a film of the board, or say what to film instead."""
    try:
        text = _measure(
            board_clip, out, (name or "").strip() or out.stem, _checked_square_mm(square_mm)
        )
    except CrossemetryError as error:
        context.exit(say(error, debug=debug, of=board_clip, named=str(out)))
    click.echo(text)


def _measure(board_clip: Path, out: Path, name: str, square_mm: float) -> str:
    """Measure the lens and write the profile; returns what there is to tell."""
    if out.suffix.lower() != ".toml":  # or a slip of the keyboard would replace the film
        raise SettingsError(
            f"--out {out}: a lens profile is a TOML file.",
            what_to_do="Give it a name such as my_phone.toml.",
        )
    if not out.parent.is_dir():
        raise OutputError(
            f"{out}: the folder does not exist.", what_to_do="Choose another file with --out."
        )
    from calibration.lens import measure_lens
    from calibration.lens_file import lens_profile_text
    from pipeline.board_film import read_board_film
    from pipeline.terminal import progress_bar

    with progress_bar(board_clip.name) as on_progress:
        film = read_board_film(board_clip, on_progress=on_progress)
    measured = measure_lens(
        film.views,
        size_px=film.size_px,
        rotation_deg=film.rotation_deg,
        name=name,
        square_mm=square_mm,
        made_on=date.today(),
    )
    _write(out, lens_profile_text(measured.profile).encode("utf-8"))
    return _told(board_clip.name, film, measured, out)


def _write(out: Path, content: bytes) -> None:
    """Write a file whole, or say where else it may go."""
    try:
        write_whole(out, [content])
    except OSError as error:
        raise OutputError(
            f"{out}: it cannot be written there ({error.strerror}).",
            what_to_do="Choose another file with --out.",
        ) from error


def _told(clip_name: str, film: BoardFilm, measured: LensMeasurement, out: Path) -> str:
    """Say what was measured and how well, in a few lines of plain text."""
    profile = measured.profile
    long_side = max(profile.width_px, profile.height_px)
    across = profile.focal_px[0 if profile.width_px == long_side else 1]
    view_deg = math.degrees(2 * math.atan(0.5 * long_side / across))
    left_out = f", {measured.n_dropped} left out as not fitting" if measured.n_dropped else ""
    near_m, far_m = (distance / 1000 for distance in measured.distance_mm)
    (fx, fy), (u_fx, u_fy) = profile.focal_px, profile.u_focal_px
    (cx, cy), (u_cx, u_cy) = profile.principal_px, profile.u_principal_px
    terms = zip(("k1", "k2", "p1", "p2"), profile.distortion, profile.u_distortion, strict=True)
    lines = [
        f"{clip_name}: board found in {len(film.views)} of {film.n_looked_at} pictures, "
        f"{profile.n_views} views used{left_out}",
        f"  focal length     {fx:.1f} and {fy:.1f} px, u {u_fx:.1f} and {u_fy:.1f} px "
        f"({view_deg:.1f} degrees along the long side)",
        f"  principal point  {cx:.1f}, {cy:.1f} px, u {u_cx:.1f}, {u_cy:.1f} px, in a picture of "
        f"{profile.width_px} x {profile.height_px}",
        "  distortion       "
        + ", ".join(f"{key} {value:.4f} (u {u:.4f})" for key, value, u in terms),
        f"  film             {measured.coverage:.0%} of the picture covered, angles up to "
        f"{measured.angle_deg:.0f} degrees apart, from {near_m:.2f} to {far_m:.2f} m",
        f"  reprojection     {profile.reprojection_px:.2f} px over all; by view (frame: px):",
    ]
    by_view = [
        f"{view.frame}: {px:.2f}"
        for view, px in zip(measured.views, measured.view_reprojection_px, strict=True)
    ]
    lines += [f"    {', '.join(by_view[i : i + 8])}" for i in range(0, len(by_view), 8)]
    if 0.5 * (near_m + far_m) < NEAR_M:
        lines.append(
            f"  note: filmed from nearer than {NEAR_M:g} m, where a phone focuses near and sees "
            "narrower than it does on the field. From 0.5 to 1 m is better."
        )
    return "\n".join([*lines, f"  profile: {out}"])


def _checked_square_mm(typed: str) -> float:
    low, high = SQUARE_RANGE_MM
    try:
        square_mm = float(typed)
    except ValueError:
        square_mm = math.nan
    if not low <= square_mm <= high:
        raise SettingsError(
            f"--square-mm {typed}: not a side between {low:g} and {high:g} mm.",
            what_to_do="Measure one square of the printed board, e.g. 25.",
        )
    return square_mm
