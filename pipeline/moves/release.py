"""The instant at which a throw leaves the stick, from the speed of the top hand as it is seen."""

from __future__ import annotations

from typing import Literal

import numpy as np

from pipeline.core.spline import spline_smooth
from pipeline.core.types import Event, FloatArray, Hand
from pipeline.moves.events import event_at
from pipeline.moves.signals import SEEN_AXES, Signals, local_peaks, refined_peak_s

Way = Literal["level", "down", "any"]
"""Where the top hand goes at the release: level for a pass, down for a high-to-low shot, any
way to the front for a shot from high, from the shoulder or from the side."""

HAND_CUTOFF_HZ = 12.0
"""Half-gain frequency of the hand's track. A burst lasts a tenth of a second or more. With more
smoothing the peak of one that rises slowly and ends abruptly comes too early."""

LOOKED_AT_S = 1.0
REACH_S = 0.1
"""The release is looked for this far from the burst's frame."""

BEFORE_S = 0.25
"""Hand and stick slow down and follow through within this time after the release."""

FASTER = 1.15
"""Speeds seen in the picture that differ by less than this factor are alike."""

AS_FAST = 0.7
"""A second burst that reaches this share of the speed may be the release as well."""

OTHER_BURST_S = 0.45
"""That second burst lies within this time of the first."""

MOSTLY_DOWN = 0.65
HARDLY_DOWN = 0.3
"""Shares of the hand's speed that go down, above which a burst is no pass, and below which it is no
shot from high to low: then it is the follow-through, and the release was before it."""

HARDLY_FORWARD = 0.8
"""A hand that goes to the front of the chest slower than this at its fastest, statures a second,
follows through. On rendered passes filmed along the throw this was 0.9 or more in 12 of 13 releases
and less in all but one of 37 follow-throughs, though the depth of a hand is hardly to be seen."""

ALONG_VIEW = 0.6
"""The camera looks along the throw where the chest faces it, or away, by more than this (the cosine
of the angle); from the side the throw itself is seen."""

FOLLOW_THROUGH_S = 0.17
ONSET_SHARES = (0.2, 0.6)
LONGEST_RISE_S = 0.10
"""A hand that comes down after a throw is at its fastest by then; if it seems to take longer, it
was hidden and the landmarks drifted."""

SPREAD_S = {"level": 0.02, "down": 0.03, "any": 0.03}
SPREAD_ALONG_VIEW_S = 0.04
SPREAD_ANY_WAY_S = 0.45
"""Standard uncertainty of a release seen from the side, by where the hand goes; what a view along
the throw adds, and what it adds where the throw may go any way. By the errors on own rendered
clips, the last on one clip in which four of four were mistaken."""


def release_event(signals: Signals, hand: Hand, frame: int, way: Way) -> Event:
    """Instant of the throw near a frame, with its uncertainty.

    It is the instant of the greatest speed of the top hand against the hips. Where the camera looks
    along the throw, the picture hardly shows that speed but shows the follow-through, in which the
    hand of a passer comes down and that of a low shooter swings across. A burst that goes the wrong
    way is mistaken for it, and the release for the instant at which the hand began to come down
    (pass), came down fastest before it (shot from high to low) or began to follow through (any).

    Parameters
    ----------
    signals
        Of the athlete.
    hand
        Top hand.
    frame
        Frame of the burst.
    way
        Where the hand goes at the release.

    Returns
    -------
    Event
    """
    velocity = _seen_velocity(signals, hand, frame)
    speed, down = np.linalg.norm(velocity, axis=-1), -velocity[:, 1]
    fastest_s = _fastest_s(signals, speed, frame)
    instant_s = fastest_s
    peak = int(np.argmin(np.abs(signals.time_s - fastest_s)))
    share = float(down[peak] / speed[peak]) if speed[peak] > 0.0 else float("nan")
    if way == "any":
        seen_along = abs(float(signals.facing[peak, 1])) > ALONG_VIEW
        if seen_along and _forward_speed(signals, hand, frame)[peak] < HARDLY_FORWARD:
            instant_s = _onset_s(signals.time_s, speed, peak)
    elif way == "level" and _is_follow_through(signals, speed, peak):
        before = _greatest(signals, speed, peak, BEFORE_S, 0.0)
        instant_s = refined_peak_s(signals.time_s, speed, before)
    elif way == "level" and share > MOSTLY_DOWN:
        instant_s = _onset_s(signals.time_s, down, _greatest(signals, down, peak, REACH_S, REACH_S))
    elif way == "down" and share < HARDLY_DOWN:
        fastest_down = _greatest(signals, down, peak, FOLLOW_THROUGH_S, 0.0)
        instant_s = refined_peak_s(signals.time_s, down, fastest_down)
    spread_s = _spread_s(signals, frame, way)
    if way == "any":
        spread_s = float(np.hypot(spread_s, _doubt_s(signals.time_s, speed, instant_s)))
    return event_at(signals, instant_s, spread_s=spread_s)


