"""The instant at which a throw leaves the stick, from the speed of the top hand as it is seen."""

from __future__ import annotations

from typing import Literal

import numpy as np

from pipeline.events import event_at
from pipeline.signals import SEEN_AXES, Signals
from pipeline.types import Event, FloatArray, Hand

Way = Literal["level", "down"]
"""Where the top hand goes at the release: level for a pass, down for a high-to-low shot."""

REACH_S = 0.1
"""The release is looked for this far from the burst's frame."""

LATER_S = 0.025
"""A burst that rises slowly and ends abruptly has its peak this much too early once it is smooth
and seen in the plane of the picture: the mean over the rendered clips that were tuned on."""

MOSTLY_DOWN = 0.65
HARDLY_DOWN = 0.3
"""Shares of the hand's speed that go down, above which a burst is no pass, and below which it is no
shot from high to low: then it is the follow-through, and the release was before it."""

FOLLOW_THROUGH_S = 0.17
ONSET_SHARES = (0.2, 0.6)
LONGEST_RISE_S = 0.12
"""A hand that comes down after a throw is at its fastest by then; if it seems to take longer, it
was hidden and the landmarks drifted."""

SPREAD_S = 0.02
SPREAD_ALONG_VIEW_S = 0.045
"""Standard uncertainty of a release seen from the side, and what a view along the throw adds; set
so that 95 % intervals hold the truth on the rendered clips that were tuned on."""


def release_event(signals: Signals, hand: Hand, frame: int, way: Way) -> Event:
    """Instant of the throw near a frame, with its uncertainty.

    It is the instant of the greatest speed of the top hand against the hips. Where the camera looks
    along the throw, the picture hardly shows that speed but shows the follow-through, in which the
    hand of a passer comes down and that of a shooter swings across. A burst that goes the wrong way
    is taken for it, and the release for the instant at which the hand began to come down (pass) or
    came down fastest before it (shot).

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
    instant_s = fastest_instant_s(signals, hand, frame) + LATER_S
    velocity = _seen_velocity(signals, hand)
    peak = int(np.argmin(np.abs(signals.time_s - instant_s + LATER_S)))
    speed = float(np.linalg.norm(velocity[peak]))
    down = -velocity[:, 1]
    share = float(down[peak]) / speed if speed > 0.0 else float("nan")
    if way == "level" and share > MOSTLY_DOWN:
        instant_s = _onset_s(signals.time_s, down, _greatest(signals, down, peak, REACH_S, REACH_S))
    elif way == "down" and share < HARDLY_DOWN:
        fastest_down = _greatest(signals, down, peak, FOLLOW_THROUGH_S, 0.0)
        instant_s = float(signals.time_s[fastest_down]) + LATER_S
    return event_at(signals, instant_s, spread_s=_spread_s(signals, frame))


def fastest_instant_s(signals: Signals, hand: Hand, frame: int) -> float:
    """Instant of the greatest speed of the top hand against the hips near a frame, as seen.

    The speed is the derivative of the polynomial through the five samples about the fastest one, on
    a grid of 1 ms: central differences over two frames put the peak of a burst that ends abruptly
    up to a frame too early.

    Parameters
    ----------
    signals
        Of the athlete.
    hand
        Top hand.
    frame
        Frame of the burst.

    Returns
    -------
    float
        Clip time, s.
    """
    column = _column(hand)
    time_s, speed = signals.time_s, signals.hand_mps[:, column]
    near = np.abs(time_s - time_s[frame]) <= REACH_S
    fastest = int(np.argmax(np.where(near & np.isfinite(speed), speed, -np.inf)))
    about = slice(fastest - 2, fastest + 3)
    track_m = signals.hand_m[about, column][:, SEEN_AXES] if fastest >= 2 else np.empty((0, 2))
    if track_m.shape[0] < 5 or not np.isfinite(track_m).all():
        return float(time_s[fastest])
    offset_s = time_s[about] - time_s[fastest]
    # Powers 0 to 4 of the offsets in units of the span, so that the system is well conditioned.
    span_s = float(offset_s[-1])
    coefficients = np.linalg.solve(np.vander(offset_s / span_s, 5, increasing=True), track_m)
    grid = np.arange(offset_s[1], offset_s[3], 0.001) / span_s
    slopes = np.vander(grid, 4, increasing=True) @ (coefficients[1:] * np.arange(1, 5)[:, None])
    return float(time_s[fastest] + span_s * grid[np.argmax(np.linalg.norm(slopes, axis=-1))])


def _column(hand: Hand) -> int:
    return 0 if hand == "left" else 1


def _seen_velocity(signals: Signals, hand: Hand) -> FloatArray:
    """(n, 2) velocity of a hand against the hips across the view and up, m/s."""
    track_m = signals.hand_m[:, _column(hand)][:, SEEN_AXES]
    return np.asarray(np.gradient(track_m, signals.time_s, axis=0))


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


def _spread_s(signals: Signals, frame: int) -> float:
    """Give the standard uncertainty on top of the frame interval's, by the view."""
    along_view = float(signals.facing[frame, 1]) ** 2
    return float(np.hypot(SPREAD_S, SPREAD_ALONG_VIEW_S * along_view))
