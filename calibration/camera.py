"""The pinhole camera over flat ground: rays, ground points and projections, for many draws at once.

Field axes used here: origin on the ground below the camera, z up, y the camera's forward direction
along the ground, x to its right. The camera axes are those of OpenCV: x right, y down, z forward.
All functions broadcast over leading axes, so one call serves every draw and every frame.

References
----------
.. [1] R. Hartley and A. Zisserman, *Multiple View Geometry in Computer Vision*, 2nd edition, 2004,
   section 6.1 (finite pinhole camera).
"""

from __future__ import annotations

import numpy as np

from pipeline.core.types import FloatArray


def field_from_camera(pitch_deg: FloatArray, roll_deg: FloatArray) -> FloatArray:
    """Rotation whose columns are the camera axes written in field axes.

    Parameters
    ----------
    pitch_deg
        Tilt of the optical axis below level, any shape ``S``.
    roll_deg
        Turn of the camera about its optical axis, clockwise seen from behind it, shape ``S``.

    Returns
    -------
    numpy.ndarray
        ``S + (3, 3)``.
    """
    pitch, roll = np.radians(pitch_deg), np.radians(roll_deg)
    sin_p, cos_p, sin_r, cos_r = np.sin(pitch), np.cos(pitch), np.sin(roll), np.cos(roll)
    zero = np.zeros_like(sin_p + sin_r)
    right = np.stack([cos_r + zero, -sin_r * sin_p, -sin_r * cos_p], axis=-1)
    down = np.stack([-sin_r + zero, -cos_r * sin_p, -cos_r * cos_p], axis=-1)
    forward = np.stack([zero, cos_p + zero, -sin_p + zero], axis=-1)
    return np.stack([right, down, forward], axis=-1)


def ray(image_px: FloatArray, focal_px: FloatArray, principal_px: FloatArray) -> FloatArray:
    """Direction of the ray through an image point, in camera axes, scaled to depth 1.

    Parameters
    ----------
    image_px
        ``S + (2,)``.
    focal_px
        Shape that broadcasts with ``S``.
    principal_px
        (2,).

    Returns
    -------
    numpy.ndarray
        ``S + (3,)`` with the last component 1.
    """
    slope = (image_px - principal_px) / np.asarray(focal_px)[..., None]
    return np.concatenate([slope, np.ones_like(slope[..., :1])], axis=-1)


def plane_depth_m(
    ray_camera: FloatArray, rotation: FloatArray, camera_height_m: FloatArray, level_m: float = 0.0
) -> FloatArray:
    """Depth along the optical axis at which a ray meets the level plane at a height.

    Parameters
    ----------
    ray_camera
        ``S + (3,)`` rays of depth 1 in camera axes.
    rotation
        ``S + (3, 3)`` from `field_from_camera`.
    camera_height_m
        Height of the optical centre above the ground.
    level_m
        Height of the plane above the ground.

    Returns
    -------
    numpy.ndarray
        ``S`` depth in m; NaN where the ray does not go down to the plane.
    """
    descent = -np.sum(rotation[..., 2, :] * ray_camera, axis=-1)
    with np.errstate(divide="ignore", invalid="ignore"):
        depth = (camera_height_m - level_m) / descent
    return np.asarray(np.where(descent > 1e-6, depth, np.nan))


def to_field(points_camera_m: FloatArray, rotation: FloatArray, height_m: FloatArray) -> FloatArray:
    """Turn points from camera axes into field axes.

    Parameters
    ----------
    points_camera_m
        ``S + (3,)``.
    rotation
        ``S + (3, 3)`` from `field_from_camera`.
    height_m
        Camera height, broadcasting with ``S``.

    Returns
    -------
    numpy.ndarray
        ``S + (3,)`` in m.
    """
    points = np.matmul(rotation, points_camera_m[..., None])[..., 0]
    points[..., 2] += height_m
    return np.asarray(points)


def ground_point_m(
    image_px: FloatArray,
    *,
    focal_px: FloatArray,
    principal_px: FloatArray,
    pitch_deg: FloatArray,
    roll_deg: FloatArray,
    height_m: FloatArray,
    level_m: float = 0.0,
) -> FloatArray:
    """Point of the level plane at `level_m` that is seen at an image point.

    Parameters
    ----------
    image_px
        ``S + (2,)``.
    focal_px, pitch_deg, roll_deg, height_m
        The camera; shapes broadcast with ``S``.
    principal_px
        (2,).
    level_m
        Height of the plane above the ground, m.

    Returns
    -------
    numpy.ndarray
        ``S + (3,)`` in field axes, m; NaN above the horizon.
    """
    rotation = field_from_camera(pitch_deg, roll_deg)
    direction = ray(image_px, focal_px, principal_px)
    depth = plane_depth_m(direction, rotation, height_m, level_m)
    return to_field(direction * depth[..., None], rotation, height_m)


def project_px(
    points_field_m: FloatArray,
    *,
    focal_px: FloatArray,
    principal_px: FloatArray,
    pitch_deg: FloatArray,
    roll_deg: FloatArray,
    height_m: FloatArray,
) -> FloatArray:
    """Image of points given in field axes.

    Parameters
    ----------
    points_field_m
        ``S + (3,)``.
    focal_px, pitch_deg, roll_deg, height_m
        The camera; shapes broadcast with ``S``.
    principal_px
        (2,).

    Returns
    -------
    numpy.ndarray
        ``S + (2,)`` in px; NaN behind the camera.
    """
    rotation = field_from_camera(pitch_deg, roll_deg)
    offset = np.array(points_field_m, dtype=float)
    offset[..., 2] -= height_m
    points = np.matmul(np.swapaxes(rotation, -1, -2), offset[..., None])[..., 0]
    depth = np.where(points[..., 2:] > 1e-6, points[..., 2:], np.nan)
    return np.asarray(points[..., :2] / depth * np.asarray(focal_px)[..., None] + principal_px)