def _doubt_s(time_s: FloatArray, speed: FloatArray, instant_s: float) -> float:
    """Root mean square error from a second burst that is as fast and may be the release instead.

    Where the throw may go any way, its direction does not show which of them it is.
    """
    chosen = speed[int(np.argmin(np.abs(time_s - instant_s)))]
    near = [i for i in local_peaks(speed) if REACH_S < abs(time_s[i] - instant_s) < OTHER_BURST_S]
    others = [i for i in near if speed[i] > AS_FAST * chosen]
    if not others:
        return 0.0
    other = max(others, key=lambda i: float(speed[i]))
    probability = float(speed[other] / (speed[other] + chosen))
    return float(abs(time_s[other] - instant_s) * probability**0.5)


def _is_follow_through(signals: Signals, speed: FloatArray, peak: int) -> bool:
    """Whether the hand was faster shortly before, and slow in between."""
    if not np.isfinite(speed[peak]):
        return False
    before = _greatest(signals, speed, peak, BEFORE_S, 0.0)
    slowest = np.nanmin(speed[before : peak + 1])
    return bool(speed[before] > FASTER * speed[peak] and slowest < 0.5 * speed[peak])


def _fastest_s(signals: Signals, speed: FloatArray, frame: int) -> float:
    """Peak of the parabola through the three highest samples of the speed near a frame."""
    time_s = signals.time_s
    near = (np.abs(time_s - time_s[frame]) <= REACH_S) & np.isfinite(speed)
    if not near.any():
        return float(time_s[frame])
    fastest = int(np.argmax(np.where(near, speed, -np.inf)))
    return refined_peak_s(time_s, speed, fastest)


def _column(hand: Hand) -> int:
    return 0 if hand == "left" else 1


def _seen_velocity(signals: Signals, hand: Hand, frame: int) -> FloatArray:
    """(n, 2) velocity of a hand against the hips across the view and up, m/s.

    NaN where it is not known, and further than `LOOKED_AT_S` from the frame.
    """
    offset_s = signals.time_s - signals.time_s[frame]
    about = np.abs(offset_s) <= LOOKED_AT_S
    velocity = np.full((offset_s.size, 2), np.nan)
    if about.sum() < 3:
        return velocity
    track_m = signals.hand_m[about, _column(hand)][:, SEEN_AXES]
    known = np.asarray(np.isfinite(track_m).all(axis=1))
    smooth_m = spline_smooth(offset_s[about], track_m, known.astype(float), HAND_CUTOFF_HZ)
    gradient = np.gradient(smooth_m, offset_s[about], axis=0)
    velocity[about] = np.where(known[:, None], gradient, np.nan)
    return velocity


def _forward_speed(signals: Signals, hand: Hand, frame: int) -> FloatArray:
    """(n,) speed of a hand against the hips to the front of the chest, statures a second.

    NaN where it is not known, and further than `LOOKED_AT_S` from the frame.
    """
    offset_s = signals.time_s - signals.time_s[frame]
    about = np.abs(offset_s) <= LOOKED_AT_S
    speed = np.full(offset_s.size, np.nan)
    hand_m = signals.hand_m[about, _column(hand), :2]
    front_m = np.einsum("nk,nk->n", hand_m, signals.facing[about])
    known = np.asarray(np.isfinite(front_m))
    if known.sum() < 3:
        return speed
    smooth_m = spline_smooth(
        offset_s[about], front_m[:, None], known.astype(float), HAND_CUTOFF_HZ
    )[:, 0]
    speed[about] = np.gradient(smooth_m, offset_s[about]) / signals.stature_m
    return speed


def _greatest(
    signals: Signals, values: FloatArray, frame: int, before_s: float, after_s: float
) -> int:
    """Frame of the greatest value in a span about a frame."""
    offset_s = signals.time_s - signals.time_s[frame]
    inside = (offset_s >= -before_s) & (offset_s <= after_s) & np.isfinite(values)
    return int(np.argmax(np.where(inside, values, -np.inf)))


def _onset_s(time_s: FloatArray, speed: FloatArray, peak: int) -> float:
    """Instant at which a speed began to rise to its peak: its slope carried back to zero."""

    def crossing_s(share: float) -> float:
        level = share * speed[peak]
        i = peak
        while i > 1 and speed[i - 1] > level and time_s[peak] - time_s[i - 1] < 2 * REACH_S:
            i -= 1
        if not speed[i - 1] < level:
            return float(time_s[i - 1])
        part = (level - speed[i - 1]) / (speed[i] - speed[i - 1])
        return float(time_s[i - 1] + part * (time_s[i] - time_s[i - 1]))

    low, high = ONSET_SHARES
    low_s, high_s = crossing_s(low), crossing_s(high)
    onset_s = low_s - (high_s - low_s) * low / (high - low)
    return max(onset_s, float(time_s[peak]) - LONGEST_RISE_S)


def _spread_s(signals: Signals, frame: int, way: Way) -> float:
    """Give the standard uncertainty on top of the frame interval's, by the view.

    Filmed along the throw, one that may go any way is easily confused with its follow-through.
    """
    along_view = float(signals.facing[frame, 1]) ** 2
    mistaken_s = SPREAD_ANY_WAY_S * along_view**4 if way == "any" else 0.0
    return float(np.hypot(np.hypot(SPREAD_S[way], SPREAD_ALONG_VIEW_S * along_view), mistaken_s))
