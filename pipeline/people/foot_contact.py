"""Which foot stands on the ground, frame by frame, from the picture alone."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from pipeline.core.spline import runs, spline_smooth
from pipeline.core.types import JOINTS, BoolArray, FloatArray

STANDING_SPEED = 0.45
"""A foot slower than this many statures a second in the picture may be standing."""

CREEPING_SPEED = 0.8
"""The same where another body is in the way."""

LIFTED = 0.07
"""A foot whose lowest point is this share of the body's height above the other's is in the air."""

SWINGING_SPEED = 1.3
"""A foot faster than this many statures a second in the picture swings."""

SHORTEST_FAST_SWING_S = 0.08
"""It does so for this long at least before it lands."""

LANDS_WITHIN_S = 0.25
"""A foot lands this soon after it was last as fast."""

SLOWED_SHARE = 0.3
"""A foot whose speed has its least value under this share of its swing's has landed: where another
body hides it, it may seem never to stand."""

SHORTEST_CONTACT_S = 0.06
SHORTEST_SWING_S = 0.12
"""A foot that leaves the ground and lands elsewhere takes longer than this."""

_HEEL = (JOINTS.index("left_heel"), JOINTS.index("right_heel"))
_TOE = (JOINTS.index("left_toe"), JOINTS.index("right_toe"))
_HIP = (JOINTS.index("left_hip"), JOINTS.index("right_hip"))
_ANKLE = (JOINTS.index("left_ankle"), JOINTS.index("right_ankle"))


def foot_middle(joints: FloatArray) -> FloatArray:
    """Middle between heel and toe of the left and of the right foot.

    Parameters
    ----------
    joints
        ``S + (23, d)``.

    Returns
    -------
    numpy.ndarray
        ``S + (2, d)``.
    """
    return np.asarray(0.5 * (joints[..., _HEEL, :] + joints[..., _TOE, :]))


def standing_feet(
    image_px: FloatArray,
    time_s: FloatArray,
    body_size_px: FloatArray,
    overlapped: BoolArray | None = None,
) -> BoolArray:
    """Tell which feet stand.

    A foot stands while heel and toe hardly move in the picture and it is not lifted clear of the
    other one; contacts shorter than `SHORTEST_CONTACT_S` are dropped and gaps as short are closed.

    Parameters
    ----------
    image_px
        (n_frames, 23, 2) clean joints; NaN where unknown.
    time_s
        (n_frames,).
    body_size_px
        (n_frames,) what the athlete's stature would measure in the picture at his distance.
    overlapped
        (n_frames,) where another body is in the way: there a foot that stands may seem to creep.

    Returns
    -------
    numpy.ndarray
        (n_frames, 2) left and right; false where unknown.
    """
    n_frames = time_s.size
    if n_frames < 3:
        return np.isfinite(foot_middle(image_px)[..., 0])
    standing = np.zeros((n_frames, 2), dtype=bool)
    speed, lift = _speed_and_lift(image_px, time_s, body_size_px)
    hidden = np.zeros(n_frames, dtype=bool) if overlapped is None else overlapped
    slowest = np.where(hidden, CREEPING_SPEED, STANDING_SPEED)
    with np.errstate(invalid="ignore"):
        standing = (speed < slowest[:, None]) & ~(lift > LIFTED)
    for foot in range(2):
        standing[:, foot] = _without_short_runs(standing[:, foot], time_s)
    return np.asarray(standing)


def landing_frames(image_px: FloatArray, time_s: FloatArray, body_size_px: FloatArray) -> BoolArray:
    """Find the frames in which a foot lands after a fast swing.

    A swing ends where the foot, no longer lifted clear of the other one, has slowed to the speed of
    a standing foot, or else where it is slowest. That shows a landing also where another body soon
    hides the foot, so that it is never seen to stand.

    Parameters
    ----------
    image_px, time_s, body_size_px
        As for `standing_feet`.

    Returns
    -------
    numpy.ndarray
        (n_frames, 2) left and right; true in the first frame on the ground.
    """
    n_frames = time_s.size
    landed = np.zeros((n_frames, 2), dtype=bool)
    if n_frames < 3:
        return landed
    speed, lift = _speed_and_lift(image_px, time_s, body_size_px)
    for foot in range(2):
        for start, stop in runs(speed[:, foot] > SWINGING_SPEED):
            if stop == n_frames or time_s[stop] - time_s[start] < SHORTEST_FAST_SWING_S:
                continue
            latest = int(np.searchsorted(time_s, time_s[stop] + LANDS_WITHIN_S, side="right"))
            first = _slowed_down(
                speed[stop : latest + 1, foot],
                lift[stop:latest, foot] > LIFTED,
                SLOWED_SHARE * float(speed[start:stop, foot].max()),
            )
            if first is not None:
                landed[stop + first, foot] = True
    return landed


def _slowed_down(speed: FloatArray, lifted: BoolArray, slow: float) -> int | None:
    """Index of the first sample at which a foot that swung has landed; `speed` may go on longer."""
    for i in range(lifted.size):
        if not np.isfinite(speed[i]) or speed[i] > SWINGING_SPEED:
            return None
        slowest_here = i + 1 < speed.size and speed[i] < slow and speed[i + 1] >= speed[i]
        if not lifted[i] and (speed[i] < STANDING_SPEED or slowest_here):
            return i
    return None


def _speed_and_lift(
    image_px: FloatArray, time_s: FloatArray, body_size_px: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """(n_frames, 2) speed of each foot, statures a second, and height over the other, statures."""
    speed = np.linalg.norm(np.gradient(foot_middle(image_px), time_s, axis=0), axis=-1)
    lowest_px = np.max(image_px[:, [*_HEEL, *_TOE], 1].reshape(time_s.size, 2, 2), axis=1)
    lift_px = lowest_px[:, ::-1] - lowest_px
    return speed / body_size_px[:, None], lift_px / body_size_px[:, None]


def _without_short_runs(mask: BoolArray, time_s: FloatArray) -> BoolArray:
    """Close gaps shorter than `SHORTEST_SWING_S`, then drop runs under `SHORTEST_CONTACT_S`."""
    frame_s = float(np.median(np.diff(time_s)))
    result = mask.copy()
    for value, shortest_s in ((False, SHORTEST_SWING_S), (True, SHORTEST_CONTACT_S)):
        for start, stop in runs(result == value):
            inside = start > 0 and stop < mask.size
            if (stop - start) * frame_s < shortest_s and (inside or value):
                result[start:stop] = not value
    return result


STEPS_SMOOTH_TO = 0.1
"""Half-gain frequency of the feet's distance, as a share of the frame rate: the times themselves
are in doubt."""

LEAST_STRIDE = 0.2
"""The feet are this far apart in a step, and the hips go this far from step to step, statures."""

WALKS_ON = 0.4
"""In a walk or run nobody is slower than this share of the mean pace of a step."""

FEWEST_STEPS, FEWEST_FRAMES_OF_STEPS = 4, 20

USUAL_STEP_S = 0.4
SLOWEST_STEP_S = 1.0
"""A step of a run takes 0.3 s and more, one of a walk 0.5 to 0.6 s, a slow one 0.8 s (D. A. Winter,
*Biomechanics and Motor Control of Human Gait*, 1991; from memory). A film whose median step is
slower than `SLOWEST_STEP_S` plays in slow motion."""

LEAST_SLOWED = 1.5
"""Phones slow film down two times or more; rates that differ by less are rounded or uneven."""


def slow_motion_factor(
    step_s: float, *, captured_hz: float | None = None, played_hz: float = float("nan")
) -> float | None:
    """Estimate how many times slower than real time a film plays; None without a sign of that.

    Parameters
    ----------
    step_s
        Median time of a step, from `step_time_s`.
    captured_hz, played_hz
        Rate at which the phone states that it filmed, and rate of the frames in the file.
    """
    if captured_hz is not None and captured_hz > LEAST_SLOWED * played_hz:
        return captured_hz / played_hz
    return step_s / USUAL_STEP_S if step_s > SLOWEST_STEP_S else None


def step_time_s(image_px: FloatArray, time_s: FloatArray, body_size_px: FloatArray) -> float:
    """Median time from step to step of a walk or run across the view.

    Parameters
    ----------
    image_px
        (n_frames, 23, 2) joints of one person.
    time_s
        (n_frames,).
    body_size_px
        (n_frames,) stature in the picture.

    Returns
    -------
    float
        NaN where fewer than `FEWEST_STEPS` steps were seen.
    """
    hips = image_px[:, _HIP].mean(axis=1)
    apart = image_px[:, _ANKLE[0]] - image_px[:, _ANKLE[1]]
    known = np.isfinite(np.hstack([apart, hips, body_size_px[:, None]])).all(axis=1)
    if known.sum() < FEWEST_FRAMES_OF_STEPS:
        return float("nan")
    both = np.hstack([apart, hips]) / np.median(body_size_px[known])
    cutoff_hz = STEPS_SMOOTH_TO / float(np.median(np.diff(time_s)))
    smooth = spline_smooth(time_s, both, known.astype(float), cutoff_hz)
    stride, place = np.linalg.norm(smooth[:, :2], axis=1), smooth[:, 2:]
    pace = np.linalg.norm(np.gradient(place, time_s, axis=0), axis=1)
    inner = stride[1:-1]
    peak = (inner > stride[:-2]) & (inner >= stride[2:]) & (inner > LEAST_STRIDE) & known[1:-1]
    times_s = [
        float(time_s[b] - time_s[a])
        for a, b in pairwise((np.flatnonzero(peak) + 1).tolist())
        if np.linalg.norm(place[b] - place[a]) > LEAST_STRIDE
        and stride[a:b].min() < 0.5 * min(stride[a], stride[b])
        and pace[a:b].min() > WALKS_ON * pace[a:b].mean()
    ]
    return float(np.median(times_s)) if len(times_s) >= FEWEST_STEPS else float("nan")
