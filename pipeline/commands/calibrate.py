"""The commands that calibrate: write the board, measure the lens, mark the field."""

from __future__ import annotations

import math
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline.commands.field import field
from pipeline.commands.help import group, option
from pipeline.commands.shared import debug_option, report_error
from pipeline.core.errors import CrossemetryError, OutputError, SettingsError
from pipeline.core.files import write_whole

if TYPE_CHECKING:
    from calibration.lens import LensMeasurement
    from pipeline.core.messages import Texts
    from pipeline.film.board_film import BoardFilm

PAPERS = ("a4", "letter")
SQUARE_RANGE_MM = (2.0, 500.0)
NEAR_M = 0.5
"""Least distance of the board for which the focus uncertainty of an analysis is enough."""


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
    placeholders=dict(zip(("one", "other"), PAPERS, strict=True)),
)  # fmt: skip
@debug_option
@click.pass_context
def board(context: click.Context, /, out: Path, paper: str, debug: bool) -> None:
    """Write the board to print, with a bar for checking its true size."""
    try:
        if paper not in PAPERS:
            raise SettingsError.of(
                "no_such_paper", paper=paper, **dict(zip(("one", "other"), PAPERS, strict=True))
            )
        from calibration.board import ENDINGS, board_file

        if out.suffix.lower() not in ENDINGS:
            one, other = ENDINGS
            raise SettingsError.of("no_board_ending", file=out.name, one=one, other=other)
        from pipeline.feedback.words import load_words

        words = load_words()
        _write(out, board_file(paper, out.suffix.lower(), words.texts))
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug))
    click.echo(words.text("board_output.print", file=out))


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
    """Measure the lens from a film of the board, or report what to film instead."""
    try:
        text = _measure(
            board_clip, out, (name or "").strip() or out.stem, _checked_square_mm(square_mm)
        )
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug, of=board_clip, named=str(out)))
    click.echo(text)


def _measure(board_clip: Path, out: Path, name: str, square_mm: float) -> str:
    """Measure the lens and write the profile; returns the summary."""
    if out.suffix.lower() != ".toml":  # otherwise a typing error could replace the film
        raise SettingsError.of("lens_profile_not_toml", file=str(out))
    if not out.parent.is_dir():
        raise OutputError.of("no_folder_for_out", file=str(out))
    from calibration.lens import measure_lens
    from calibration.lens_file import lens_profile_text
    from pipeline.commands.terminal import progress_bar
    from pipeline.feedback.words import load_words
    from pipeline.film.board_film import read_board_film

    words = load_words()
    with progress_bar(board_clip.name, words) as on_progress:
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
    return _summary(words.texts, board_clip.name, film, measured, out)


def _write(out: Path, content: bytes) -> None:
    """Write a file atomically; raises `OutputError`."""
    try:
        write_whole(out, [content])
    except OSError as error:
        raise OutputError.of("file_not_writable", file=str(out), why=error.strerror) from error


def _summary(
    texts: Texts, clip_name: str, film: BoardFilm, measured: LensMeasurement, out: Path
) -> str:
    """Summarise the measured lens and its uncertainty in a few lines of plain text."""
    profile = measured.profile
    long_side = max(profile.width_px, profile.height_px)
    across = profile.focal_px[0 if profile.width_px == long_side else 1]
    near_m, far_m = (distance / 1000 for distance in measured.distance_mm)
    (fx, fy), (u_fx, u_fy) = profile.focal_px, profile.u_focal_px
    (cx, cy), (u_cx, u_cy) = profile.principal_px, profile.u_principal_px
    terms = zip(("k1", "k2", "p1", "p2"), profile.distortion, profile.u_distortion, strict=True)
    apart = texts.text("lens_output.apart")
    by_view = [
        texts.text("lens_output.view", frame=view.frame, off=off_px)
        for view, off_px in zip(measured.views, measured.view_reprojection_px, strict=True)
    ]
    lines = [
        texts.text(
            "lens_output.focal", fx=fx, fy=fy, u_fx=u_fx, u_fy=u_fy,
            view=math.degrees(2 * math.atan(0.5 * long_side / across)),
        ),
        texts.text(
            "lens_output.principal", cx=cx, cy=cy, u_cx=u_cx, u_cy=u_cy,
            width=profile.width_px, height=profile.height_px,
        ),
        texts.text(
            "lens_output.distortion",
            terms=apart.join(
                texts.text("lens_output.term", name=name, value=value, u=u)
                for name, value, u in terms
            ),
        ),
        texts.text(
            "lens_output.film", coverage=measured.coverage, angle=measured.angle_deg,
            near=near_m, far=far_m,
        ),
        texts.text("lens_output.reprojection", all=profile.reprojection_px),
        *(f"  {apart.join(by_view[i : i + 8])}" for i in range(0, len(by_view), 8)),
    ]  # fmt: skip
    if 0.5 * (near_m + far_m) < NEAR_M:
        lines.append(texts.text("lens_output.near", least=NEAR_M))
    lines.append(texts.text("lens_output.profile", file=out))
    found = texts.text(
        "lens_output.board_left_out" if measured.n_dropped else "lens_output.board",
        clip=clip_name, found=len(film.views), looked_at=film.n_looked_at,
        used=profile.n_views, left_out=measured.n_dropped,
    )  # fmt: skip
    return "\n  ".join([found, *lines])


def _checked_square_mm(typed: str) -> float:
    low, high = SQUARE_RANGE_MM
    try:
        square_mm = float(typed)
    except ValueError:
        square_mm = math.nan
    if not low <= square_mm <= high:
        raise SettingsError.of("no_such_square", typed=typed, low=low, high=high)
    return square_mm
