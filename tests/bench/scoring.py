"""Holds found reps and measured numbers against known truth: pure functions over plain data."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

FAR_OFF = 3.0 / 1.96
"""Half-widths of a 95 % interval in 3 standard uncertainties of a normal distribution."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One number that has a known truth.

    Attributes
    ----------
    name
        Measure key, or event name.
    where
        Clip and rep, for the list of the worst.
    truth, value
        Known and measured; value None = not measured.
    interval95
        Stated 95 % interval; None = none was stated.
    reason
        Why it was not measured.
    grade
        How the scale was known.
    difficulty
        What makes the clip hard; empty for an ordinary one.
    """

    name: str
    where: str
    truth: float
    value: float | None
    interval95: tuple[float, float] | None = None
    reason: str | None = None
    grade: str = ""
    difficulty: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Score:
    """How well one kind of number was measured; NaN where nothing was.

    Attributes
    ----------
    n_truths, n_measured
        Truths in matched reps, and how many of them got a value.
    bias, median_error, error_95th
        Mean of measured minus true; median and 95th percentile of its size.
    share_inside
        Share of truths inside the stated 95 % interval.
    half_width
        Median half-width of the stated 95 % intervals.
    share_far_off
        Share of values that are further off than 3 standard uncertainties (1.53 half-widths).
    reasons
        Why there was no value, with counts.
    """

    n_truths: int
    n_measured: int
    bias: float
    median_error: float
    error_95th: float
    share_inside: float
    half_width: float
    share_far_off: float
    reasons: Mapping[str, int] = field(default_factory=dict)


def overlap_s(a: tuple[float, float], b: tuple[float, float]) -> float:
    """Seconds that two windows share."""
    return max(0.0, min(a[1], b[1]) - max(a[0], b[0]))


def overlap_over_union(a: tuple[float, float], b: tuple[float, float]) -> float:
    """Share of the two windows' union that lies in both."""
    both = overlap_s(a, b)
    union = (a[1] - a[0]) + (b[1] - b[0]) - both
    return both / union if union > 0 else 0.0


def match_reps(
    truths: Sequence[tuple[float, float]], found: Sequence[tuple[float, float]]
) -> list[tuple[int, int]]:
    """Pair true and found windows, each at most once, best overlaps first.

    Parameters
    ----------
    truths, found
        (start, stop) in s.

    Returns
    -------
    list of (int, int)
        Indices into `truths` and `found`. A pair needs half of the true window covered.
    """
    candidates = []
    for i_truth, truth in enumerate(truths):
        for i_found, window in enumerate(found):
            if overlap_s(truth, window) >= 0.5 * (truth[1] - truth[0]):
                candidates.append((overlap_over_union(truth, window), i_truth, i_found))
    pairs: list[tuple[int, int]] = []
    for _overlap, i_truth, i_found in sorted(candidates, reverse=True):
        if all(i_truth != t and i_found != f for t, f in pairs):
            pairs.append((i_truth, i_found))
    return sorted(pairs)


def score(readings: Sequence[Reading]) -> Score:
    """Sum up the readings of one kind.

    Parameters
    ----------
    readings
        All with the same name.
    """
    measured = [reading for reading in readings if reading.value is not None]
    errors = np.array([reading.value - reading.truth for reading in measured])
    stated = [reading for reading in measured if reading.interval95 is not None]
    inside = [r.interval95[0] <= r.truth <= r.interval95[1] for r in stated]
    half_widths = np.array([0.5 * (r.interval95[1] - r.interval95[0]) for r in stated])
    off = np.array([abs(r.value - r.truth) for r in stated])
    reasons: dict[str, int] = {}
    for reading in readings:
        if reading.value is None:
            why = reading.reason or "no such event"
            reasons[why] = reasons.get(why, 0) + 1
    some = errors.size > 0
    return Score(
        n_truths=len(readings),
        n_measured=len(measured),
        bias=float(errors.mean()) if some else math.nan,
        median_error=float(np.median(np.abs(errors))) if some else math.nan,
        error_95th=float(np.percentile(np.abs(errors), 95)) if some else math.nan,
        share_inside=float(np.mean(inside)) if inside else math.nan,
        half_width=float(np.median(half_widths)) if inside else math.nan,
        share_far_off=float(np.mean(off > FAR_OFF * half_widths)) if inside else math.nan,
        reasons=reasons,
    )


def scores_by_name(readings: Sequence[Reading]) -> dict[str, Score]:
    """Sum up readings of several kinds, in the order in which the kinds appear."""
    names = dict.fromkeys(reading.name for reading in readings)
    return {name: score([r for r in readings if r.name == name]) for name in names}


def scores_by_difficulty(readings: Sequence[Reading]) -> dict[str, dict[str, float]]:
    """Sum up readings of all kinds by what makes their clips hard.

    Returns
    -------
    dict
        By difficulty: truths, values, and the shares inside the 95 % interval and further off than
        3 standard uncertainties.
    """
    found = {}
    for difficulty in dict.fromkeys(reading.difficulty for reading in readings):
        one = score([reading for reading in readings if reading.difficulty == difficulty])
        found[difficulty] = {
            "n_truths": one.n_truths,
            "n_measured": one.n_measured,
            "share_inside": one.share_inside,
            "share_far_off": one.share_far_off,
        }
    return found
