"""When the hands of a split change places on the stick."""

from __future__ import annotations

import numpy as np

from pipeline.core.spline import spline_smooth
from pipeline.core.types import FloatArray
from pipeline.moves.signals import Signals

SWITCH_SEEN_S = (-0.25, 0.95)
"""When the hands have changed places, from the plant of a split."""

HELD_S = 0.3
"""One hand is on top for so long before, and the other for so long after."""

ON_TOP = 0.02
"""The top hand is higher than the other by this share of stature on average, at least."""

CHANGED_SHARE = 0.5
HANDS_CUTOFF_HZ = 5.0


def hands_switched_s(athlete: Signals, first_s: float, last_s: float) -> float | None:
    """Instant at which the hands have changed places on the stick: the other one is on top.

    The head of the stick points up while it is carried, so that the order along the stick shows in
    the heights. Of all instants in the span, the one is taken about which the difference of the
    heights changes most from a spell before to a spell after it: a single frame in which the hands
    were taken for one another does not count. They have changed places once the other hand is
    higher by `CHANGED_SHARE` of what it is in the spell after.

    Parameters
    ----------
    athlete
        Signals over the clip.
    first_s, last_s
        Span in clip time.

    Returns
    -------
    float or None
        Clip time; None where the hands were not seen to change places.
    """
    time_s, higher_m = athlete.time_s, right_higher_m(athlete)
    best, greatest = None, 2 * ON_TOP * athlete.stature_m
    for i in np.flatnonzero((time_s >= first_s) & (time_s <= last_s)):
        before, after = _spells(time_s, higher_m, int(i))
        change = abs(after - before)
        held = min(abs(before), abs(after)) >= ON_TOP * athlete.stature_m
        if before * after < 0.0 and held and change > greatest:
            best, greatest = int(i), change
    if best is None:
        return None
    # By then they have come to rest: what they are apart half way through would be too little.
    settled = _spells(time_s, higher_m, _frame_after(time_s, best, 0.5 * HELD_S))[1]
    if abs(settled) < ON_TOP * athlete.stature_m:
        return None
    share = _smooth(time_s, higher_m) / settled - CHANGED_SHARE
    crossed = np.flatnonzero((share[:-1] < 0.0) & (share[1:] >= 0.0))
    if crossed.size == 0:
        return None
    at = int(crossed[np.argmin(np.abs(time_s[crossed] - time_s[best]))])
    part = share[at] / (share[at] - share[at + 1])
    return float(time_s[at] + part * (time_s[at + 1] - time_s[at]))


def switch_near_s(athlete: Signals, frame: int) -> float | None:
    """Instant at which the hands changed places about the plant of a split; None if not seen."""
    about_s = float(athlete.time_s[frame])
    return hands_switched_s(athlete, about_s + SWITCH_SEEN_S[0], about_s + SWITCH_SEEN_S[1])


def right_higher_m(athlete: Signals) -> FloatArray:
    """(n,) height of the right hand above the left one; NaN where they were not both seen."""
    difference = athlete.hand_height_m[:, 1] - athlete.hand_height_m[:, 0]
    # Where one hand is hidden the other stands in for it: then the two heights are the same.
    return np.asarray(np.where(difference == 0.0, np.nan, difference))


def _frame_after(time_s: FloatArray, i: int, after_s: float) -> int:
    return min(int(np.searchsorted(time_s, time_s[i] + after_s)), time_s.size - 1)


def _spells(time_s: FloatArray, values: FloatArray, i: int) -> tuple[float, float]:
    """Means of what is known in the spells before and after a frame; 0 where nothing is."""
    offset_s = time_s - time_s[i]
    means = []
    for sign in (-1.0, 1.0):
        spell = (sign * offset_s > 0.0) & (sign * offset_s <= HELD_S)
        known = values[spell & np.isfinite(values)]
        means.append(float(known.mean()) if known.size else 0.0)
    return means[0], means[1]


def _smooth(time_s: FloatArray, values: FloatArray) -> FloatArray:
    """Low-pass that bridges what is unknown."""
    known = np.isfinite(values)
    smooth = spline_smooth(time_s, values[:, None], known.astype(float), HANDS_CUTOFF_HZ)
    return np.asarray(smooth[:, 0])
