"""Chooses what matters most in a rep, and which advice is never given together.

The score of a number that lies out of its range is ``certainty x usefulness x size``, each between
0 and 1 (usefulness may be more, if a coach sets it):

certainty
    probability that it is out of range, times ``unit / (unit + U)`` with U the half width of its
    95 % interval: of two that are surely out, the more sharply measured one is surer.
usefulness
    weight of the measure in this move, from the file of words.
size
    ``miss / (unit + miss)``, with the miss of the best estimate beyond the range. It saturates, so
    that a wild number cannot outweigh everything else.

The unit is the width of the range; that of a range with one open side is the bound it has; and it
is never less than the smallest real change, 1.96 sqrt(2) u, below which two reps cannot be
told apart. A number that lies in range is scored in the same way with a size of 1, the probability
being that of lying inside.

What holds for the advice on a measure stands where the measure is defined.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass

from pipeline.core.results import Measurement, Side, TargetRange, Verdict, VerdictWord
from pipeline.feedback.words import half_width_95
from pipeline.measures import MEASURES
from pipeline.measures.advice import NO_RULE, Advice, AdviceRule
from pipeline.measures.repeatability import smallest_real_change

Weight = Callable[[str, str], float]
"""Maps the keys of a move and a measure to the usefulness of feedback on it."""

RANKS: tuple[VerdictWord, ...] = ("out of range", "too close to call", "in range", "not measured")
"""Verdicts in the order in which they matter."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Worth:
    """What speaks for telling a verdict.

    Attributes
    ----------
    key, side
        Measure, and the side on which it is out of range; None where it is in range.
    certainty, usefulness, size
        The three factors.
    """

    key: str
    side: Side | None
    certainty: float
    usefulness: float
    size: float

    @property
    def score(self) -> float:
        """Product of the three."""
        return self.certainty * self.usefulness * self.size


def worth_of(verdict: Verdict, measurement: Measurement, usefulness: float) -> Worth | None:
    """Score one verdict.

    Parameters
    ----------
    verdict
        In range or out of range.
    measurement
        What it is about.
    usefulness
        Weight of the measure in the move.

    Returns
    -------
    Worth or None
        None for any other verdict: it is not sure enough to praise or to advise.
    """
    target, value, inside = verdict.target, measurement.value, verdict.probability_inside
    if target is None or value is None or inside is None:
        return None
    unit = _unit(measurement, target)
    sharpness = unit / (unit + (half_width_95(measurement) or 0.0)) if unit > 0.0 else 1.0
    if verdict.word == "in range":
        certainty = inside * sharpness
        return Worth(
            key=verdict.key, side=None, certainty=certainty, usefulness=usefulness, size=1.0
        )
    if verdict.word != "out of range":
        return None
    miss = _miss(measurement.key, value, target)
    return Worth(
        key=verdict.key,
        side=verdict.side,
        certainty=(1.0 - inside) * sharpness,
        usefulness=usefulness,
        size=miss / (unit + miss) if miss > 0.0 else 0.0,
    )


def worths(
    move: str,
    verdicts: Sequence[Verdict],
    measurements: Mapping[str, Measurement],
    weight: Weight,
) -> list[Worth]:
    """Score all verdicts of a rep that can be scored, the best first; without what has no weight.

    Parameters
    ----------
    move
        Key of the move.
    verdicts, measurements
        Of the rep.
    weight
        Usefulness of each measure in a move.
    """
    found = [
        worth_of(verdict, measurements[verdict.key], weight(move, verdict.key))
        for verdict in verdicts
    ]
    useful = [worth for worth in found if worth is not None and worth.usefulness > 0.0]
    return sorted(useful, key=lambda worth: worth.score, reverse=True)


def ranked_verdicts(
    move: str,
    verdicts: Sequence[Verdict],
    measurements: Mapping[str, Measurement],
    weight: Weight,
) -> list[Verdict]:
    """Order the verdicts of a rep by how much they matter; the first is the chief one.

    Out of range comes first, by score; then too close to call, by usefulness; then in range, by
    score; then not measured, by usefulness. Where nothing is out of range, a gap in the most
    useful measure comes before all else, so that nothing smaller hides it. Equals keep their
    order. Measures without a range or without weight are left out.

    Parameters
    ----------
    move
        Key of the move.
    verdicts, measurements
        Of the rep.
    weight
        Usefulness of each measure in a move.
    """
    scores = {worth.key: worth.score for worth in worths(move, verdicts, measurements, weight)}
    useful = [v for v in verdicts if v.target is not None and weight(move, v.key) > 0.0]
    ranked = sorted(
        useful, key=lambda v: (RANKS.index(v.word), -scores.get(v.key, weight(move, v.key)))
    )
    if ranked and ranked[0].word != "out of range":
        most_useful = max(useful, key=lambda v: weight(move, v.key))
        if most_useful.word == "not measured":
            ranked.remove(most_useful)
            ranked.insert(0, most_useful)
    return ranked


def _unit(measurement: Measurement, target: TargetRange) -> float:
    low, high = _bounds(measurement.key, target)
    least = smallest_real_change(measurement.u) if measurement.u is not None else 0.0
    if low is not None and high is not None:
        return max(high - low, least)
    return max(abs(low if low is not None else high or 0.0), least)


def _miss(key: str, value: float, target: TargetRange) -> float:
    low, high = _bounds(key, target)
    below = 0.0 if low is None else low - value
    above = 0.0 if high is None else value - high
    return max(below, above, 0.0)


def _bounds(key: str, target: TargetRange) -> tuple[float | None, float | None]:
    """Bounds of a range; "exactly 1" of a count holds everything that rounds to 1."""
    half_step = 0.5 if key in MEASURES and MEASURES[key].is_count else 0.0
    low = None if target.low is None else target.low - half_step
    high = None if target.high is None else target.high + half_step
    return low, high


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
    """Whether two pieces of advice pull against each other; not for the same measure."""
    return other in rule_of(one).against or one in rule_of(other).against
