"""Reads what is in the training log, session by session, as plain data."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from sqlalchemy import Connection, func, select

from pipeline.log.counts import COUNTED
from pipeline.log.schema import ATHLETES, CLIPS, REPS, SESSIONS, WORK


def list_sessions(
    connection: Connection,
    athlete_id: int | None = None,
    since: date | None = None,
    until: date | None = None,
) -> list[dict[str, Any]]:
    """List sessions with what was done in them, the newest first.

    Parameters
    ----------
    connection
        To the log.
    athlete_id
        Of one athlete; None = all.
    since, until
        First and last day; None = open.

    Returns
    -------
    list of dict
        Columns of the session, the athlete's name, ``clips`` (names of films), and by who counted
        them (``filmed``, ``counted``, ``estimated``) the numbers by `COUNTED`.
    """
    query = (
        select(SESSIONS, ATHLETES.c.name.label("athlete"))
        .join(ATHLETES, ATHLETES.c.id == SESSIONS.c.athlete_id)
        .order_by(SESSIONS.c.day.desc(), SESSIONS.c.id.desc())
    )
    if athlete_id is not None:
        query = query.where(SESSIONS.c.athlete_id == athlete_id)
    if since is not None:
        query = query.where(SESSIONS.c.day >= since)
    if until is not None:
        query = query.where(SESSIONS.c.day <= until)
    found: dict[int, dict[str, Any]] = {}
    for row in connection.execute(query).mappings():
        found[row["id"]] = {**row, "clips": [], "filmed": {}, "counted": {}, "estimated": {}}
    wanted = select(query.subquery().c.id)
    clips = select(CLIPS.c.session_id, CLIPS.c.file_name).where(CLIPS.c.session_id.in_(wanted))
    for session_id, name in connection.execute(clips.order_by(CLIPS.c.id)):
        found[session_id]["clips"].append(name)
    for session_id, source, counts in _sums(connection, wanted):
        found[session_id][source] = counts
    return list(found.values())


def _sums(connection: Connection, wanted: Any) -> list[tuple[int, str, Mapping[str, int]]]:  # noqa: ANN401
    found: list[tuple[int, str, Mapping[str, int]]] = []
    sums = [func.sum(REPS.c[name]) for name in COUNTED]
    query = (
        select(REPS.c.session_id, func.count(), *sums)
        .where(REPS.c.session_id.in_(wanted))
        .group_by(REPS.c.session_id)
    )
    for session_id, n_reps, *counts in connection.execute(query):
        numbers = {"reps": int(n_reps), **dict(zip(COUNTED, map(int, counts), strict=True))}
        found.append((session_id, "filmed", numbers))
    sums = [func.sum(WORK.c[name]) for name in COUNTED]
    query = (
        select(WORK.c.session_id, WORK.c.estimated, *sums)
        .where(WORK.c.session_id.in_(wanted))
        .group_by(WORK.c.session_id, WORK.c.estimated)
    )
    for session_id, estimated, *counts in connection.execute(query):
        numbers = dict(zip(COUNTED, map(int, counts), strict=True))
        found.append((session_id, "estimated" if estimated else "counted", numbers))
    return found
