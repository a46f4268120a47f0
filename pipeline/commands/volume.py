"""The commands that evaluate the log: training volume, and trends of a measure."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline.commands.help import command, option
from pipeline.commands.log_options import checked_day, database_option
from pipeline.commands.shared import debug_option, json_option, plain, report_error
from pipeline.core.errors import CrossemetryError, OutputError, SettingsError
from pipeline.core.toml_file import nearest

if TYPE_CHECKING:
    from pipeline.feedback.words import Words
    from pipeline.log.athlete_overview import AthleteOverview

MOST_WEEKS = 104
PERIOD_DAYS = 28


@command("volume", help="volume")
@option("--athlete", "name", metavar="NAME", help="of_log.of_one")
@option(
    "--weeks", type=click.IntRange(1, MOST_WEEKS), default=8, show_default=True, metavar="N",
    help="volume.weeks",
)  # fmt: skip
@option("--to", "until", metavar="DATE", help="of_log.last_day")
@option("--html", metavar="FILE", type=click.Path(path_type=Path), help="volume.html")
@json_option
@database_option
@debug_option
@click.pass_context
def volume(
    context: click.Context,
    /,
    name: str | None,
    weeks: int,
    until: str | None,
    html: Path | None,
    as_json: bool,
    database: str | None,
    debug: bool,
) -> None:
    """Show the training volume of each athlete by week, and what stands out."""
    try:
        today = datetime.now().astimezone().date()
        last = checked_day(until, named="--to", today=today) or today
        from pipeline.feedback.words import load_words
        from pipeline.log.athlete_overview import overview_of
        from pipeline.log.athletes import all_athletes, find_athlete
        from pipeline.log.store import opened_log
        from pipeline.log.wording import notes_of, overview_document, overview_text

        words = load_words()
        with opened_log(database) as store, store.reading() as connection:
            who = all_athletes(connection) if name is None else [find_athlete(connection, name)]
            boards = [overview_of(connection, athlete, last, weeks) for athlete in who]
        if html is not None:
            _write_page(html, words, boards, today, database)
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug))
    notes = notes_of(words, boards)
    if as_json:
        document = {
            "schema": "crossemetry.volume/1",
            "athletes": [overview_document(words, board) for board in boards],
            "notes": notes,
        }
        click.echo(json.dumps(document, indent=2))
        return
    if html is not None:
        click.echo(str(html))
        return
    texts = [overview_text(words, board) for board in boards] or [words.log["nobody"]]
    lines = "\n\n".join([*texts, "\n".join(notes)]).splitlines()
    click.echo("\n".join(map(plain, lines)))


def _write_page(
    path: Path, words: Words, boards: Sequence[AthleteOverview], today: date, database: str | None
) -> None:
    from pipeline.log.page import volume_page
    from pipeline.log.record_analysis import note_folders
    from pipeline.log.store import opened_log
    from pipeline.report.manifest import Origin, write_recorded

    names = tuple(board.athlete.name for board in boards)
    page = volume_page(words, boards, today).encode("utf-8")
    try:
        path.parent.stat()  # no folder is made for a page
        with opened_log(database) as store, store.writing() as connection:
            for name in names:
                note_folders(connection, {"results": path.parent}, file_digest=None, athlete=name)
        write_recorded(path.parent, {path.name: [page]}, Origin(made_by="volume", athletes=names))
    except OSError as error:
        why = error.strerror
        raise OutputError.of("volume_page_not_written", file=path, why=why) from error


@command("trend", help="trend")
@option("--athlete", "name", required=True, metavar="NAME", help="trend.athlete")
@option("--measure", "key", required=True, metavar="KEY", help="trend.measure")
@option("--from", "since", metavar="DATE", help="trend.from")
@option("--to", "until", metavar="DATE", help="trend.to")
@option(
    "--days", type=click.IntRange(1, 366), default=PERIOD_DAYS, show_default=True, metavar="N",
    help="trend.days",
)  # fmt: skip
@json_option
@database_option
@debug_option
@click.pass_context
def trend(
    context: click.Context,
    /,
    name: str,
    key: str,
    since: str | None,
    until: str | None,
    days: int,
    as_json: bool,
    database: str | None,
    debug: bool,
) -> None:
    """Test whether a measure changed between two periods by more than chance."""
    from pipeline.measures import MEASURES

    try:
        if key not in MEASURES:
            near = nearest(key, MEASURES)
            raise SettingsError.of("no_measure_of_that_name", measure=key, nearest=near)
        today = datetime.now().astimezone().date()
        last = checked_day(until, named="--to", today=today) or today
        first = checked_day(since, named="--from", today=today)
        from pipeline.feedback.words import load_words
        from pipeline.log.athletes import find_athlete
        from pipeline.log.compare_periods import compare_periods
        from pipeline.log.store import opened_log

        words = load_words()
        with opened_log(database) as store, store.reading() as connection:
            athlete = find_athlete(connection, name)
            length = timedelta(days=days)
            found = compare_periods(connection, words, athlete, key, first, last, length)
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug))
    if as_json:
        document = {
            "schema": "crossemetry.trend/1",
            "athlete": athlete.name,
            "measure": key,
            "unit": MEASURES[key].unit,
            "periods": [[day.isoformat() for day in period] for period in found.periods],
            "moves": [asdict(change) for change in found.changes],
            "text": list(found.sentences),
        }
        click.echo(json.dumps(document, indent=2))
    else:
        click.echo("\n".join(map(plain, found.sentences)))
