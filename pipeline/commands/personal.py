"""The commands that export or erase an athlete's personal data."""

from __future__ import annotations

import unicodedata
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline.commands.help import command, option
from pipeline.commands.log_options import database_option
from pipeline.commands.shared import debug_option, plain, report_error
from pipeline.core.errors import CrossemetryError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pipeline.feedback.words import Words
    from pipeline.log.erasure_plan import SharedChoice


@command("export", help="athlete.export")
@click.argument("name")
@option(
    "--out", required=True, metavar="FOLDER", type=click.Path(path_type=Path),
    help="athlete.export.out",
)  # fmt: skip
@database_option
@debug_option
@click.pass_context
def export_personal(
    context: click.Context, /, name: str, out: Path, database: str | None, debug: bool
) -> None:
    """Export all data of an athlete into a folder, as JSON, CSV and reports."""
    try:
        from pipeline.feedback.words import load_words
        from pipeline.log.personal_data import export_athlete
        from pipeline.log.store import opened_log

        words = load_words()
        with opened_log(database) as store:
            path = export_athlete(store, name, out)
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug))
    n_files = sum(one.is_file() for one in out.rglob("*"))
    click.echo(words.text("athlete_output.taken_along", file=path, n=n_files))


@command("erase", help="athlete.erase")
@click.argument("name")
@option("--yes", is_flag=True, help="athlete.erase.yes")
@option("--dry-run", is_flag=True, help="athlete.erase.dry_run")
@option("--shared", type=click.Choice(("keep", "erase")), help="athlete.erase.shared")
@database_option
@debug_option
@click.pass_context
def erase(
    context: click.Context,
    /,
    name: str,
    yes: bool,
    dry_run: bool,
    shared: SharedChoice | None,
    database: str | None,
    debug: bool,
) -> None:
    """Erase an athlete: log, cached landmarks, reports, ranges, corrections, drill examples."""
    try:
        from pipeline.feedback.words import load_words
        from pipeline.log.erasure_search import plan_erasure
        from pipeline.log.personal_data import erase as carry_out
        from pipeline.log.personal_data import refuse_unknown
        from pipeline.log.store import opened_log
        from pipeline.log.wording import erased_lines, plan_lines, shared_lines

        words = load_words()
        with opened_log(database) as store:
            plan = plan_erasure(store, name, shared or "keep")
            if dry_run:
                refuse_unknown(store, plan)
                _print([*plan_lines(words, plan), words.text("erase_output.dry_run")])
                return
            if not (yes or plan.is_empty):
                if not _agreed(words, words.text("erase_output.question", name=plain(name))):
                    click.echo(words.text("erase_output.left"))
                    context.exit(1)
                if plan.shared and shared is None:
                    _print(shared_lines(words, plan))
                    if _agreed(words, words.text("erase_output.shared_question")):
                        plan = plan_erasure(store, name, "erase")
            erased = carry_out(store, plan)
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug))
    _print(erased_lines(words, erased))
    context.exit(1 if erased.leaves_something else 0)


def _print(lines: Sequence[str]) -> None:
    click.echo("\n".join(map(plain, lines)))


def _agreed(words: Words, question: str) -> bool:
    """Ask whether to go on, in the language of the words, until one of its answers is given."""
    yes, no = (words.text(f"erase_output.{answer}").split("|") for answer in ("yes", "no"))
    while True:
        try:
            typed = click.prompt(
                f"{question} [{yes[0]}/{no[0].upper()}]", default=no[0], show_default=False
            )
        except click.Abort:  # no terminal, or Ctrl-C
            click.echo()
            return False
        answer = unicodedata.normalize("NFC", typed.strip().casefold())
        if answer in (*yes, *no):
            return answer in yes
        click.echo(words.text("erase_output.no_such_answer", yes=yes[0], no=no[0]))
