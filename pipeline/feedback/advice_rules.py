"""Which advice pulls against which, or against a prompt to look, and which is never given alone.

What holds for the advice on a measure stands where the measure is defined.
"""

from __future__ import annotations

from collections.abc import Collection

from pipeline.measures import MEASURES
from pipeline.measures.advice import NO_RULE, Advice, AdviceRule


def rule_of(advice: Advice) -> AdviceRule:
    """Give what holds for an advice."""
    key, side = advice
    if key not in MEASURES:
        return NO_RULE
    return MEASURES[key].low if side == "low" else MEASURES[key].high


def held_back(advice: Advice, flags: Collection[str]) -> bool:
    """Whether an advice pulls against a prompt to look, and is therefore not given.

    Examples
    --------
    >>> held_back(("jab_width_m", "low"), {"knee_in"})
    True
    >>> held_back(("jab_width_m", "high"), {"knee_in"})
    False
    """
    return not rule_of(advice).not_beside.isdisjoint(flags)


def praise_held_back(key: str, flags: Collection[str]) -> bool:
    """Whether a measure is not praised, because more of it pulls against a prompt to look."""
    return held_back((key, "low"), flags) or held_back((key, "high"), flags)


def pull_apart(one: Advice, other: Advice) -> bool:
    """Whether two pieces of advice pull against each other; the same measure is not asked here."""
    return other in rule_of(one).against or one in rule_of(other).against
