"""Where another body is in the way of a joint, and how much less sure the joint is there."""

from __future__ import annotations

import numpy as np

from pipeline.core.types import JOINTS, BoolArray, FloatArray

NEAR_OF_STATURE = 0.06
"""A joint this near to another body's limb or trunk is behind it or in front of it."""

FAR_OF_STATURE = 0.25
"""From here on another body makes no difference. Both by the errors on rendered clips."""

_SIDES = ("left", "right")
LINES = (
    *(
        (f"{side}_{a}", f"{side}_{b}")
        for side in _SIDES
        for a, b in (
            ("shoulder", "elbow"), ("elbow", "wrist"), ("shoulder", "hip"), ("hip", "knee"),
            ("knee", "ankle"), ("heel", "toe"),
        )
    ),
    ("left_shoulder", "right_shoulder"),
    ("left_hip", "right_hip"),
    ("left_shoulder", "right_hip"),
    ("right_shoulder", "left_hip"),
)  # fmt: skip
"""Limbs and trunk as lines between joints."""

_FEET = ("ankle", "heel", "toe")
_ARMS = ("elbow", "wrist", "hand")


def _by_part(feet: float, arms: float, rest: float) -> FloatArray:
    parts = [name.split("_")[-1] for name in JOINTS]
    return np.array([feet if p in _FEET else arms if p in _ARMS else rest for p in parts])


NOISE_BEHIND = _by_part(0.085, 0.065, 0.035)
NOISE_IN_FRONT = _by_part(0.045, 0.035, 0.028)
"""(23,) standard deviation of a joint there, shares of stature: of one behind the other body, which
is guessed, and of one in front of it, for the two are mixed up."""


def covered_noise(image_px: FloatArray, size_px: FloatArray) -> FloatArray:
    """Tell what other bodies in the way add to the noise of each joint.

    Parameters
    ----------
    image_px
        (n_people, n_frames, 23, 2) clean joints; NaN where unknown.
    size_px
        (n_people,) height of each in the picture.

    Returns
    -------
    numpy.ndarray
        (n_people, n_frames, 23) px; 0 where nobody is near.
    """
    n_people = image_px.shape[0]
    noise_px = np.zeros(image_px.shape[:3])
    lowest = [_lowest_px(image_px[person]) for person in range(n_people)]
    for person in range(n_people):
        for other in range(n_people):
            if other == person or not size_px[other] > 0.0:
                continue
            near = _near(image_px[person], image_px[other], float(size_px[other]))
            if not near.any():
                continue
            distance = _distance_px(image_px[person, near], image_px[other, near])
            part = distance / size_px[other]
            share = np.clip((FAR_OF_STATURE - part) / (FAR_OF_STATURE - NEAR_OF_STATURE), 0.0, 1.0)
            # Who stands lower in the picture stands nearer to the camera.
            with np.errstate(invalid="ignore"):
                behind = (lowest[person][near] < lowest[other][near])[:, None]
            spread = np.where(behind, NOISE_BEHIND, NOISE_IN_FRONT) * size_px[person]
            noise_px[person, near] = np.maximum(noise_px[person, near], spread * share)
    return noise_px


def _lowest_px(image_px: FloatArray) -> FloatArray:
    """(n_frames,) y of the lowest foot point; NaN where unknown."""
    feet = [i for i, name in enumerate(JOINTS) if name.split("_")[-1] in _FEET]
    lowest = np.max(np.nan_to_num(image_px[:, feet, 1], nan=-np.inf), axis=1)
    return np.where(np.isfinite(lowest), lowest, np.nan)


def _near(image_px: FloatArray, other_px: FloatArray, size_px: float) -> BoolArray:
    """(n_frames,) whether the boxes of two bodies come within reach of one another."""
    reach = FAR_OF_STATURE * size_px
    with np.errstate(invalid="ignore"):
        low = np.fmax.reduce([np.fmin.reduce(p, axis=1) for p in (image_px, other_px)])
        high = np.fmin.reduce([np.fmax.reduce(p, axis=1) for p in (image_px, other_px)])
        return np.asarray((low - high < reach).all(axis=-1))


def _distance_px(points_px: FloatArray, other_px: FloatArray) -> FloatArray:
    """(n_frames, 23) distance of each joint to the nearest line of the other body."""
    nearest = np.full(points_px.shape[:2], np.inf)
    for a, b in LINES:
        start = other_px[:, None, JOINTS.index(a)]
        line = other_px[:, None, JOINTS.index(b)] - start
        squared = np.maximum(np.sum(line * line, axis=-1), 1e-9)
        along = np.clip(np.sum((points_px - start) * line, axis=-1) / squared, 0.0, 1.0)
        apart = np.linalg.norm(points_px - start - along[..., None] * line, axis=-1)
        nearest = np.fmin(nearest, apart)
    return nearest
