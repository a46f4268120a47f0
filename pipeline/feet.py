"""Which foot stands on the ground, frame by frame, from the picture alone."""

from __future__ import annotations

import numpy as np

from pipeline.types import JOINTS, BoolArray, FloatArray

STANDING_SPEED = 0.45
"""A foot slower than this many statures a second in the picture may be standing."""

CREEPING_SPEED = 0.8
"""The same where another body is in the way."""

LIFTED = 0.07
"""A foot whose lowest point is this share of the body's height above the other's is in the air."""

SHORTEST_CONTACT_S = 0.06
SHORTEST_SWING_S = 0.12
"""A foot that leaves the ground and lands elsewhere takes longer than this."""

_HEEL = (JOINTS.index("left_heel"), JOINTS.index("right_heel"))
_TOE = (JOINTS.index("left_toe"), JOINTS.index("right_toe"))
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
    foot_px = foot_middle(image_px)
    speed = np.linalg.norm(np.gradient(foot_px, time_s, axis=0), axis=-1) / body_size_px[:, None]
    hidden = np.zeros(n_frames, dtype=bool) if overlapped is None else overlapped
    slowest = np.where(hidden, CREEPING_SPEED, STANDING_SPEED)
    lowest_px = np.max(image_px[:, [*_HEEL, *_TOE], 1].reshape(n_frames, 2, 2), axis=1)
    with np.errstate(invalid="ignore"):
        lifted = (lowest_px[:, ::-1] - lowest_px) / body_size_px[:, None] > LIFTED
        standing = (speed < slowest[:, None]) & ~lifted
    for foot in range(2):
        standing[:, foot] = _without_short_runs(standing[:, foot], time_s)
    return np.asarray(standing)


def runs(mask: BoolArray) -> list[tuple[int, int]]:
    """Start and stop (not included) of each run of true values.

    Examples
    --------
    >>> runs(np.array([False, True, True, False, True]))
    [(1, 3), (4, 5)]
    """
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


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
