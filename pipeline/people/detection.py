"""Looks for people who are not followed yet: the whole picture at first, then a tile at a time."""

from __future__ import annotations

import numpy as np

from pipeline.film.container import Picture
from pipeline.people.body import NOSE, TRUNK, centre_px, could_be_a_body, length_px, same_body
from pipeline.people.person import HALF_WINDOW
from pipeline.people.pose_model import Pose, PoseFinder, Window

TILE_SHARES = (1.0, 0.55, 0.32)
"""Sides of the tiles of a first search, in parts of the longer side of the picture.

The detector sees a tile at 224 px, where a body should be some 50 px tall or more.
"""
TILE_LENGTHS = 2.2
"""Side of a tile in body lengths, once the size of the people in this film is known."""


def first_tiles(width_px: int, height_px: int) -> list[Window]:
    """Return overlapping tiles that cover the whole picture, from large to small."""
    tiles: list[Window] = []
    for share in TILE_SHARES:
        side = max(round(share * max(width_px, height_px)), 16)
        tiles += [
            Window(left, top, side)
            for top in _starts(height_px, side)
            for left in _starts(width_px, side)
        ]
    return tiles


def later_tiles(width_px: int, height_px: int, like: Pose) -> list[Window]:
    """Return a row of tiles at the height and for the size of someone already found."""
    side = min(max(round(TILE_LENGTHS * length_px(like)), 16), max(width_px, height_px))
    top = round(float(centre_px(like)[1]) - side / 2)
    return [Window(left, top, side) for left in _starts(width_px, side)]


def _starts(length: int, side: int) -> list[int]:
    """Return where tiles of a side begin, to cover a length with a third of overlap at least."""
    if side >= length:
        return [(length - side) // 2]
    n_tiles = int(np.ceil((length - side) / (side * 0.66))) + 1
    return [round(start) for start in np.linspace(0, length - side, n_tiles).tolist()]


def find_people(
    rgb: Picture, tiles: list[Window], known: list[Pose], finder: PoseFinder
) -> list[Pose]:
    """Return people in some tiles of a picture who are not among the known, each looked at twice.

    The second look, at a window around the first find, must see the same body: a find on a
    goal post or a small skeleton inside a body does not pass.

    Parameters
    ----------
    rgb
        The picture.
    tiles
        Where to look.
    known
        Poses of those already followed.
    finder
        Pose finder; should find two people or more in one tile.
    """
    height, width = rgb.shape[:2]
    found: list[Pose] = []
    for tile in tiles:
        for first in finder.find(hide(tile.cut(rgb), tile, [*known, *found]), tile):
            if not could_be_a_body(first, width, height):
                continue
            if any(_near(first, other) for other in [*known, *found]):
                continue
            window = Window.around(centre_px(first), 1.3 * HALF_WINDOW * length_px(first))
            for second in finder.find(window.cut(rgb), window):
                agrees = np.linalg.norm(centre_px(second) - centre_px(first)) < 0.2 * length_px(
                    first
                )
                alike = 0.6 < length_px(second) / length_px(first) < 1.7
                known_already = any(_near(second, other) for other in [*known, *found])
                if (
                    agrees
                    and alike
                    and could_be_a_body(second, width, height)
                    and not known_already
                ):
                    found.append(second)
                    break
    return found


def hide(region: Picture, window: Window, bodies: list[Pose]) -> Picture:
    """Paint grey, in place, over head and trunk of bodies that are not to be found in a region."""
    for body in bodies:
        points = body.image_px[[NOSE, *TRUNK]] - (window.left_px, window.top_px)
        margin = 0.06 * length_px(body)
        left, top = np.maximum(points.min(axis=0) - margin, 0).astype(int)
        right, bottom = np.maximum(points.max(axis=0) + margin, 0).astype(int)
        region[top:bottom, left:right] = 114
    return region


def _near(a: Pose, b: Pose) -> bool:
    """Tell whether two poses may be of one body, or one is a small skeleton inside the other."""
    apart = float(np.linalg.norm(centre_px(a) - centre_px(b)))
    return same_body(a, b) or apart < 0.13 * max(length_px(a), length_px(b))
