"""The commands on the training log: add work, list, remove and back up sessions."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import date, datetime, timezone
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pipeline.commands.help import group, option
from pipeline.commands.log_options import (
    checked_counts,
    checked_day,
    checked_note,
    count_options,
    database_option,
)
from pipeline.commands.shared import debug_option, json_option, plain, report_error
from pipeline.core.errors import CrossemetryError

if TYPE_CHECKING:
    from pipeline.feedback.words import Words


@group("log", help="log")
def log() -> None:
    """Keep the training log of filmed and other work."""


@log.command("add", help="log.add")
@option("--athlete", "name", required=True, metavar="NAME", help="log.add.athlete")
@option("--date", "day", metavar="DATE", help="log.add.date")
@count_options
@option("--hand", type=click.Choice(["left", "right"]), help="of_log.hand")
@option("--kind", metavar="WORDS", help="log.add.kind")
@option("--estimated", is_flag=True, help="log.add.estimated")
@option(
    "--minutes", type=click.FloatRange(0, 1440, min_open=True), metavar="MIN",
    help="log.add.minutes",
)  # fmt: skip
@option("--exertion", type=click.FloatRange(0, 10), metavar="0-10", help="log.add.exertion")
@option("--place", metavar="WORDS", help="log.add.place")
@option("--surface", metavar="WORDS", help="log.add.surface")
@option("--ball", type=click.Choice(["lacrosse", "tennis"]), help="log.add.ball")
@option("--session", "session_id", type=int, metavar="N", help="log.add.session")
@option("--notes", metavar="WORDS", help="log.add.notes")
@database_option
@debug_option
@click.pass_context
def add(
    context: click.Context,
    /,
    name: str,
    day: str | None,
    hand: str | None,
    kind: str | None,
    estimated: bool,
    session_id: int | None,
    notes: str | None,
    database: str | None,
    debug: bool,
    **session: Any,  # noqa: ANN401 - counts and columns of the session, as click names them
) -> None:
    """Add work that was not filmed, or a session's duration and exertion."""
    try:
        today = datetime.now().astimezone().date()
        from pipeline.log.counts import COUNTED

        counts = checked_counts({key: session.pop(key) for key in COUNTED})
        for key in ("place", "surface"):
            session[key] = checked_note(session[key], named=f"--{key}", longest=60)
        done_on = checked_day(day, named="--date", today=today) or today
        from pipeline.feedback.words import load_words
        from pipeline.log.athletes import find_athlete
        from pipeline.log.sessions import Work, add_work
        from pipeline.log.store import opened_log

        words = load_words()
        work = Work(
            day=done_on,
            counts=counts,
            kind=checked_note(kind, named="--kind", longest=40),
            hand=hand,
            estimated=estimated,
            session=session,
            notes=checked_note(notes, named="--notes"),
        )
        now = datetime.now(tz=timezone.utc)
        with opened_log(database) as store, store.writing() as connection:
            known = find_athlete(connection, name)
            number = add_work(connection, known.id, work, now, session_id=session_id)
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug))
    what, numbers = words.text("log_output.noted"), _numbers(words, counts)
    if numbers:
        how = "added_estimated" if estimated else "added_counted"
        what = words.text(f"log_output.{how}", numbers=numbers)
    click.echo(plain(words.text("log_output.added", name=known.name, session=number, what=what)))


@log.command("list", help="log.list")
@option("--athlete", "name", metavar="NAME", help="of_log.of_one")
@option("--from", "since", metavar="DATE", help="log.list.from")
@option("--to", "until", metavar="DATE", help="log.list.to")
@json_option
@database_option
@debug_option
@click.pass_context
def list_command(
    context: click.Context,
    /,
    name: str | None,
    since: str | None,
    until: str | None,
    as_json: bool,
    database: str | None,
    debug: bool,
) -> None:
    """List sessions, the newest first."""
    try:
        today = datetime.now().astimezone().date()
        first = checked_day(since, named="--from", today=today)
        last = checked_day(until, named="--to", today=today)
        from pipeline.feedback.words import load_words
        from pipeline.log.athletes import find_athlete
        from pipeline.log.queries import list_sessions
        from pipeline.log.store import opened_log

        words = load_words()
        with opened_log(database) as store, store.reading() as connection:
            number = None if name is None else find_athlete(connection, name).id
            found = list_sessions(connection, number, first, last)
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug))
    if as_json:
        document = {"schema": "crossemetry.sessions/1", "sessions": found}
        click.echo(json.dumps(document, indent=2, default=_plain_value))
    else:
        lines = [_line(words, session) for session in found]
        click.echo("\n".join(lines) or words.text("log_output.no_session"))


@log.command("remove", help="log.remove")
@click.argument("session_id", metavar="SESSION", type=int)
@database_option
@debug_option
@click.pass_context
def remove(context: click.Context, /, session_id: int, database: str | None, debug: bool) -> None:
    """Remove a session from the log, with its films and everything on them."""
    try:
        from pipeline.feedback.words import load_words
        from pipeline.log.sessions import remove_session
        from pipeline.log.store import opened_log

        words = load_words()
        with opened_log(database) as store, store.writing() as connection:
            remove_session(connection, session_id)
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug))
    click.echo(words.text("log_output.removed", session=session_id))


@log.command("backup", help="log.backup")
@click.argument("file", type=click.Path(path_type=Path))
@database_option
@debug_option
@click.pass_context
def backup(context: click.Context, /, file: Path, database: str | None, debug: bool) -> None:
    """Copy the whole log into one file, and read it back as a check."""
    try:
        from pipeline.feedback.words import load_words
        from pipeline.log.migrate import copy_database
        from pipeline.log.store import opened_log

        words = load_words()
        with opened_log(database) as store:
            rows = copy_database(store.engine, store.url, file)
    except CrossemetryError as error:
        context.exit(report_error(error, debug=debug))
    n = sum(rows.values())
    click.echo(words.text("log_output.backed_up", file=file, n=n, tables=len(rows)))


def _line(words: Words, session: dict[str, Any]) -> str:
    from pipeline.feedback.words import tick_text

    facts = []
    for source in ("filmed", "counted", "estimated"):
        numbers = _numbers(words, session[source])
        if numbers:
            facts.append(words.text(f"log_output.{source}", numbers=numbers))
    for key in ("minutes", "exertion"):
        if session[key] is not None:
            facts.append(words.text(f"log_output.{key}", **{key: tick_text(words, session[key])}))
    listed = "; ".join(facts) or words.text("log_output.nothing_told")
    return plain(f"{session['id']}  {session['day'].isoformat()}  {session['athlete']}: {listed}")


def _numbers(words: Words, counts: Mapping[str, int]) -> str:
    """List the counts that are not zero."""
    names = {"reps": "rep"}
    return ", ".join(
        words.texts.counted(n, names.get(what, what)) for what, n in counts.items() if n
    )


def _plain_value(value: object) -> str:
    if isinstance(value, (date, datetime)):
        return value.isoformat()
    raise TypeError(type(value).__name__)
