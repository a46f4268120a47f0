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
    from pipeline.feedback.words import Words
    from pipeline.log.personal_data import Erased


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
    click.echo(words.text("athlete_told.taken_along", file=path, n=n_files))


@command("erase", help="athlete.erase")
@click.argument("name")
@option("--yes", is_flag=True, help="athlete.erase.yes")
@database_option
@debug_option
@click.pass_context
def erase(
    context: click.Context, /, name: str, yes: bool, database: str | None, debug: bool
) -> None:
    """Erase an athlete: log, cached landmarks, reports, ranges, corrections, drill examples."""
    try:
        from pipeline.feedback.words import load_words

        words = load_words()
        if not yes and not _agreed(words, name):
            click.echo(words.text("erase_told.left"))
            context.exit(1)
        from pipeline.log.personal_data import erase_athlete
        from pipeline.log.store import opened_log

        with opened_log(database) as store:
            erased = erase_athlete(store, name)
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug))
    click.echo("\n".join(_lines(words, erased)))
    context.exit(1 if erased.left else 0)


def _agreed(words: Words, name: str) -> bool:
    """Prompt for consent to erase, in the language of the texts, until the answer is valid."""
    yes, no = (words.text(f"erase_told.{answer}").split("|") for answer in ("yes", "no"))
    question = words.text("erase_told.question", name=plain(name))
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
        click.echo(words.text("erase_told.no_such_answer", yes=yes[0], no=no[0]))


def _lines(words: Words, erased: Erased) -> list[str]:
    rows = ", ".join(words.texts.counted(n, f"rows_of_{table}") for table, n in erased.rows.items())
    lines = [
        words.text("erase_told.rows", rows=rows),
        words.text(
            "erase_told.files",
            n_files=erased.n_files,
            n_ranges=erased.n_ranges,
            n_corrections=erased.n_corrections,
        ),
    ]
    for what in ("shortened", "forgotten"):
        drills = getattr(erased, f"drills_{what}")
        if drills:
            lines.append(words.text(f"erase_told.{what}", drills=", ".join(drills)))
    if erased.n_corrections:
        lines.append(words.text("erase_told.learned"))
    if erased.backups:
        lines.append(words.text("erase_told.backups", n=len(erased.backups)))
    if not erased.left:
        return [*lines, words.text("erase_told.nothing_left")]
    found = (plain(f"  {path}") for path in erased.left)
    return [*lines, words.text("erase_told.still_found"), *found]
