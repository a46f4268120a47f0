"""Sessions in the training log: which one a film belongs to, and work that was not filmed."""

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
"""Film from within this time of a session belongs to it, also past midnight."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """Work that was not filmed.

    Attributes
    ----------
    day
        Local date.
    counts
        How many, by `pipeline.log.counts.COUNTED`; what is not in it is 0.
    kind
        What it was, such as ``wall-ball``.
    hand
        Side of the top hand; None = not told, or both.
    estimated
        Whether the numbers were estimated and not counted.
    session
        Columns of the session that are told with it: minutes, exertion, place, ...
    notes
        Free words.
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
    """Return the session that a film belongs to, made if there is none, and that session's day.

    A film of a known instant belongs to the session that it lies in or near (`SAME_SESSION`), which
    may have begun before midnight; else to a session of that day whose time nobody knows; else to
    a new one. A film of which only the day is known belongs to the day's first session.
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
    """Let a session reach over a film."""
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

    Where no session is named it belongs to the day's session, if there is just one and what is told
    of the session does not contradict it; else it is a session of its own.

    Raises
    ------
    LogError
        Nothing would be noted, or the session is not one of this athlete's.
    """
    told = {name: value for name, value in work.session.items() if value is not None}
    if not any(work.counts.values()) and not told and work.notes is None:
        raise LogError.of("nothing_to_note")
    day = work.day
    if session_id is None:
        session_id = _fitting(connection, athlete_id, day, told)
    else:
        day = _day_of(connection, athlete_id, session_id)
    if session_id is None:
        session_id = insert_row(
            connection, SESSIONS, {"athlete_id": athlete_id, "day": day, **told}
        )
    elif told:
        connection.execute(update(SESSIONS).where(SESSIONS.c.id == session_id).values(**told))
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
    connection: Connection, athlete_id: int, day: date, told: Mapping[str, Any]
) -> int | None:
    """Return the day's only session, if what is told can be of it; None where it cannot."""
    query = select(SESSIONS).where(SESSIONS.c.athlete_id == athlete_id, SESSIONS.c.day == day)
    rows = connection.execute(query).mappings().all()
    if len(rows) != 1 or any(rows[0][name] not in (None, told[name]) for name in told):
        return None
    # Minutes are added up over sessions: whoever tells them once more did more.
    if "minutes" in told and rows[0]["minutes"] is not None:
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
    """Take out a session with everything in it.

    Raises
    ------
    LogError
        There is none of that number.
    """
    if not connection.execute(delete(SESSIONS).where(SESSIONS.c.id == session_id)).rowcount:
        raise LogError.of("no_such_session", session=session_id)


def drop_if_empty(connection: Connection, session_id: int) -> None:
    """Take out a session of which nothing is left and nothing was told."""
    for table in (CLIPS, REPS, WORK):
        if connection.execute(
            select(table.c.id).where(table.c.session_id == session_id).limit(1)
        ).first():
            return
    row = connection.execute(select(SESSIONS).where(SESSIONS.c.id == session_id)).mappings().one()
    told = ("place", "surface", "ball", "exertion", "minutes", "notes")
    if all(row[name] is None for name in told):
        remove_session(connection, session_id)
