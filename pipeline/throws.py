"""Find throws: a burst of the top hand that follows a wind-up and sends the hands out in front."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline.signals import Signals, local_peaks
from pipeline.types import FloatArray

SLOWEST_THROW = 1.6
"""Least speed of the top hand against the hips, statures a second."""

BURST_S = 0.22
"""A burst reaches this far to both sides of its peak."""

LEAST_REACH = 0.10
"""Least way of the hand to the front within a burst, statures."""

BETWEEN_THROWS_S = 1.2
"""Two throws are at least this far apart."""

SHARE_OF_BEST = 0.35
"""A throw scores at least this share of the clip's typical best burst."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Throw:
    """A candidate throw.

    Attributes
    ----------
    frame
        Frame of the greatest hand speed against the hips.
    score
        Speed (statures a second) times way to the front and down (statures).
    """

    frame: int
    score: float


def hands_speed(signals: Signals) -> FloatArray:
    """(n,) mean speed of both hands against mid-hip: both are on the shaft."""
    return np.asarray(signals.hand_mps.mean(axis=1))


def throw_score(signals: Signals, peak: int) -> float:
    """How much a burst looks like a throw and not like the hands coming back.

    A throw carries the hands to the front of the chest and mostly down from the wind-up, fast.
    The way back, and the swing of a carried stick on a jog, go the other way or not far.

    Parameters
    ----------
    signals
        Of the athlete.
    peak
        Frame of the burst's greatest speed.

    Returns
    -------
    float
        0 for a burst that cannot be a throw.
    """
    time_s = signals.time_s
    start = int(np.searchsorted(time_s, time_s[peak] - BURST_S))
    stop = min(int(np.searchsorted(time_s, time_s[peak] + BURST_S)), time_s.size - 1)
    way = signals.hand_m[stop].mean(axis=0) - signals.hand_m[start].mean(axis=0)
    facing = signals.facing[start : stop + 1].mean(axis=0)
    front = float(way[:2] @ facing) / signals.stature_m
    down = float(-way[2]) / signals.stature_m
    speed = float(hands_speed(signals)[peak]) / signals.stature_m
    if not np.isfinite(front + down + speed) or speed < SLOWEST_THROW:
        return 0.0
    reach = front + 0.5 * max(down, 0.0)
    return speed * reach if reach > LEAST_REACH else 0.0


def find_throws(signals: Signals) -> list[Throw]:
    """Find the throws of a clip, best first taken, none closer than `BETWEEN_THROWS_S`.

    Parameters
    ----------
    signals
        Of the athlete.

    Returns
    -------
    list of Throw
        In the order of the clip.
    """
    speed = hands_speed(signals)
    candidates = [Throw(frame=i, score=throw_score(signals, i)) for i in local_peaks(speed)]
    candidates = sorted((c for c in candidates if c.score > 0), key=lambda c: -c.score)
    if not candidates:
        return []
    typical_best = float(np.median([c.score for c in candidates[:3]]))
    taken: list[Throw] = []
    for candidate in candidates:
        if candidate.score < SHARE_OF_BEST * typical_best:
            break
        instant_s = signals.time_s[candidate.frame]
        if all(abs(instant_s - signals.time_s[t.frame]) >= BETWEEN_THROWS_S for t in taken):
            taken.append(candidate)
    return sorted(taken, key=lambda t: t.frame)
