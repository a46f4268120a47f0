"""The length of a person's arm, shoulder to finger tip, from the person's own body over a clip."""

from __future__ import annotations

import numpy as np

from pipeline.core.types import JOINTS, FloatArray

SURE_OF_STATURE = 0.04
"""A frame counts where the noise of the two ends of a segment adds up to less than this."""

LONGEST_PERCENTILE = 92.0
"""A segment is as long as it is seen when it lies across the view; a few frames overshoot."""

FEWEST_FRAMES = 20

_SIDES = ("left", "right")
_ARM = ("shoulder", "elbow", "wrist", "hand")


def arm_readings_m(
    *,
    body_m: FloatArray,
    scale: float,
    joint_px: FloatArray,
    noise_px: FloatArray,
    metres_per_px: FloatArray,
    size_px: FloatArray,
) -> FloatArray:
    """Two readings of the arm, neither of them yet at the scale of true arms.

    Parameters
    ----------
    body_m
        (n_frames, 23, 3) metric body, model size; NaN where it is not to be used.
    scale
        Factor from model size to this person.
    joint_px, noise_px
        (n_frames, 23, 2) and (n_frames, 23) joints in the picture, and their noise.
    metres_per_px
        (n_frames,) scale of the picture at the person.
    size_px
        (n_frames,) stature in the picture.

    Returns
    -------
    numpy.ndarray
        (2,) m: from the metric body, shoulder to grip; from the picture, shoulder to wrist. NaN
        where the arms were hardly seen.
    """
    known = np.isfinite(body_m).all(axis=(1, 2))
    if known.sum() < FEWEST_FRAMES:
        return np.full(2, np.nan)
    metric = np.median(
        [np.median(_length(body_m[known], side, _ARM).sum(axis=-1)) for side in _SIDES]
    )
    picture = 0.0
    for start, end in (_ARM[:2], _ARM[1:3]):
        seen_m = []
        for side in _SIDES:
            length_m = _length(joint_px, side, (start, end))[:, 0] * metres_per_px
            ends = [JOINTS.index(f"{side}_{part}") for part in (start, end)]
            with np.errstate(invalid="ignore"):
                sure = noise_px[:, ends].sum(axis=1) < SURE_OF_STATURE * size_px
            usable = known & sure & np.isfinite(length_m)
            if usable.sum() >= FEWEST_FRAMES:
                seen_m.append(np.percentile(length_m[usable], LONGEST_PERCENTILE))
        picture += float(np.mean(seen_m)) if seen_m else float("nan")
    return np.array([scale * float(metric), picture])


def _length(points: FloatArray, side: str, parts: tuple[str, ...]) -> FloatArray:
    """(n, len(parts) - 1) distances along a chain of joints."""
    chain = points[:, [JOINTS.index(f"{side}_{part}") for part in parts]]
    return np.asarray(np.linalg.norm(np.diff(chain, axis=1), axis=-1))
