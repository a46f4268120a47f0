"""Builds an athlete's watch list: limits, rest, hours, balance of hands, drift within sessions.

Each entry names its rule, its numbers and its source. No entry predicts an injury.
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
"""The balance of hands changed if the left hand's share differs significantly (95 %) and by at
least `LEAST_MOVED`. Both periods need `FEWEST_BY_HAND` throws of a known hand."""

NORMAL_95 = 1.96
ROUNDING = 1e-9
MOST_CONSECUTIVE = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class Watch:
    """One entry of the watch list.

    Attributes
    ----------
    kind
        The rule.
    numbers
        Numbers to which the rule was applied, by name.
    about
        The exceeded limit or the drift; None for other rules.
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
    """Apply the rules of the watch list to the last seven days of one athlete.

    Parameters
    ----------
    week
        The last seven days.
    before
        Totals of the four weeks before.
    days_in_a_row
        Consecutive training days.
    over
        Exceeded limits.
    drifts
        Measures that drift within sessions.
    birth_year
        Year of birth for the rule on hours; None = unknown.
    young
        Whether the athlete is under age. The rules on rest and hours apply to young athletes, and
        if this is unknown (None).

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
    """Whether an athlete trains more hours a week than their age in years.

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
    """Return the age reached in the year of a day; None if the year of birth is unknown."""
    return None if birth_year is None else day.year - birth_year


def balance_moved(before: Totals, now: Totals) -> Watch | None:
    """Return an entry if the share of the left hand in the throws changed; None otherwise.

    Parameters
    ----------
    before, now
        Totals of the four weeks before, and of the last seven days.
    """
    shares: list[Figure] = [totals.left_share() for totals in (before, now)]
    n = [
        sum(totals.by_hand.get(hand, {}).get("throws", 0) for hand in ("left", "right"))
        for totals in (before, now)
    ]
    was, is_now = (share.value for share in shares)
    if was is None or is_now is None or min(n) < FEWEST_BY_HAND:
        return None
    # Pooled test of two proportions: equal shares differ by more in 5 % of cases.
    pooled = (was * n[0] + is_now * n[1]) / sum(n)
    by_chance = NORMAL_95 * math.sqrt(pooled * (1.0 - pooled) * (1.0 / n[0] + 1.0 / n[1]))
    if abs(is_now - was) < max(LEAST_MOVED, by_chance) - ROUNDING:
        return None
    return Watch(
        kind="balance",
        numbers={"before": was, "now": is_now, "n_before": n[0], "n_now": n[1]},
    )
