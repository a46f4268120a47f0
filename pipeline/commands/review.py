"""The command that serves the review page to the browser on this machine."""

from __future__ import annotations

import threading
from contextlib import suppress
from pathlib import Path

import click

from pipeline.commands.help import command, option
from pipeline.commands.log_options import checked_note, database_option
from pipeline.commands.shared import debug_option, locale_options, report_error
from pipeline.core.errors import CrossemetryError

LONGEST_NAME = 60


@command("review", help="review")
@option("--by", metavar="NAME", help="review.by")
@option("--port", type=click.IntRange(0, 65535), default=0, metavar="N", help="review.port")
@option("--no-browser", is_flag=True, help="options.no_browser")
@option("--cache", metavar="FOLDER", type=click.Path(path_type=Path), help="review.cache")
@locale_options
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
    """Open the review page in the browser on this machine, until Ctrl-C."""
    try:
        who = checked_note(by, named="--by", longest=LONGEST_NAME) or _own_name()
        from pipeline.feedback.words import load_words
        from pipeline.settings.locale import check_language, check_units
        from pipeline.web.review.serve import serve_review

        in_language = None if language is None else check_language(language, named="--language")
        in_units = None if units is None else check_units(units, named="--units")
        words = load_words(language=in_language, units=in_units)

        def ready(address: str) -> None:
            click.echo(words.text("page_output.open", address=address))
            click.echo(words.text("page_output.ends"), err=True)
            if not no_browser:
                import webbrowser

                threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()

        with suppress(KeyboardInterrupt):
            serve_review(
                by=who,
                database=database,
                cache=cache,
                port=port,
                language=in_language,
                units=in_units,
                on_ready=ready,
            )
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug))


def _own_name() -> str:
    import getpass

    try:
        name = getpass.getuser()
    except (OSError, KeyError, ImportError):
        name = ""
    return name[:LONGEST_NAME] if name.strip() and name.isprintable() else "coach"
