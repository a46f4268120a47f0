"""Turns, frames and two-bone chains over time: what moving a body is made of."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

Floats = NDArray[np.float64]
_UP = np.array([0.0, 0.0, 1.0])


def unit(v: Floats) -> Floats:
    """Return vectors along the last axis, scaled to length 1."""
    result: Floats = v / np.maximum(np.linalg.norm(v, axis=-1, keepdims=True), 1e-9)
    return result


def about_z(angle: Floats) -> Floats:
    """Return turns about the vertical, shape (n_times, 3, 3)."""
    matrix: Floats = Rotation.from_rotvec(np.asarray(angle)[:, None] * _UP).as_matrix()
    return matrix


def frame(along: Floats, side: Floats) -> Floats:
    """Return rotations with the columns ``along``, the part of ``side`` square to it, the rest."""
    x = unit(along)
    y = unit(side - (side * x).sum(-1, keepdims=True) * x)
    return np.stack([x, y, np.cross(x, y)], axis=-1)


def apply(rotation: Floats, vector: Floats) -> Floats:
    """Return one vector, or one for each time, turned by the rotation of each time."""
    result: Floats = (
        np.einsum("tij,...j->ti", rotation, vector)
        if vector.ndim == 1
        else np.einsum("tij,tj->ti", rotation, vector)
    )
    return result


def two_bones(
    root: Floats,
    end: Floats,
    upper_m: float,
    lower_m: float,
    pole: Floats,
    soft_from: float = 0.94,
) -> tuple[Floats, Floats, Floats]:
    """Return the middle joint, the reached end and the bend normal of a two-bone chain.

    The reach is limited softly from ``soft_from`` to 99.7 % of the chain's length.
    """
    reach = upper_m + lower_m
    line = end - root
    wanted = np.linalg.norm(line, axis=-1, keepdims=True)
    soft, hard = soft_from * reach, 0.997 * reach
    beyond = np.maximum(wanted - soft, 0)
    distance = np.where(
        wanted > soft, soft + (hard - soft) * np.tanh(beyond / (hard - soft)), wanted
    )
    distance = np.maximum(distance, 0.25 * reach)
    along = unit(line)
    bend = unit(pole - (pole * along).sum(-1, keepdims=True) * along)
    x = (upper_m**2 - lower_m**2 + distance**2) / (2 * distance)
    y = np.sqrt(np.maximum(upper_m**2 - x**2, 0))
    return root + along * x + bend * y, root + along * distance, np.cross(along, bend)
