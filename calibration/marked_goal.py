"""Where a goal stands that was marked: its mouth on the ground, before the camera of each draw."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from calibration.field_places import PIPE_RADIUS_M
from calibration.marks import Mark, MarkedCamera
from pipeline.core.types import FloatArray


def goal_mouth_m(marks: Sequence[Mark]) -> FloatArray | None:
    """Where the mouth of a goal begins and ends on the ground, if marks of both posts were given.

    Parameters
    ----------
    marks
        A mark of a post, at any height, has a name that begins with ``goal_left`` or
        ``goal_right`` and lies on the middle line of its pipe, as in
        `calibration.field_places.goal_places`.

    Returns
    -------
    numpy.ndarray or None
        (2, 2) x and y of the inner edges of the left and of the right pipe, in the marks' frame.
    """
    posts = [
        [mark.field_m[:2] for mark in marks if mark.name.startswith(f"goal_{side}")]
        for side in ("left", "right")
    ]
    if not all(posts):
        return None
    left, right = (np.mean(post, axis=0) for post in posts)
    width_m = float(np.linalg.norm(right - left))
    if width_m <= 2 * PIPE_RADIUS_M:
        return None
    inward = PIPE_RADIUS_M / width_m * (right - left)
    return np.array([left + inward, right - inward])


def goal_draws_m(
    camera: MarkedCamera, mouth_m: FloatArray, change: FloatArray, seed: int
) -> FloatArray:
    """Give the ends of the goal's mouth before the camera of each draw.

    Heading and place of the camera go along with the draws of its other unknowns, as far as the
    marks tie them together (the mean of a normal distribution given a part of it); what is left of
    them is drawn anew.

    Parameters
    ----------
    camera
        As solved from the marks.
    mouth_m
        (2, 2) as from `goal_mouth_m`.
    change
        (n_draws, 4) draws of log focal length, pitch, roll and log height less their best
        estimates; 0 in draw 0.
    seed
        Of what is drawn anew.

    Returns
    -------
    numpy.ndarray
        (n_draws, 2, 2) x and y in the axes of `calibration.camera`: to the right, and forward.
    """
    to_log = np.diag([1.0 / camera.focal_px, 1.0, 1.0, 1.0 / camera.height_m, 1.0, 1.0, 1.0])
    covariance = to_log @ camera.pose_covariance @ to_log
    tied = covariance[4:, :4] @ np.linalg.pinv(covariance[:4, :4], hermitian=True)
    variances, axes = np.linalg.eigh(covariance[4:, 4:] - tied @ covariance[:4, 4:])
    normal = np.random.default_rng([seed, 1]).standard_normal((change.shape[0], 3))
    normal[0] = 0.0
    draws = np.array([camera.heading_deg, *camera.position_m]) + change @ tied.T
    draws += normal @ (np.sqrt(np.maximum(variances, 0.0))[:, None] * axes.T)
    cos, sin = np.cos(np.radians(draws[:, 0])), np.sin(np.radians(draws[:, 0]))
    # Rows: the camera's right and forward in the marks' axes.
    rows = np.stack([np.stack([cos, sin], axis=-1), np.stack([-sin, cos], axis=-1)], axis=1)
    return np.asarray(np.einsum("nij,nkj->nki", rows, mouth_m - draws[:, None, 1:]))
