"""Reads sessions, counts, values and all rows of an athlete from the log, as plain data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
from sqlalchemy import Connection, func, select

from pipeline.core.types import FloatArray
from pipeline.log.athletes import Athlete
from pipeline.log.counts import COUNTED
from pipeline.log.rep_edits import REP_CHANGES
from pipeline.log.schema import (
    ATHLETES,
    BY_ATHLETE,
    CLIPS,
    FILM_FOLDERS,
    JOBS,
    MEASURES,
    REPS,
    REVIEW_MARKS,
    SESSIONS,
    TARGET_VERSIONS,
    WORK,
)
from pipeline.log.volume import Bout, Done


def list_sessions(
    connection: Connection,
    athlete_id: int | None = None,
    since: date | None = None,
    until: date | None = None,
) -> list[dict[str, Any]]:
    """List sessions with their films and counts, newest first.

    Parameters
    ----------
    connection
        To the log.
    athlete_id
        Number of one athlete; None = all.
    since, until
        First and last day; None = open.

    Returns
    -------
    list of dict
        Columns of the session, ``athlete`` (name), ``clips`` (names of films), and by source
        (``filmed``, ``counted``, ``estimated``) the counts by `COUNTED`.
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """Values of one measure in one move, in order of time.

    Attributes
    ----------
    move, key
        Keys of the move and the measure.
    session
        (n,) numbers of the sessions.
    value, u
        (n,) values and standard uncertainties in the unit of the measure; u is NaN if unknown.
    """

    move: str
    key: str
    session: np.ndarray[Any, np.dtype[np.int64]]
    value: FloatArray
    u: FloatArray

    @property
    def known_u(self) -> bool:
        """Whether any standard uncertainty is known."""
        return bool(np.isfinite(self.u).any())


def read_done(connection: Connection, athlete_id: int, first: date, last: date) -> list[Done]:
    """Read the counts between two days, by session, hand, side and source."""
    found = []
    group = (REPS.c.day, REPS.c.session_id, REPS.c.hand, REPS.c.side)
    query = (
        select(*group, *(func.sum(REPS.c[name]) for name in COUNTED))
        .where(REPS.c.athlete_id == athlete_id, REPS.c.day.between(first, last))
        .group_by(*group)
    )
    for day, session_id, hand, side, *counts in connection.execute(query):
        found.append(
            Done(
                day=day, session_id=session_id, source="filmed", hand=hand, side=side,
                counts=dict(zip(COUNTED, map(int, counts), strict=True)),
            )
        )  # fmt: skip
    query = select(WORK).where(WORK.c.athlete_id == athlete_id, WORK.c.day.between(first, last))
    for row in connection.execute(query).mappings():
        found.append(
            Done(
                day=row["day"],
                session_id=row["session_id"],
                source="estimated" if row["estimated"] else "counted",
                hand=row["hand"],
                side=None,
                counts={name: row[name] for name in COUNTED},
            )
        )
    return found


def read_bouts(connection: Connection, athlete_id: int, first: date, last: date) -> list[Bout]:
    """Read the sessions between two days."""
    query = select(SESSIONS.c.id, SESSIONS.c.day, SESSIONS.c.minutes, SESSIONS.c.exertion).where(
        SESSIONS.c.athlete_id == athlete_id, SESSIONS.c.day.between(first, last)
    )
    return [
        Bout(session_id=number, day=day, minutes=minutes, exertion=exertion)
        for number, day, minutes, exertion in connection.execute(query)
    ]


def first_day(connection: Connection, athlete_id: int) -> date | None:
    """Return the day of an athlete's first session in the log; None without sessions."""
    query = select(func.min(SESSIONS.c.day)).where(SESSIONS.c.athlete_id == athlete_id)
    day: date | None = connection.execute(query).scalar()
    return day


def read_series(
    connection: Connection, athlete_id: int, first: date, last: date, key: str | None = None
) -> list[Series]:
    """Read measured values between two days, by move and measure, in the order of the reps.

    Parameters
    ----------
    connection
        To the log.
    athlete_id, first, last
        Number of the athlete, first and last day.
    key
        Key of one measure; None = all.

    Returns
    -------
    list of Series
        One for each move and measure with at least one value.
    """
    query = (
        select(REPS.c.move, MEASURES.c.key, REPS.c.session_id, MEASURES.c.value, MEASURES.c.u)
        .join(MEASURES, MEASURES.c.rep_id == REPS.c.id)
        .join(CLIPS, CLIPS.c.id == REPS.c.clip_id)
        .where(
            REPS.c.athlete_id == athlete_id,
            REPS.c.day.between(first, last),
            MEASURES.c.value.is_not(None),
        )
        .order_by(REPS.c.day, REPS.c.session_id, CLIPS.c.filmed_at, CLIPS.c.id, REPS.c.number)
    )
    if key is not None:
        query = query.where(MEASURES.c.key == key)
    rows = connection.execute(query).all()  # three times as fast as row by row
    if not rows:
        return []
    moves, keys, sessions, values, us = zip(*rows, strict=True)
    index: dict[tuple[str, str], int] = {}
    codes = np.fromiter(
        (index.setdefault(pair, len(index)) for pair in zip(moves, keys, strict=True)),
        np.int64,
        len(rows),
    )
    session, value = np.asarray(sessions, np.int64), np.asarray(values, float)
    u = np.asarray(us, float)  # None becomes NaN
    order = np.argsort(codes, kind="stable")
    parts = np.split(order, np.cumsum(np.bincount(codes))[:-1])
    return [
        Series(move=move, key=name, session=session[part], value=value[part], u=u[part])
        for (move, name), part in zip(index, parts, strict=True)
    ]


def everything_of(connection: Connection, athlete: Athlete) -> dict[str, list[dict[str, Any]]]:
    """Give all rows of an athlete, by table."""
    own = select(ATHLETES).where(ATHLETES.c.id == athlete.id)
    reps = select(REPS.c.id).where(REPS.c.athlete_id == athlete.id)
    clips = select(CLIPS.c.id).where(CLIPS.c.athlete_id == athlete.id)
    versions = select(CLIPS.c.targets).where(CLIPS.c.athlete_id == athlete.id)
    queries = {
        "athletes": own,
        **{t.name: select(t).where(t.c.athlete_id == athlete.id).order_by(t.c.id)
           for t in (*BY_ATHLETE, FILM_FOLDERS, JOBS)},
        "measures": select(MEASURES).where(MEASURES.c.rep_id.in_(reps)),
        "review_marks": select(REVIEW_MARKS).where(REVIEW_MARKS.c.clip_id.in_(clips)),
        "rep_changes": select(REP_CHANGES).where(REP_CHANGES.c.clip_id.in_(clips)),
        "target_versions": select(TARGET_VERSIONS).where(TARGET_VERSIONS.c.digest.in_(versions)),
    }  # fmt: skip
    return {
        name: [dict(row) for row in connection.execute(query).mappings()]
        for name, query in queries.items()
    }
