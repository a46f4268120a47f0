"""Where the centre of mass lies: on average it stays above the feet, which shows the vertical.

Masses and centres of the segments as shares of the whole: Dempster's values as tabulated by Winter
(*Biomechanics and Motor Control of Human Movement*, 4th edition, 2009, table 4.1; from memory).
"""

from __future__ import annotations

import numpy as np

from pipeline.core.types import JOINTS, FloatArray

# Segment: share of the mass, then its centre as weights of joints (left and right taken together).
_SEGMENTS: tuple[tuple[float, dict[str, float]], ...] = (
    (0.081, {"ear": 1.0}),
    (0.497, {"shoulder": 0.5, "hip": 0.5}),
    (0.056, {"shoulder": 0.564, "elbow": 0.436}),
    (0.032, {"elbow": 0.57, "wrist": 0.43}),
    (0.012, {"hand": 1.0}),
    (0.200, {"hip": 0.567, "knee": 0.433}),
    (0.093, {"knee": 0.567, "ankle": 0.433}),
    (0.029, {"heel": 0.5, "toe": 0.5}),
)


def _middle(joints_m: FloatArray, part: str) -> FloatArray:
    left, right = JOINTS.index(f"left_{part}"), JOINTS.index(f"right_{part}")
    return np.asarray(0.5 * (joints_m[..., left, :] + joints_m[..., right, :]))


def centre_of_mass_m(joints_m: FloatArray) -> FloatArray:
    """Centre of mass of the body (without the stick).

    Parameters
    ----------
    joints_m
        ``S + (23, 3)`` joints in any frame.

    Returns
    -------
    numpy.ndarray
        ``S + (3,)``; NaN where a joint is unknown.
    """
    total = sum(mass for mass, _ in _SEGMENTS)
    centre = np.zeros((*joints_m.shape[:-2], 3))
    for mass, parts in _SEGMENTS:
        for part, share in parts.items():
            centre += mass / total * share * _middle(joints_m, part)
    return centre


def above_feet_m(joints_m: FloatArray) -> FloatArray:
    """Line from half way between the middles of the feet to the centre of mass.

    Parameters
    ----------
    joints_m
        ``S + (23, 3)`` joints in any frame.

    Returns
    -------
    numpy.ndarray
        ``S + (3,)``.
    """
    feet = 0.5 * (_middle(joints_m, "heel") + _middle(joints_m, "toe"))
    return centre_of_mass_m(joints_m) - feet
