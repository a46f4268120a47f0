"""What a picture does when its camera turns: the turn fitted to points that were followed.

A camera that turns about its optical centre, and stays where it is, moves every point of its
picture by the homography ``K R inv(K)``, however far off the thing is that is seen there.

References
----------
.. [1] R. Hartley and A. Zisserman, *Multiple View Geometry in Computer Vision*, 2nd edition, 2004,
   section 8.4 (the same camera centre).
"""

from __future__ import annotations

import numpy as np

from pipeline.core.types import FloatArray

LEAST_SHARE = 0.02
"""A focal length of 50 times the guess: what lies before it only shifts."""

PRIOR_SPREAD = np.array([np.inf, np.inf, np.inf, 0.01, 0.25])
"""Standard deviations of turn (no prior), logarithm of the zoom, and inverse focal length.

A phone that focuses anew zooms by up to 1 % (see ``REFOCUS_SPREAD``); the field of view along the
long side of phones' films lies within some 50 to 80 degrees, 65 being the guess."""

POINT_SPREAD_PX = 0.2
"""Of a corner that was followed, against which the prior is weighed, px of the small picture."""

MOST_STEPS = 6
ENOUGH_PX = 0.01
"""A step that moves no point further than this is the last one, px of the small picture."""
NO_TURN = np.array([0.0, 0.0, 0.0, 0.0, 1.0])
"""The parameters of a camera that stands still."""

_STEP = np.array([1e-3, 1e-3, 1e-6, 1e-6, 1e-4])


def turned(parameters: FloatArray, focal_px: float, middle_px: FloatArray) -> FloatArray:
    """Homography of the picture for a turn of the camera.

    Parameters
    ----------
    parameters
        ``S + (5,)``: turn about the y and about the x axis as they shift the middle of the picture
        (px right, px down), turn about the optical axis (rad, clockwise in the picture), logarithm
        of the zoom, and `focal_px` as a share of the true focal length.
    focal_px
        A guess of the focal length.
    middle_px
        (2,) principal point.

    Returns
    -------
    numpy.ndarray
        ``S + (3, 3)`` from points before to points after.
    """
    import cv2

    inverse = np.maximum(parameters[..., 4], LEAST_SHARE) / focal_px
    turn = np.stack(
        [-parameters[..., 1] * inverse, parameters[..., 0] * inverse, parameters[..., 2]], axis=-1
    )
    zoom = np.exp(parameters[..., 3])
    # inv(K) and K with the principal point taken away first and added last.
    matrix = np.array([cv2.Rodrigues(vector)[0] for vector in turn.reshape(-1, 3)], float)
    matrix = matrix.reshape(*turn.shape, 3)
    matrix[..., :2, :] *= (zoom / inverse)[..., None, None]
    matrix[..., :, :2] *= inverse[..., None, None]
    shift = np.eye(3)
    shift[:2, 2] = middle_px
    back = np.eye(3)
    back[:2, 2] = -middle_px
    return np.asarray(shift @ matrix @ back)


def moved_points(homography: FloatArray, points_px: FloatArray) -> FloatArray:
    """Carry points by a homography.

    Parameters
    ----------
    homography
        ``S + (3, 3)``.
    points_px
        (n, 2), or ``S + (n, 2)``.

    Returns
    -------
    numpy.ndarray
        ``S + (n, 2)``; NaN for points that come to lie behind the camera.
    """
    whole = points_px @ np.swapaxes(homography[..., :2], -1, -2) + homography[..., None, :, 2]
    depth = np.where(whole[..., 2:] > 1e-6, whole[..., 2:], np.nan)
    return np.asarray(whole[..., :2] / depth)


def fit_turn(
    start_px: FloatArray,
    end_px: FloatArray,
    guess: FloatArray,
    *,
    focal_px: float,
    middle_px: FloatArray,
    wild_px: float,
) -> FloatArray:
    """Fit a turn of the camera to points that were followed, by least squares (Gauss-Newton).

    Parameters
    ----------
    start_px, end_px
        (n, 2) points before and after.
    guess
        (5,) parameters to start from, see `turned`.
    focal_px, middle_px
        As for `turned`.
    wild_px
        Points further off than this take less and less part (weights of Cauchy).

    Returns
    -------
    numpy.ndarray
        (5,) parameters.
    """
    parameters = np.array(guess, dtype=float)
    for _ in range(MOST_STEPS):
        versions = np.vstack([parameters, parameters + np.diag(_STEP)])
        seen = moved_points(turned(versions, focal_px, middle_px), start_px)
        off = end_px - seen[0]
        if not np.isfinite(seen).all():
            break
        slope = ((seen[1:] - seen[0]) / _STEP[:, None, None]).reshape(5, -1)
        weight = np.repeat(1.0 / (1.0 + np.sum(off**2, axis=-1) / wild_px**2), 2)
        weighted = slope * (weight / POINT_SPREAD_PX**2)
        normal = weighted @ slope.T + np.diag(PRIOR_SPREAD**-2.0)
        right = weighted @ off.ravel() + (NO_TURN - parameters) * PRIOR_SPREAD**-2.0
        step = np.linalg.solve(normal, right)
        parameters = parameters + step
        parameters[4] = max(parameters[4], LEAST_SHARE)
        if np.abs(np.tensordot(step, slope, axes=1)).max() < ENOUGH_PX:
            break
    return parameters


def homography_of(before_px: FloatArray, after_px: FloatArray) -> FloatArray:
    """Homography that carries four points to four others.

    Parameters
    ----------
    before_px
        (4, 2), no three of them on one line.
    after_px
        ``S + (4, 2)``.

    Returns
    -------
    numpy.ndarray
        ``S + (3, 3)`` with the last element 1; NaN where a point is not finite.
    """
    known = np.isfinite(after_px).all(axis=(-1, -2))
    after = np.asarray(after_px, float)[known]
    before = np.concatenate([before_px, np.ones((4, 1))], axis=-1)
    # Eight linear equations: u (g x + h y + 1) = a x + b y + c, and the same for v.
    matrix = np.zeros((len(after), 8, 8))
    matrix[:, :4, :3], matrix[:, 4:, 3:6] = before, before
    matrix[:, :4, 6:] = -after[..., :1] * before[:, :2]
    matrix[:, 4:, 6:] = -after[..., 1:] * before[:, :2]
    right = np.concatenate([after[..., 0], after[..., 1]], axis=-1)
    values = np.linalg.solve(matrix, right[..., None])[..., 0]
    result = np.full((*known.shape, 9), np.nan)
    result[known] = np.concatenate([values, np.ones((len(values), 1))], axis=-1)
    return result.reshape(*known.shape, 3, 3)
