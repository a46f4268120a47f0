"""The command that opens the page for marking the field."""

from __future__ import annotations

import threading
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline.commands.help import command, option
from pipeline.commands.shared import debug_option, report_error
from pipeline.core.errors import CrossemetryError

if TYPE_CHECKING:
    from pipeline.feedback.words import Words
    from pipeline.web.field.app import FieldPicture

ENDING = ".marks.toml"


@command("field", help="calibrate.field")
@click.argument("clip", metavar="CLIP", type=click.Path(path_type=Path))
@option(
    "--out", metavar="FILE", type=click.Path(path_type=Path), help="calibrate.field.out",
    placeholders={"ending": ENDING},
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
        from pipeline.feedback.words import load_words
        from pipeline.web.field.picture import field_picture

        picture, words = field_picture(clip, out, goal, lens, fov_deg), load_words()
        is_saved = _serve(picture, words, opens_browser=not no_browser)
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug))
    if is_saved:
        click.echo(words.text("page_output.use_marks", file=out, clip=clip))
    else:
        click.echo(words.text("page_output.nothing_saved"), err=True)


def _serve(picture: FieldPicture, words: Words, *, opens_browser: bool) -> bool:
    """Serve the page until it is closed; returns whether marks were saved."""
    import webbrowser

    from pipeline.web.field.app import make_app
    from pipeline.web.server import serve_on_loopback

    saved = threading.Event()

    def ready(address: str) -> None:
        click.echo(words.text("page_output.open", address=address))
        click.echo(words.text("page_output.ends_unsaved"), err=True)
        if opens_browser:  # a browser in the terminal returns only when it is closed
            threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()

    with suppress(KeyboardInterrupt):
        serve_on_loopback(
            lambda stop: make_app(picture, stop=stop, on_saved=saved.set), on_ready=ready
        )
    return saved.is_set()
