"""Reads from the training log what volume, limits and drifts are worked out from."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
from sqlalchemy import Connection, func, select

from pipeline.core.types import FloatArray
from pipeline.log.counts import COUNTED
from pipeline.log.schema import CLIPS, MEASURES, REPS, SESSIONS, WORK
from pipeline.log.volume import Bout, Done


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """Values of one measure in one move, in the order in which they were done.

    Attributes
    ----------
    move, key
        Which.
    session
        (n,) numbers of the sessions.
    value, u
        (n,) in the unit of the measure; u is NaN where it is not known.
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
    """Read numbers by session, hand, side and who counted them, over some days."""
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
    """Read the sessions of some days."""
    query = select(SESSIONS.c.id, SESSIONS.c.day, SESSIONS.c.minutes, SESSIONS.c.exertion).where(
        SESSIONS.c.athlete_id == athlete_id, SESSIONS.c.day.between(first, last)
    )
    return [
        Bout(session_id=number, day=day, minutes=minutes, exertion=exertion)
        for number, day, minutes, exertion in connection.execute(query)
    ]


def first_day(connection: Connection, athlete_id: int) -> date | None:
    """Day of the first session of an athlete in the log; None where there is none."""
    query = select(func.min(SESSIONS.c.day)).where(SESSIONS.c.athlete_id == athlete_id)
    day: date | None = connection.execute(query).scalar()
    return day


def read_series(
    connection: Connection, athlete_id: int, first: date, last: date, key: str | None = None
) -> list[Series]:
    """Read measured values of some days, by move and measure, in the order of the reps.

    Parameters
    ----------
    connection
        To the log.
    athlete_id, first, last
        Whose, and when.
    key
        Only this measure; None = all.

    Returns
    -------
    list of Series
        Those that were measured at all.
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
    rows = connection.execute(query).all()  # row by row would take three times as long
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
