"""Find throws: a burst that follows a wind-up and sends the top hand out to the front and down."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline.signals import Signals, local_peaks, top_hand
from pipeline.types import FloatArray, Hand

SLOWEST_THROW = 1.6
"""Least speed of the top hand to the front and down, statures a second."""

WIND_UP_S = 0.6
"""The top hand is told from this time before the burst."""

BURST_S = 0.25
"""A burst reaches this far to both sides of its peak."""

LEAST_REACH = 0.12
"""Least way of the top hand to the front and down within a burst, statures."""

DOWN_SHARE = 0.6
"""How much a way down counts against one to the front."""

CARRY_OF_STATURE = 0.55
RAISED_ABOVE_CARRY = 0.22
"""A stick is carried with the top hand about `CARRY_OF_STATURE` high and thrown from higher up."""

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
        Frame of the greatest speed of the top hand to the front and down.
    hand
        Side of the top hand.
    score
        Speed (statures a second) times way to the front and down (statures).
    """

    frame: int
    hand: Hand
    score: float


def throwing_speed(signals: Signals) -> FloatArray:
    """Speed of each hand against the hips as far as it goes to the front of the chest and down.

    A throw carries the top hand that way. Winding up, coming back and the swing of a carried
    stick on a jog go the other way, or sideways, or not far.

    Parameters
    ----------
    signals
        Of the athlete.

    Returns
    -------
    numpy.ndarray
        (n, 2) left and right, statures a second, at least 0.
    """
    # The way to the front is taken before the speed: turning round with still hands is no way.
    front_m = np.einsum("nhk,nk->nh", signals.hand_m[..., :2], signals.facing)
    way_m = front_m - DOWN_SHARE * signals.hand_m[..., 2]
    speed = np.gradient(way_m, signals.time_s, axis=0) / signals.stature_m
    return np.asarray(np.maximum(speed, 0.0))


def find_throws(signals: Signals, told_hand: Hand | None = None) -> list[Throw]:
    """Find the throws of a clip, best first taken, none closer than `BETWEEN_THROWS_S`.

    Parameters
    ----------
    signals
        Of the athlete.
    told_hand
        Side of the top hand where it was told.

    Returns
    -------
    list of Throw
        In the order of the clip.
    """
    candidates = sorted(_candidates(signals, told_hand), key=lambda c: -c.score)
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


def _raised(height_m: FloatArray, stature_m: float) -> float:
    """Give 1 for a wind-up with the top hand at shoulder height, less for a lower one."""
    highest = float(np.nanmax(height_m, initial=0.0)) / stature_m
    return float(np.clip((highest - CARRY_OF_STATURE) / RAISED_ABOVE_CARRY, 0.1, 1.0))


def _candidates(signals: Signals, told_hand: Hand | None) -> list[Throw]:
    """Every burst of the hand that was on top in the wind-up before it."""
    time_s, speed = signals.time_s, throwing_speed(signals)
    found = []
    sides: tuple[Hand, Hand] = ("left", "right")
    for column, side in enumerate(sides):
        for frame in local_peaks(speed[:, column]):
            if speed[frame, column] < SLOWEST_THROW:
                continue
            wind_up = int(np.searchsorted(time_s, time_s[frame] - WIND_UP_S))
            if (told_hand or top_hand(signals, wind_up, frame)) != side:
                continue
            start = int(np.searchsorted(time_s, time_s[frame] - BURST_S))
            stop = int(np.searchsorted(time_s, time_s[frame] + BURST_S))
            reach = float(np.trapezoid(speed[start:stop, column], time_s[start:stop]))
            if reach > LEAST_REACH:
                raised = _raised(signals.hand_height_m[wind_up:frame, column], signals.stature_m)
                score = float(speed[frame, column]) * reach * raised
                found.append(Throw(frame=frame, hand=side, score=score))
    return found
