"""Verdicts: compares an uncertain value with a coach's range, in one of four words."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Literal

import numpy as np

from pipeline.core.results import Measurement, TargetRange, Verdict, VerdictWord
from pipeline.core.types import FloatArray, Rep
from pipeline.measures import MEASURES
from pipeline.settings.settings import AnalysisSettings
from pipeline.targets.arm_lengths import defenders_arm, given_arm
from pipeline.targets.lookup import Targets

ENOUGH_DRAWS = 100
"""From here on the draws decide; the share of fewer draws is too coarse near the levels."""


def judge(
    measurement: Measurement,
    target: TargetRange | None,
    *,
    inside_level: float = 0.95,
    outside_level: float = 0.05,
) -> Verdict:
    """Decide whether a measured value conforms to a range, given its uncertainty.

    The probability that the true value lies inside the range decides (JCGM 106:2012, 7). With
    at least `ENOUGH_DRAWS` Monte Carlo draws it is the share of draws inside, because times,
    ratios and heights that end at a bound are skewed and a normal distribution would misjudge
    their tails (JCGM 101:2008, 7.7). With fewer draws it is that of a normal distribution with
    the value as mean and u as standard deviation (JCGM 106:2012, 7.2). A bound that is itself
    uncertain, being a multiple of a measured length, adds its own normal distribution.

    Parameters
    ----------
    measurement
        The value with its standard uncertainty, or the reason why it is missing.
    target
        The range, in the same unit; None only together with a reason.
    inside_level, outside_level
        In range at or above the first probability, out of range at or below the second.

    Returns
    -------
    Verdict
        A value without a known uncertainty is too close to call, with no probability.

    Raises
    ------
    ValueError
        The range is for another measure or unit, or a value comes without a range.
    """
    if target is not None and (target.key, target.unit) != (measurement.key, measurement.unit):
        raise ValueError(
            f"{measurement.key} in {measurement.unit} cannot be compared with "
            f"a range for {target.key} in {target.unit}"
        )
    if measurement.value is None:
        return _verdict(measurement, target, "not measured")
    if target is None:
        raise ValueError(
            f"{measurement.key} was measured, but there is no range to hold it against"
        )
    sides = _probabilities(measurement, target)
    if sides is None:
        return _verdict(measurement, target, "too close to call")
    below, inside, above = sides
    if inside >= inside_level:
        return _verdict(measurement, target, "in range", inside=inside)
    if inside <= outside_level:
        side: Literal["low", "high"] = "low" if below >= above else "high"
        return _verdict(measurement, target, "out of range", inside=inside, side=side)
    return _verdict(measurement, target, "too close to call", inside=inside)


def judge_rep(
    measurements: Mapping[str, Measurement],
    targets: Mapping[str, TargetRange],
    *,
    inside_level: float = 0.95,
    outside_level: float = 0.05,
) -> tuple[Verdict, ...]:
    """Judge every measure of one rep that has a range, and name those that were not measured.

    Parameters
    ----------
    measurements
        By measure key.
    targets
        By measure key; a measure without a range gets no verdict unless it was not measured.
    inside_level, outside_level
        As for `judge`.

    Returns
    -------
    tuple of Verdict
        In the order of the measurements.
    """
    return tuple(
        judge(
            measurement,
            targets.get(key),
            inside_level=inside_level,
            outside_level=outside_level,
        )
        for key, measurement in measurements.items()
        if key in targets or measurement.value is None
    )


def _verdict(
    measurement: Measurement,
    target: TargetRange | None,
    word: VerdictWord,
    *,
    inside: float | None = None,
    side: Literal["low", "high"] | None = None,
) -> Verdict:
    return Verdict(
        key=measurement.key, word=word, side=side, probability_inside=inside, target=target
    )


def _probabilities(
    measurement: Measurement, target: TargetRange
) -> tuple[float, float, float] | None:
    """Probability of the true value lying below, inside and above; None if it is unknown."""
    info = MEASURES.get(measurement.key)
    # Whole numbers: "exactly 1" holds everything that rounds to 1.
    half_step = 0.5 if info is not None and info.is_count else 0.0
    low = -math.inf if target.low is None else target.low - half_step
    high = math.inf if target.high is None else target.high + half_step
    draws = measurement.draws
    if draws is not None:
        finite = draws[np.isfinite(draws)]
        if finite.size >= ENOUGH_DRAWS:
            below = float(np.mean(_chance_below(finite, 0.0, low, target.u_low)))
            above = float(np.mean(_chance_below(-finite, 0.0, -high, target.u_high)))
            return below, max(0.0, 1.0 - below - above), above
    value, u = measurement.value, measurement.u
    if value is None or u is None or not (math.isfinite(value) and math.isfinite(u)):
        return None
    below = float(_chance_below(np.array(value), u, low, target.u_low))
    above = float(_chance_below(np.array(-value), u, -high, target.u_high))
    return below, max(0.0, 1.0 - below - above), above


def _chance_below(values: FloatArray, u: float, bound: float, u_bound: float) -> FloatArray:
    """Probability that each value lies below a bound, both normally distributed.

    What matters is their difference. The two are taken to be independent: where one scale makes
    both too long, that overstates the doubt a little.
    """
    spread = math.hypot(max(u, 0.0), u_bound)
    if spread == 0.0 or math.isinf(bound):
        return np.asarray(values < bound, dtype=float)
    from scipy.special import ndtr

    return np.asarray(ndtr((bound - values) / spread))


def judged(
    rep: Rep, measured: Mapping[str, Measurement], targets: Targets, settings: AnalysisSettings
) -> tuple[Verdict, ...]:
    """Judge every measure of a rep that has a range.

    Parameters
    ----------
    rep
        For its move and the hand on top.
    measured
        By measure key.
    targets, settings
        The ranges, and whose rep it is.
    """
    ranges = targets.for_athlete(
        rep.move,
        settings.level,
        settings.stature_m,
        hand=rep.stick_hand,
        athlete=settings.athlete,
        arm=given_arm(settings.arm_length_m),
        defender_arm=defenders_arm(measured),
    )
    return judge_rep(
        measured,
        ranges,
        inside_level=targets.inside_level,
        outside_level=targets.outside_level,
    )
