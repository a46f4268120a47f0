"""Where the camera of an entry stands, which marks it sees, and how far back portrait goes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from .camera import Camera, look
from .entry import ClipEntry
from .scene import Scene, ground_marks

Floats = NDArray[np.float64]

LEAST_MARKS = 5
MARGIN = 0.03
"""Share of the picture's width and height that stays free round the players in portrait."""
FARTHEST_PULL = 3.0


def scene_of(entry: ClipEntry) -> Scene:
    """Return what stands in the field of an entry."""
    return Scene(
        goal=entry.goal,
        crease=entry.crease,
        cones_m=entry.cones_m(),
        sun=entry.sun,
        grass=entry.grass,
        seed=entry.order.seed,
    )


def camera_of(entry: ClipEntry, pull: float = 1.0) -> Camera:
    """Return the camera of an entry, ``pull`` times as far from the middle of the action."""
    x, y, height = entry.camera_m()
    centre = entry.centre_m()
    if pull != 1.0:
        x, y = (round(c + pull * (p - c), 2) for c, p in zip(centre, (x, y), strict=True))
    return look(
        size_px=entry.size_px,
        fov_long_side_deg=entry.view.fov_deg,
        position_m=(x, y, height),
        target_m=(*centre, entry.view.aim_height_m),
        roll_deg=entry.view.roll_deg,
    )


def marks_in_picture(
    scene: Scene, camera: Camera, margin_px: float = 0.0
) -> list[tuple[str, tuple[float, float, float], Floats]]:
    """Return name, place (field frame) and px of every mark that lies inside the picture."""
    width, height = camera.size_px
    found = []
    for name, place in ground_marks(scene):
        px, depth = camera.project(np.asarray(place))
        inside = margin_px <= px[0] < width - margin_px and margin_px <= px[1] < height - margin_px
        if depth > 0.3 and inside:
            found.append((name, place, px))
    return found


def holds_all(camera: Camera, points_m: Iterable[Floats]) -> bool:
    """Whether all points lie inside the picture, `MARGIN` of its size from its edges."""
    size = np.asarray(camera.size_px, dtype=float)
    for points in points_m:
        px, depth = camera.project(points)
        share = px / size
        if depth.min() < 0.3 or share.min() < MARGIN or share.max() > 1 - MARGIN:
            return False
    return True


def pulled_back(entry: ClipEntry, points_m: list[Floats]) -> Camera:
    """Return the camera just so far back that players and enough marks are inside the picture.

    Raises
    ------
    ValueError
        If even `FARTHEST_PULL` times the distance is not enough.
    """
    scene = scene_of(entry)
    for pull in np.arange(1.0, FARTHEST_PULL, 0.05):
        camera = camera_of(entry, float(pull))
        if len(marks_in_picture(scene, camera)) >= LEAST_MARKS and holds_all(camera, points_m):
            return camera
    message = f"{entry.name}: players and {LEAST_MARKS} marks do not fit into the picture"
    raise ValueError(message)


def upright(entry: ClipEntry) -> ClipEntry:
    """Return the entry with a portrait picture."""
    short, long = sorted(entry.size_px)
    return replace(entry, size_px=(short, long))
