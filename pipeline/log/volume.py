"""Computes an athlete's training volume by week: counts by hand and side, load, days off."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

import numpy as np

from pipeline.log.counts import COUNTED
from pipeline.log.load import (
    CHRONIC_DAYS,
    WEEK_DAYS,
    AcuteChronic,
    Figure,
    acute_and_chronic,
    by_day,
    change,
    days_in_a_row,
    monotony,
    session_load,
    strain,
    weekly_load,
)

Source = Literal["filmed", "counted", "estimated"]
SOURCES: tuple[Source, ...] = ("filmed", "counted", "estimated")
WEEKS_BEFORE = 4
"""Number of weeks with whose mean the last week is compared."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """Counts of one session with the same source, hand and side of the field."""

    day: date
    session_id: int
    source: Source
    hand: str | None
    side: str | None
    counts: Mapping[str, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bout:
    """A session: day, duration and perceived exertion (0 to 10); None = unknown."""

    session_id: int
    day: date
    minutes: float | None
    exertion: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Totals:
    """Sums of counts over some days.

    Attributes
    ----------
    by_source
        By source (`SOURCES`) and kind of work (`COUNTED`).
    by_hand, by_side
        By hand (left, right, None = unknown) or side of the field (natural, other, None), and
        kind of work.
    """

    by_source: Mapping[str, Mapping[str, int]]
    by_hand: Mapping[str | None, Mapping[str, int]]
    by_side: Mapping[str | None, Mapping[str, int]]

    def of(self, counted: str) -> int:
        """Return the sum of one kind of work over all sources."""
        return sum(counts[counted] for counts in self.by_source.values())

    def estimated(self, counted: str) -> int:
        """Return how many of one kind of work were estimated."""
        return self.by_source["estimated"][counted]

    def left_share(self, counted: str = "throws") -> Figure:
        """Return the share of the left hand among those with a known hand."""
        left, right = (self.by_hand.get(hand, {}).get(counted, 0) for hand in ("left", "right"))
        if left + right == 0:
            return Figure(reason="no_hands")
        return Figure(left / (left + right))


@dataclass(frozen=True, slots=True, kw_only=True)
class Week:
    """Volume of seven days.

    Attributes
    ----------
    first, last
        First and last day.
    totals
        Sums of the counts.
    n_sessions, n_days_off
        Number of sessions, and of days without a session.
    minutes, n_untimed
        Sum over sessions with a known duration, and number of sessions without one.
    load, monotony, strain
        See `pipeline.log.load`.
    in_log
        Whether the athlete's first entry is not after its last day; if False the week is unknown
        and its zeros mean nothing.
    """

    first: date
    last: date
    totals: Totals
    n_sessions: int
    n_days_off: int
    minutes: float
    n_untimed: int
    load: Figure
    monotony: Figure
    strain: Figure
    in_log: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Volume:
    """Training volume of one athlete up to a day.

    Attributes
    ----------
    weeks
        Oldest first; the last one ends on the requested day.
    month
        Mean of the four weeks before the last one, by `COUNTED`, without weeks before the first
        entry of the log; None without any such week.
    change
        Relative change of the throws from the week before to the last week.
    load, throws
        Acute and chronic load: of exertion times minutes, and of throws per day.
    days_in_a_row
        Consecutive training days.
    """

    weeks: tuple[Week, ...]
    month: Mapping[str, float] | None
    change: Figure
    load: AcuteChronic
    throws: AcuteChronic
    days_in_a_row: int

    @property
    def week(self) -> Week:
        """The last seven days."""
        return self.weeks[-1]


def totals_of(done: Sequence[Done]) -> Totals:
    """Sum counts by source, by hand and by side."""

    def added(groups: Mapping[str | None, list[Done]]) -> dict[str | None, dict[str, int]]:
        return {
            group: {name: sum(one.counts[name] for one in members) for name in COUNTED}
            for group, members in groups.items()
        }

    sources: dict[str | None, list[Done]] = {source: [] for source in SOURCES}
    hands: dict[str | None, list[Done]] = {"left": [], "right": [], None: []}
    sides: dict[str | None, list[Done]] = {"natural": [], "other": [], None: []}
    for one in done:
        sources[one.source].append(one)
        hands[one.hand].append(one)
        sides[one.side].append(one)
    by_source = {str(source): counts for source, counts in added(sources).items()}
    return Totals(by_source=by_source, by_hand=added(hands), by_side=added(sides))


def volume_of(
    done: Sequence[Done],
    bouts: Sequence[Bout],
    last: date,
    n_weeks: int,
    first_entry: date | None,
) -> Volume:
    """Compute an athlete's training volume.

    Parameters
    ----------
    done, bouts
        Counts and sessions of the athlete; those before the weeks add to the chronic load.
    last
        Day on which the last week ends.
    n_weeks
        Number of weeks, at least one.
    first_entry
        Day of the athlete's first entry in the log; None without entries. Later days without a
        session are days off; earlier days are unknown.

    Returns
    -------
    Volume
    """
    done = [one for one in done if one.day <= last]
    bouts = [bout for bout in bouts if bout.day <= last]
    weeks = tuple(
        _week(done, bouts, last - timedelta(days=WEEK_DAYS * back), first_entry)
        for back in range(n_weeks - 1, -1, -1)
    )
    earlier = [
        _week(done, bouts, last - timedelta(days=WEEK_DAYS * back), first_entry)
        for back in range(1, WEEKS_BEFORE + 1)
    ]
    known = [week for week in earlier if week.in_log]
    month = {
        name: sum(week.totals.of(name) for week in known) / len(known) for name in COUNTED
    } if known else None  # fmt: skip
    start = last if first_entry is None else first_entry
    loads = by_day(start, last, [(bout.day, _load(bout)) for bout in bouts])
    throws = by_day(start, last, [(one.day, float(one.counts["throws"])) for one in done])
    return Volume(
        weeks=weeks,
        month=month,
        change=change(weeks[-1].totals.of("throws"), earlier[0].totals.of("throws")),
        load=acute_and_chronic(loads[-HISTORY_DAYS:]),
        throws=acute_and_chronic(throws[-HISTORY_DAYS:]),
        days_in_a_row=days_in_a_row({bout.day for bout in bouts}, last),
    )


HISTORY_DAYS = 4 * CHRONIC_DAYS
"""Days on which acute and chronic load are based: earlier days weigh less than 0.1 %."""


def _week(
    done: Sequence[Done], bouts: Sequence[Bout], last: date, first_entry: date | None
) -> Week:
    first = last - timedelta(days=WEEK_DAYS - 1)
    within = [bout for bout in bouts if first <= bout.day <= last]
    loads = by_day(first, last, [(bout.day, _load(bout)) for bout in within])
    timed = [bout.minutes for bout in within if bout.minutes is not None]
    return Week(
        first=first,
        last=last,
        totals=totals_of([one for one in done if first <= one.day <= last]),
        n_sessions=len(within),
        n_days_off=WEEK_DAYS - len({bout.day for bout in within}),
        minutes=float(np.sum(timed)),
        n_untimed=len(within) - len(timed),
        load=weekly_load(loads),
        monotony=monotony(loads),
        strain=strain(loads),
        in_log=first_entry is not None and last >= first_entry,
    )


def _load(bout: Bout) -> float:
    load = session_load(bout.exertion, bout.minutes).value
    return math.nan if load is None else load
