"""The command that opens the review page in the browser on this machine."""

from __future__ import annotations

import threading
from contextlib import suppress
from pathlib import Path

import click

from pipeline.command import CONTEXT, debug_option, reading_options, say
from pipeline.errors import CrossemetryError
from pipeline.log.options import checked_note, database_option

LONGEST_NAME = 60


@click.command(context_settings=CONTEXT, short_help="Open the page on which a coach looks at reps.")
@click.option(
    "--by", metavar="NAME", help="Who is reviewing.  [default: your name on this machine]"
)
@click.option(
    "--port", type=click.IntRange(0, 65535), default=0, metavar="N",
    help="Port on this machine.  [default: any that is free]",
)  # fmt: skip
@click.option("--no-browser", is_flag=True, help="Print the address, and open no browser.")
@click.option(
    "--cache", metavar="FOLDER", type=click.Path(path_type=Path),
    help="Where body landmarks are kept.  [default: in the data folder]",
)  # fmt: skip
@reading_options
@database_option
@debug_option
@click.pass_context
def review(
    context: click.Context,
    /,
    by: str | None,
    port: int,
    no_browser: bool,
    cache: Path | None,
    language: str | None,
    units: str | None,
    database: str | None,
    debug: bool,
) -> None:
    """Open the review page in the browser: what to look at first, marks, targets, new film.

    It listens on this machine alone, and ends with Ctrl-C.

    \b
    Example:
        crossemetry review --by "Coach K."
    """
    try:
        who = checked_note(by, named="--by", longest=LONGEST_NAME) or _own_name()
        from pipeline.reading import check_language, check_units
        from pipeline.review.serving import serve_review

        def ready(address: str) -> None:
            click.echo(f"Open this on this machine, it works once: {address}")
            click.echo("Ctrl-C ends it.", err=True)
            if not no_browser:
                import webbrowser

                threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()

        with suppress(KeyboardInterrupt):
            serve_review(
                by=who,
                database=database,
                cache=cache,
                port=port,
                language=None if language is None else check_language(language, named="--language"),
                units=None if units is None else check_units(units, named="--units"),
                on_ready=ready,
            )
    except CrossemetryError as error:
        context.exit(say(error, debug=debug))


def _own_name() -> str:
    import getpass

    try:
        name = getpass.getuser()
    except (OSError, KeyError, ImportError):
        name = ""
    return name[:LONGEST_NAME] if name.strip() and name.isprintable() else "coach"
