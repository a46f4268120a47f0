"""Signals over a whole clip in which reps and events show: speeds, facing, touchdowns, peaks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline.core.spline import gaps_longer_than, runs, spline_smooth
from pipeline.core.types import BoolArray, FloatArray, Hand, Motion
from pipeline.people.foot_contact import foot_middle

PATH_CUTOFF_HZ = 3.0
FACING_CUTOFF_HZ = 2.0

SEEN_AXES = [0, 2]
"""Axes of the field in which a hand's speed is taken: across the view and up. The pose model's
depth is far noisier than its image, and a peak in time is better read from what is seen."""

ALIKE_HEIGHT = 0.08
"""Hands whose heights differ by less than this share of stature do not show which is on top."""

LONGEST_BRIDGE_S = 0.8
"""The path of the hips is carried through gaps up to this long: a body has inertia."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Signals:
    """Best-estimate signals of one person over a clip.

    Attributes
    ----------
    time_s
        (n,).
    hips_m
        (n, 2) path of mid-hip on the ground, smooth.
    hips_mps
        (n, 2) its velocity.
    hand_m
        (n, 2 hands, 3) hands against mid-hip: left, right.
    hand_mps
        (n, 2) speed of each hand against mid-hip as seen (`SEEN_AXES`).
    facing
        (n, 2) unit direction on the ground that the chest faces.
    foot_m
        (n, 2 feet, 3) middles of the feet.
    contact
        (n, 2) standing feet.
    landed
        (n, 2) feet that land.
    hand_height_m
        (n, 2) heights of the hands above the ground.
    stature_m
        Best estimate.
    known
        (n,) where the person was followed.
    """

    time_s: FloatArray
    hips_m: FloatArray
    hips_mps: FloatArray
    hand_m: FloatArray
    hand_mps: FloatArray
    facing: FloatArray
    foot_m: FloatArray
    contact: BoolArray
    landed: BoolArray
    hand_height_m: FloatArray
    stature_m: float
    known: BoolArray


def signals_of(motion: Motion) -> Signals:
    """Make the signals from a motion over the whole clip (draw 0 is used).

    Parameters
    ----------
    motion
        All frames of the clip.

    Returns
    -------
    Signals
    """
    time_s, joints = motion.time_s, motion.joints_m[0]
    hips = motion.middle("hip")[0]
    known = np.isfinite(hips[:, 0])
    weight = known.astype(float)
    lost = gaps_longer_than(time_s, known, LONGEST_BRIDGE_S)
    path = spline_smooth(time_s, hips[:, :2], weight, PATH_CUTOFF_HZ)
    hands = np.stack([motion.joint("left_hand")[0], motion.joint("right_hand")[0]], axis=1)
    relative = hands - hips[:, None]
    across = (motion.joint("right_shoulder") + motion.joint("right_hip"))[0] - (
        motion.joint("left_shoulder") + motion.joint("left_hip")
    )[0]
    # Facing is square to the line from left to right, seen from above: left of that line.
    facing = np.stack([-across[:, 1], across[:, 0]], axis=-1)
    facing = spline_smooth(time_s, facing, weight, FACING_CUTOFF_HZ)
    facing /= np.maximum(np.linalg.norm(facing, axis=-1, keepdims=True), 1e-9)
    return Signals(
        time_s=time_s,
        hips_m=np.where(lost[:, None], np.nan, path),
        hips_mps=np.where(lost[:, None], np.nan, np.gradient(path, time_s, axis=0)),
        hand_m=_one_for_the_other(relative),
        hand_mps=_one_for_the_other(_speed_mps(relative, time_s)),
        facing=facing,
        foot_m=foot_middle(joints),
        contact=motion.contact,
        landed=motion.landed,
        hand_height_m=_one_for_the_other(hands[..., 2]),
        stature_m=float(motion.stature_m[0]),
        known=known,
    )


def _speed_mps(track_m: FloatArray, time_s: FloatArray) -> FloatArray:
    """Speed of tracks ``(n, hands, 3)`` in the axes that are seen."""
    velocity = np.gradient(track_m[..., SEEN_AXES], time_s, axis=0)
    return np.asarray(np.linalg.norm(velocity, axis=-1))


def _one_for_the_other(hands: FloatArray) -> FloatArray:
    """Where one hand is hidden, let the other stand in for it: both are on the shaft."""
    return np.asarray(np.where(np.isfinite(hands), hands, hands[:, ::-1]))


def local_peaks(values: FloatArray) -> list[int]:
    """Find the samples greater than the one before and not less than the one after."""
    filled = np.where(np.isfinite(values), values, -np.inf)
    inner = filled[1:-1]
    return [int(i) + 1 for i in np.flatnonzero((inner > filled[:-2]) & (inner >= filled[2:]))]


def frames_within(time_s: FloatArray, frame: int, reach_s: float) -> slice:
    """Frames no further than `reach_s` from a frame, both ends included."""
    start, stop = np.searchsorted(time_s, time_s[frame] + np.array([-reach_s, reach_s])).tolist()
    # The sums are rounded: the frames at the ends are compared by their distance.
    about = slice(max(start - 1, 0), stop + 2)
    inside = np.flatnonzero(np.abs(time_s[about] - time_s[frame]) <= reach_s)
    return slice(about.start + int(inside[0]), about.start + int(inside[-1]) + 1)


def refined_peak_s(time_s: FloatArray, values: FloatArray, peak: int) -> float:
    """Peak of the parabola through the sample at `peak` and its two neighbours.

    Parameters
    ----------
    time_s, values
        (n,).
    peak
        Index of the highest sample.

    Returns
    -------
    float
        Time; at most half a frame interval each side away, and that of the sample itself where a
        neighbour is missing or the three do not bend down.
    """
    about = values[peak - 1 : peak + 2] if peak >= 1 else values[:0]
    if about.size < 3 or not np.isfinite(about).all():
        return float(time_s[peak])
    before, top, after = about.tolist()
    bend = before - 2 * top + after
    shift = 0.5 * (before - after) / bend if bend < 0 else 0.0
    interval_s = 0.5 * float(time_s[peak + 1] - time_s[peak - 1])
    return float(time_s[peak] + np.clip(shift, -1.0, 1.0) * interval_s)


def top_hand(signals: Signals, start: int, stop: int, usual: Hand | None = None) -> Hand | None:
    """Tell the hand that is higher over a span (the wind-up): the one nearer the stick head.

    Parameters
    ----------
    signals
        Of the athlete.
    start, stop
        Frames of the span.
    usual
        Side to take where the heights differ too little.

    Returns
    -------
    str or None
        ``left``, ``right``, or None where the hands were not seen.
    """
    with np.errstate(invalid="ignore"):
        difference = signals.hand_height_m[start:stop, 1] - signals.hand_height_m[start:stop, 0]
    difference = difference[np.isfinite(difference)]
    if difference.size == 0:
        return None
    mean_m = float(difference.mean())
    if usual is not None and abs(mean_m) < ALIKE_HEIGHT * signals.stature_m:
        return usual
    return "right" if mean_m > 0 else "left"


def landings(signals: Signals) -> list[tuple[int, int]]:
    """Every landing after a swing as (frame, foot), in the order of the frames."""
    return [(int(frame), int(foot)) for frame, foot in np.argwhere(signals.landed)]


def touchdowns(signals: Signals) -> list[tuple[int, int, int]]:
    """Every foot contact as (first frame, last frame, foot), in the order of the first frames."""
    return sorted(
        (start, stop - 1, foot) for foot in (0, 1) for start, stop in runs(signals.contact[:, foot])
    )
