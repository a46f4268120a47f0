"""Limits on training volume: set by a coach or a trainer, never by the program.

No limit for throws is published for lacrosse, and those of other sports do not apply.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from pipeline.log.volume import Done, totals_of

if TYPE_CHECKING:
    from sqlalchemy import Connection

PERIODS = ("session", "day", "week")


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """One limit.

    Attributes
    ----------
    athlete_id
        The athlete; None = everybody without a limit of their own.
    counted, per, hand
        Kind of work, period (session, day or seven days), and hand (None = both together).
    most
        Greatest number allowed; None = the limit was removed.
    set_by, why, set_at
        Who set it, the reason, and when.
    """

    athlete_id: int | None
    counted: str
    per: str
    hand: str | None
    most: int | None
    set_by: str
    why: str
    set_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Exceeded:
    """An exceeded limit, with the number, how many of it are estimated, and the day."""

    limit: Limit
    number: int
    estimated: int
    day: date


def set_limit(connection: Connection, limit: Limit) -> None:
    """Store a limit; earlier ones stay as a history of changes."""
    from dataclasses import asdict

    from pipeline.log.schema import LIMITS, insert_row

    insert_row(connection, LIMITS, asdict(limit))


def read_limits(connection: Connection) -> list[Limit]:
    """Read all limits ever set, oldest first."""
    from sqlalchemy import select

    from pipeline.log.schema import LIMITS

    rows = connection.execute(select(LIMITS).order_by(LIMITS.c.id)).mappings()
    return [Limit(**{name: row[name] for name in Limit.__slots__}) for row in rows]


def in_force(limits: Sequence[Limit], athlete_id: int | None) -> list[Limit]:
    """Return the limits in force for an athlete: the newest of each kind, own before general.

    Parameters
    ----------
    limits
        All limits, oldest first.
    athlete_id
        The athlete; None = the general limits.
    """
    newest: dict[tuple[int | None, str, str, str | None], Limit] = {}
    for limit in limits:
        newest[limit.athlete_id, limit.counted, limit.per, limit.hand] = limit
    found: dict[tuple[str, str, str | None], Limit] = {}
    for whose in dict.fromkeys((None, athlete_id)):
        for limit in newest.values():
            if limit.athlete_id == whose and limit.most is not None:
                found[limit.counted, limit.per, limit.hand] = limit
    return [found[kind] for kind in sorted(found, key=lambda kind: tuple(map(str, kind)))]


def exceeded(limits: Sequence[Limit], done: Sequence[Done], last: date) -> list[Exceeded]:
    """Return the limits that were exceeded in the seven days up to a day.

    A limit per session or day appears once, with the greatest number of these days.

    Parameters
    ----------
    limits
        Limits in force.
    done
        Counts of the athlete.
    last
        The last day.
    """
    first = last - timedelta(days=6)
    recent = [one for one in done if first <= one.day <= last]
    found = []
    for limit in limits:
        groups: dict[object, list[Done]] = {}
        for one in recent:
            if limit.hand is None or one.hand == limit.hand:
                key = {"session": one.session_id, "day": one.day, "week": last}[limit.per]
                groups.setdefault(key, []).append(one)
        sums = [(totals_of(group), group) for group in groups.values()]
        over = [
            Exceeded(
                limit=limit,
                number=totals.of(limit.counted),
                estimated=totals.estimated(limit.counted),
                day=max(one.day for one in group) if limit.per != "week" else last,
            )
            for totals, group in sums
            if limit.most is not None and totals.of(limit.counted) > limit.most
        ]
        if over:
            found.append(max(over, key=lambda one: (one.number, one.day)))
    return found
