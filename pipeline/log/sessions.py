"""Sessions in the training log: assigns films to sessions and adds work that was not filmed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

from sqlalchemy import Connection, delete, select, update

from pipeline.core.errors import LogError
from pipeline.log.counts import COUNTED
from pipeline.log.schema import CLIPS, REPS, SESSIONS, WORK, insert_row

SAME_SESSION = timedelta(hours=2)
"""Longest time between a session and a film that belongs to it, even across midnight."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """Work that was not filmed.

    Attributes
    ----------
    day
        Local date.
    counts
        Numbers by `pipeline.log.counts.COUNTED`; a missing kind is 0.
    kind
        Free name of the work, such as ``wall-ball``.
    hand
        Side of the top hand; None = unknown, or both.
    estimated
        Whether the numbers were estimated and not counted.
    session
        Columns of the session that are given with it: minutes, exertion, place, ...
    notes
        Free text.
    """

    day: date
    counts: Mapping[str, int]
    kind: str | None = None
    hand: str | None = None
    estimated: bool = False
    session: Mapping[str, Any] = field(default_factory=dict)
    notes: str | None = None


def session_for_film(
    connection: Connection,
    athlete_id: int,
    day: date,
    start: datetime | None,
    stop: datetime | None,
) -> tuple[int, date]:
    """Return the session of a film and that session's day; creates the session if needed.

    A film with a known time belongs to the session in or near which it lies (`SAME_SESSION`), which
    may have begun before midnight. Otherwise it belongs to a session of that day without a known
    time, or to a new session. A film with a known day alone belongs to the day's first session.
    """
    around = [day - timedelta(days=1), day, day + timedelta(days=1)]
    query = (
        select(SESSIONS)
        .where(SESSIONS.c.athlete_id == athlete_id, SESSIONS.c.day.in_(around))
        .order_by(SESSIONS.c.day, SESSIONS.c.id)
    )
    rows = connection.execute(query).mappings().all()
    for row in rows:
        if start is None or stop is None:
            fits = row["day"] == day
        elif row["started_at"] is None:
            fits = False
        else:
            fits = (
                row["started_at"] - SAME_SESSION <= stop
                and start <= (row["ended_at"] or row["started_at"]) + SAME_SESSION
            )
        if fits:
            _stretch(connection, row, start, stop)
            return row["id"], row["day"]
    for row in rows:
        if row["day"] == day and row["started_at"] is None:
            _stretch(connection, row, start, stop)
            return row["id"], day
    new = {"athlete_id": athlete_id, "day": day, "started_at": start, "ended_at": stop}
    return insert_row(connection, SESSIONS, new), day


def _stretch(
    connection: Connection, row: Mapping[Any, Any], start: datetime | None, stop: datetime | None
) -> None:
    """Extend a session to include a film."""
    if start is None or stop is None:
        return
    begun, ended = row["started_at"], row["ended_at"]
    new = {
        "started_at": start if begun is None else min(begun, start),
        "ended_at": stop if ended is None else max(ended, stop),
    }
    connection.execute(update(SESSIONS).where(SESSIONS.c.id == row["id"]).values(**new))


def add_work(
    connection: Connection,
    athlete_id: int,
    work: Work,
    now: datetime,
    *,
    session_id: int | None = None,
) -> int:
    """Add work that was not filmed and return its session.

    Without a named session it belongs to the day's only session, unless the given columns
    contradict that session. Otherwise a new session is created.

    Raises
    ------
    LogError
        There is nothing to store, or the session is another athlete's.
    """
    given = {name: value for name, value in work.session.items() if value is not None}
    if not any(work.counts.values()) and not given and work.notes is None:
        raise LogError.of("nothing_to_note")
    day = work.day
    if session_id is None:
        session_id = _fitting(connection, athlete_id, day, given)
    else:
        day = _day_of(connection, athlete_id, session_id)
    if session_id is None:
        session_id = insert_row(
            connection, SESSIONS, {"athlete_id": athlete_id, "day": day, **given}
        )
    elif given:
        connection.execute(update(SESSIONS).where(SESSIONS.c.id == session_id).values(**given))
    if any(work.counts.values()):
        row = {
            "athlete_id": athlete_id,
            "session_id": session_id,
            "day": day,
            "kind": work.kind,
            "hand": work.hand,
            **{name: work.counts.get(name, 0) for name in COUNTED},
            "estimated": work.estimated,
            "notes": work.notes,
            "added_at": now,
        }
        insert_row(connection, WORK, row)
    elif work.notes is not None:
        where = SESSIONS.c.id == session_id
        connection.execute(update(SESSIONS).where(where).values(notes=work.notes))
    return session_id


def _fitting(
    connection: Connection, athlete_id: int, day: date, given: Mapping[str, Any]
) -> int | None:
    """Return the day's only session, unless the given columns contradict it; None otherwise."""
    query = select(SESSIONS).where(SESSIONS.c.athlete_id == athlete_id, SESSIONS.c.day == day)
    rows = connection.execute(query).mappings().all()
    if len(rows) != 1 or any(rows[0][name] not in (None, given[name]) for name in given):
        return None
    # Minutes are summed over sessions: minutes given again are of further work.
    if "minutes" in given and rows[0]["minutes"] is not None:
        return None
    return int(rows[0]["id"])


def _day_of(connection: Connection, athlete_id: int, session_id: int) -> date:
    query = select(SESSIONS.c.day).where(
        SESSIONS.c.athlete_id == athlete_id, SESSIONS.c.id == session_id
    )
    day: date | None = connection.execute(query).scalar()
    if day is None:
        raise LogError.of("session_of_another", session=session_id)
    return day


def remove_session(connection: Connection, session_id: int) -> None:
    """Delete a session with everything in it.

    Raises
    ------
    LogError
        There is no session with that number.
    """
    if not connection.execute(delete(SESSIONS).where(SESSIONS.c.id == session_id)).rowcount:
        raise LogError.of("no_such_session", session=session_id)


def drop_if_empty(connection: Connection, session_id: int) -> None:
    """Delete a session without films and work, unless a person described it."""
    for table in (CLIPS, REPS, WORK):
        if connection.execute(
            select(table.c.id).where(table.c.session_id == session_id).limit(1)
        ).first():
            return
    row = connection.execute(select(SESSIONS).where(SESSIONS.c.id == session_id)).mappings().one()
    described = ("place", "surface", "ball", "exertion", "minutes", "notes")
    if all(row[name] is None for name in described):
        remove_session(connection, session_id)
