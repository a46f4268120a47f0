"""Who may need a quiet word: limits, rest, hours, balance of hands, drift late in sessions.

Each line rests on a rule that it names, with the numbers and the source. None predicts an injury.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Literal

from pipeline.log.limits import Exceeded
from pipeline.log.load import Figure
from pipeline.log.trends import Drift
from pipeline.log.volume import Totals, Week

WatchKind = Literal["limit", "no_day_off", "hours", "balance", "drift"]

LEAST_MOVED = 0.10
FEWEST_BY_HAND = 30
"""The balance of hands moved if the left hand's share differs by ten points or more, and by more
than chance makes it (95 %), with thirty throws or more of a known hand before and now."""

NORMAL_95 = 1.96
ROUNDING = 1e-9
MOST_CONSECUTIVE = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class Watch:
    """One line of the watch list.

    Attributes
    ----------
    kind
        Which rule.
    numbers
        What it rests on, by name.
    about
        The limit or the drift that it is about.
    """

    kind: WatchKind
    numbers: Mapping[str, float]
    about: Any = field(default=None)


def watch_list(
    *,
    week: Week,
    before: Totals,
    days_in_a_row: int,
    over: Sequence[Exceeded],
    drifts: Sequence[Drift],
    birth_year: int | None,
    young: bool | None,
) -> list[Watch]:
    """Say what stands out in the last seven days of one athlete.

    Parameters
    ----------
    week
        The last seven days.
    before
        Numbers of the four weeks before.
    days_in_a_row
        Without a day off.
    over
        Limits that were exceeded.
    drifts
        Measures that differ late in sessions.
    birth_year
        For the rule of hours; None = not known.
    young
        Whether they are under age: the rules on rest and hours are for young athletes. None = not
        known, and then they are told.

    Returns
    -------
    list of Watch
        Limits first.
    """
    found = [
        Watch(kind="limit", numbers={"number": one.number, "estimated": one.estimated}, about=one)
        for one in over
    ]
    if young is not False:
        if week.n_days_off == 0:
            numbers = {"in_a_row": float(max(days_in_a_row, MOST_CONSECUTIVE))}
            found.append(Watch(kind="no_day_off", numbers=numbers))
        age = age_this_year(birth_year, week.last)
        if age is not None and hours_are_many(week.minutes / 60.0, age):
            numbers = {"hours": week.minutes / 60.0, "age_years": float(age)}
            found.append(Watch(kind="hours", numbers=numbers))
    moved = balance_moved(before, week.totals)
    if moved is not None:
        found.append(moved)
    found += [
        Watch(
            kind="drift",
            numbers={"early": one.early, "late": one.late, "least": one.least},
            about=one,
        )
        for one in drifts
    ]
    return found


def hours_are_many(hours: float, age_years: float) -> bool:
    """Whether somebody trains more hours a week than they are years old.

    References
    ----------
    Jayanthi et al. 2015, Am J Sports Med 43:794-801.

    Examples
    --------
    >>> hours_are_many(12.0, 12), hours_are_many(12.1, 12)
    (False, True)
    """
    return hours > age_years


def age_this_year(birth_year: int | None, day: date) -> int | None:
    """Age that is reached in a day's year; None where the year of birth is not known."""
    return None if birth_year is None else day.year - birth_year


def balance_moved(before: Totals, now: Totals) -> Watch | None:
    """Say whether the share of the left hand in the throws moved; None where it did not.

    Parameters
    ----------
    before, now
        Numbers of the four weeks before, and of the last seven days.
    """
    shares: list[Figure] = [totals.left_share() for totals in (before, now)]
    n = [
        sum(totals.by_hand.get(hand, {}).get("throws", 0) for hand in ("left", "right"))
        for totals in (before, now)
    ]
    was, is_now = (share.value for share in shares)
    if was is None or is_now is None or min(n) < FEWEST_BY_HAND:
        return None
    # Two proportions, pooled: where nothing changed they differ so much once in twenty times.
    pooled = (was * n[0] + is_now * n[1]) / sum(n)
    by_chance = NORMAL_95 * math.sqrt(pooled * (1.0 - pooled) * (1.0 / n[0] + 1.0 / n[1]))
    if abs(is_now - was) < max(LEAST_MOVED, by_chance) - ROUNDING:
        return None
    return Watch(
        kind="balance",
        numbers={"before": was, "now": is_now, "n_before": n[0], "n_now": n[1]},
    )
