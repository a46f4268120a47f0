"""The command that opens a page on which the marks of a field are clicked, and writes them."""

from __future__ import annotations

import threading
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline.command import debug_option, say
from pipeline.errors import CrossemetryError, OutputError, SettingsError
from pipeline.help_texts import command, option

if TYPE_CHECKING:
    from pipeline.field_page.app import FieldPicture
    from pipeline.words import Words

ENDING = ".marks.toml"


@command("field", help="calibrate.field")
@click.argument("clip", metavar="CLIP", type=click.Path(path_type=Path))
@option(
    "--out", metavar="FILE", type=click.Path(path_type=Path), help="calibrate.field.out",
    put_in={"ending": ENDING},
)  # fmt: skip
@option("--goal", metavar="SIZE", help="calibrate.field.goal")
@option("--lens", metavar="FILE", type=click.Path(path_type=Path), help="calibrate.field.lens")
@option("--fov-deg", metavar="DEGREES", help="calibrate.field.fov_deg")
@option("--no-browser", is_flag=True, help="options.no_browser")
@debug_option
@click.pass_context
def field(
    context: click.Context,
    /,
    clip: Path,
    out: Path | None,
    goal: str | None,
    lens: Path | None,
    fov_deg: str | None,
    no_browser: bool,
    debug: bool,
) -> None:
    """Mark points of known place on the first frame, in the browser on this machine."""
    out = out or clip.with_name(clip.stem + ENDING)
    try:
        from pipeline.words import load_words

        picture, words = field_picture(clip, out, goal, lens, fov_deg), load_words()
        is_saved = _serve(picture, words, opens_browser=not no_browser)
    except CrossemetryError as error:
        context.exit(say(error, debug=debug))
    if is_saved:
        click.echo(words.text("page_told.use_marks", file=out, clip=clip))
    else:
        click.echo(words.text("page_told.nothing_saved"), err=True)


def field_picture(
    clip: Path,
    out: Path,
    goal: str | None = None,
    lens_path: Path | None = None,
    fov_deg: str | None = None,
) -> FieldPicture:
    """Check what was typed, and read the film's first frame.

    Parameters
    ----------
    clip, out
        The film, and the file of its marks.
    goal, lens_path, fov_deg
        As typed; None = not told.

    Raises
    ------
    CrossemetryError
        The film or what was typed cannot be used.
    """
    from calibration.field_places import GOAL_SIZES
    from calibration.lens_profile import for_picture
    from calibration.marks_file import read_marks
    from pipeline.clip import open_clip
    from pipeline.field_page.app import FieldPicture
    from pipeline.mark_proposals import propose_marks
    from pipeline.setting_checks import check_field_of_view_deg
    from pipeline.straight import read_lens
    from pipeline.toml_file import nearest

    if goal is not None and goal not in GOAL_SIZES:
        raise SettingsError.of("no_such_goal", goal=goal, nearest=nearest(goal, GOAL_SIZES))
    if out.suffix.lower() != ".toml":  # or a slip of the keyboard would replace the film
        raise SettingsError.of("marks_not_toml", file=str(out))
    if not out.parent.is_dir():
        raise OutputError.of("no_folder_for_out", file=str(out))
    # Only what is a file of marks already is ever replaced.
    marks = read_marks(out) if out.exists() else ()
    view_deg = None if fov_deg is None else check_field_of_view_deg(fov_deg, named="--fov-deg")
    profile = read_lens(lens_path, clip)
    with open_clip(clip) as reader:
        frame = next(iter(reader))
        size_px, rotation_deg = (reader.width_px, reader.height_px), reader.rotation_deg
    lens = profile and for_picture(
        profile, width_px=size_px[0], height_px=size_px[1], rotation_deg=rotation_deg
    )
    return FieldPicture(
        clip_path=clip,
        picture=_encoded(frame.rgb),
        size_px=size_px,
        proposals=propose_marks(frame.rgb),
        out=out,
        marks=marks,
        goal=goal,
        fov_deg=view_deg,
        lens=lens,
    )


def _encoded(rgb: object) -> bytes:
    """Give a picture as JPEG."""
    import io

    import numpy as np
    from PIL import Image

    file = io.BytesIO()
    Image.fromarray(np.asarray(rgb)).save(file, "JPEG", quality=95, subsampling=0)
    return file.getvalue()


def _serve(picture: FieldPicture, words: Words, *, opens_browser: bool) -> bool:
    """Show the page until it is done with; returns whether marks were saved."""
    import webbrowser

    from pipeline.field_page.app import make_app
    from pipeline.loopback_server import serve_on_loopback

    saved = threading.Event()

    def ready(address: str) -> None:
        click.echo(words.text("page_told.open", address=address))
        click.echo(words.text("page_told.ends_unsaved"), err=True)
        if opens_browser:  # some browsers run in the terminal and return only when they are left
            threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()

    with suppress(KeyboardInterrupt):
        serve_on_loopback(
            lambda stop: make_app(picture, stop=stop, on_saved=saved.set), on_ready=ready
        )
    return saved.is_set()
