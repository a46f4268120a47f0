"""Points of the steadied picture on the film as it is shown, and back."""

from __future__ import annotations

import numpy as np

from calibration.camera import project_px
from calibration.lens_profile import distort_px, undistort_px
from calibration.turned_view import moved_points
from pipeline.core.types import FloatArray, SmoothTracks
from pipeline.film.stabilise import shaken
from pipeline.film.undistort import on_film
from pipeline.scene.placed_clip import SeenClip


def steadied_px(seen: SeenClip, frame: int, film_px: FloatArray) -> FloatArray:
    """Carry a point (2,) of a frame of the film to where the tracks are."""
    point = film_px if seen.lens is None else undistort_px(seen.lens, film_px)
    if seen.steady.to_film is not None:
        point = moved_points(np.linalg.inv(seen.steady.to_film[frame]), point[None])[0]
    return np.asarray(point)


def filmed(seen: SeenClip, smooth: SmoothTracks) -> SmoothTracks:
    """Carry clean joints to where each frame of the film shows them."""
    return on_film(shaken(smooth, seen.steady.to_film), seen.lens)


def field_on_film(seen: SeenClip, frame: int, points_m: FloatArray) -> FloatArray:
    """(n, 2) where a frame of the film shows points (n, 3) of the field, by the best camera."""
    scene = seen.scene
    points_px = project_px(
        points_m,
        focal_px=scene.focal_px[0],
        principal_px=scene.principal_px,
        pitch_deg=scene.pitch_deg[0],
        roll_deg=scene.roll_deg[0],
        height_m=scene.height_m[0],
    )
    if seen.steady.to_film is not None:
        points_px = moved_points(seen.steady.to_film[frame], points_px)
    if scene.lens is not None:
        points_px = distort_px(scene.lens, points_px)
    return np.asarray(points_px)
