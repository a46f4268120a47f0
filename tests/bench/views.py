"""Calibrated views of one scene: pixels to points and back."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import Any

import numpy as np

from pipeline.core.types import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """One camera: ``X_cam = R X + T``, and the way from its calibration picture to the film.

    Attributes
    ----------
    matrix, distortion
        (3, 3) and (4,) in OpenCV's order, of the calibration picture.
    rotation, translation_m
        (3, 3) and (3,).
    to_film
        (2, 3) affine map from the calibration picture to the film.
    """

    matrix: FloatArray
    distortion: FloatArray
    rotation: FloatArray
    translation_m: FloatArray
    to_film: FloatArray

    def rays(self, film_px: FloatArray) -> FloatArray:
        """Give x/z and y/z of film pixels, ``S + (2,)``."""
        import cv2

        inverse = np.linalg.inv(self.to_film[:, :2])
        picture_px = (film_px.reshape(-1, 2) - self.to_film[:, 2]) @ inverse.T
        known = np.isfinite(picture_px).all(axis=1)
        rays = np.full_like(picture_px, np.nan)
        if not known.any():
            return rays.reshape(film_px.shape)
        rays[known] = cv2.undistortPoints(
            picture_px[known, None].astype(float), self.matrix, self.distortion
        )[:, 0]
        return rays.reshape(film_px.shape)

    def pixels(self, points_m: FloatArray) -> FloatArray:
        """Give film pixels of points, ``S + (2,)``."""
        import cv2

        flat = points_m.reshape(-1, 3)
        known = np.isfinite(flat).all(axis=1)
        px = np.full((len(flat), 2), np.nan)
        if not known.any():
            return px.reshape(*points_m.shape[:-1], 2)
        turn = cv2.Rodrigues(self.rotation)[0]
        picture_px = cv2.projectPoints(
            flat[known].astype(float), turn, self.translation_m, self.matrix, self.distortion
        )[0][:, 0]
        px[known] = picture_px @ self.to_film[:, :2].T + self.to_film[:, 2]
        return px.reshape(*points_m.shape[:-1], 2)


def views_of(table: dict[str, Any], scene: str) -> dict[str, View]:
    """Read the views of a scene from the table of cameras."""
    return {
        name: View(
            matrix=np.array(camera["K"]),
            distortion=np.array(camera["D"]),
            rotation=np.array(camera["R"]),
            translation_m=np.array(camera["T"]),
            to_film=np.array(camera["picture_to_film"][scene]),
        )
        for name, camera in sorted(table["cameras"].items())
    }


def best_agreement(people: list[list[FloatArray]], views: list[View]) -> FloatArray:
    """Choose of the people found in each view those who fit one body best.

    Parameters
    ----------
    people
        Of each view, (n_frames, 23, 2) film pixels of each person.
    views
        The cameras.

    Returns
    -------
    numpy.ndarray
        (n_views, n_frames, 23, 2) film pixels.

    Raises
    ------
    ValueError
        Nobody was found in a view.
    """
    if not all(people):
        raise ValueError("nobody was found in a view")
    n_frames = min(len(person) for found in people for person in found)

    def misfit_px(seen: FloatArray) -> float:
        off = seen - pixels_of(triangulate(seen, views), views)
        return float(np.nanmedian(np.linalg.norm(off, axis=-1)))

    choices = (np.stack([person[:n_frames] for person in each]) for each in product(*people))
    return min(choices, key=misfit_px)


def triangulate(seen_px: FloatArray, views: list[View]) -> FloatArray:
    """Points nearest to their rays (linear triangulation, Hartley and Zisserman 2004, 12.2).

    Parameters
    ----------
    seen_px
        ``(n_views,) + S + (2,)`` film pixels.
    views
        The cameras.

    Returns
    -------
    numpy.ndarray
        ``S + (3,)``; NaN where fewer than two views have the point.
    """
    rows, sides = [], []
    for px, view in zip(seen_px, views, strict=True):
        rays = view.rays(px)
        known = np.isfinite(rays).all(axis=-1, keepdims=True)
        for axis in (0, 1):
            row = view.rotation[axis] - rays[..., axis, None] * view.rotation[2]
            side = rays[..., axis] * view.translation_m[2] - view.translation_m[axis]
            rows.append(np.where(known, row, 0.0))
            sides.append(np.where(known[..., 0], side, 0.0))
    matrix, side = np.stack(rows, axis=-2), np.stack(sides, axis=-1)
    normal = np.swapaxes(matrix, -1, -2) @ matrix
    right = (np.swapaxes(matrix, -1, -2) @ side[..., None])[..., 0]
    few = np.linalg.matrix_rank(normal) < 3
    points = np.linalg.solve(np.where(few[..., None, None], np.eye(3), normal), right[..., None])
    return np.where(few[..., None], np.nan, points[..., 0])


def pixels_of(points_m: FloatArray, views: list[View]) -> FloatArray:
    """Film pixels of points in each view, ``(n_views,) + S + (2,)``."""
    return np.stack([view.pixels(points_m) for view in views])
