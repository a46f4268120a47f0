"""Suggests marks by colour and shape: feet of cones and points of a goal.

A suggestion becomes a mark only when a person clicks it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from pipeline.web.field.colours import WORKING_SIDE_PX, cone_masks, pipe_masks, working_picture
from pipeline.web.field.goal_detection import find_goal

ProposedKind = Literal[
    "cone_foot",
    "goal_left_post_foot",
    "goal_right_post_foot",
    "goal_left_crossbar_corner",
    "goal_right_crossbar_corner",
]

GOAL_KINDS: tuple[ProposedKind, ...] = (
    "goal_left_post_foot",
    "goal_right_post_foot",
    "goal_left_crossbar_corner",
    "goal_right_crossbar_corner",
)

MOST_CONES = 24

_HEIGHT_RANGE_PX = (5, 0.2 * WORKING_SIDE_PX)
"""Range of a cone's height in the working picture."""
_WIDTH_TO_HEIGHT = (0.35, 4.5)
"""From a tall cone to a flat disc."""
_LEAST_SOLID = 0.85
"""Share of its hull that a cone fills, after half a pixel of tolerance along the edge."""
_LEAST_TAPER = 1.25
"""Least ratio of the width near the foot to the width near the top."""
_GREATEST_LEAN = 0.2
"""Greatest offset of the top from the middle of the foot, as a share of the foot's width."""
_MOST_OF_A_SIDE = 0.5
"""Greatest share of each side of a cone that may have its colour."""
_LIGHT_APART, _HUE_APART = 80.0, 12.0
"""Greatest difference of the ground around a cone (shadow, a line), in Lab of 0 to 255."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """A suggested mark.

    Attributes
    ----------
    kind
        What the point may be; left and right as in the picture.
    image_px
        (x, y) from the left and the top edge of the upright picture.
    """

    kind: ProposedKind
    image_px: tuple[float, float]


def propose_marks(rgb: npt.NDArray[np.uint8]) -> tuple[Proposal, ...]:
    """Find cones and a goal.

    Parameters
    ----------
    rgb
        (height, width, 3) upright picture.

    Returns
    -------
    tuple of Proposal
        All four points of a goal or none of them, then the cones, the lowest first.
    """
    small, scale = working_picture(rgb)
    found: list[Proposal] = []
    corners = next(filter(None, (find_goal(mask) for mask in pipe_masks(small))), None)
    if corners is not None:
        found += [
            Proposal(kind=kind, image_px=_on_picture(point, scale))
            for kind, point in zip(GOAL_KINDS, corners, strict=True)
        ]
    feet = sorted(_cone_feet(small), key=lambda foot: -foot[1])
    found += [
        Proposal(kind="cone_foot", image_px=_on_picture(foot, scale)) for foot in feet[:MOST_CONES]
    ]
    return tuple(found)


def _on_picture(point: npt.ArrayLike, scale: float) -> tuple[float, float]:
    x_px, y_px = np.asarray(point, dtype=float) / scale
    return round(float(x_px), 1), round(float(y_px), 1)


def _cone_feet(rgb: npt.NDArray[np.uint8]) -> Iterator[tuple[float, float]]:
    """Yield the middle of the foot of each cone."""
    import cv2

    lab = np.asarray(cv2.cvtColor(rgb, cv2.COLOR_RGB2LAB), dtype=np.uint8)
    for mask in cone_masks(rgb):
        n_pieces, labels, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=8)
        for piece in range(1, n_pieces):
            x, y, width, height, area = (int(number) for number in stats[piece])
            low, high = _HEIGHT_RANGE_PX
            if not (low <= height <= high and area >= 0.4 * width * height):
                continue
            if not _WIDTH_TO_HEIGHT[0] <= width / height <= _WIDTH_TO_HEIGHT[1]:
                continue
            shape = labels[y : y + height, x : x + width] == piece
            foot = _foot_of_cone(shape)
            if foot is not None and _stands_on_ground(mask, lab, (x, y, width, height)):
                yield x + foot[0], y + foot[1]


def _foot_of_cone(shape: npt.NDArray[np.bool_]) -> tuple[float, float] | None:
    """Middle of the foot of a shape (height, width); None if the shape is not a cone's."""
    import cv2

    outline, _ = cv2.findContours(shape.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    hull = cv2.convexHull(outline[0])
    full = np.zeros(shape.shape, np.uint8)
    cv2.fillConvexPoly(full, hull, 1)
    # Video stores colour at half the resolution, which makes the edge rough.
    if shape.sum() + 0.5 * cv2.arcLength(hull, True) < _LEAST_SOLID * full.sum():
        return None
    height, width = shape.shape
    rows = np.flatnonzero(shape.any(axis=1))
    left = shape.argmax(axis=1)
    right = width - shape[:, ::-1].argmax(axis=1)
    across = np.where(shape.any(axis=1), right - left, 0)
    upper, lower = across[: max(height // 3, 1)], across[-max(height // 3, 1) :]
    if lower.max() < _LEAST_TAPER * np.mean(upper):
        return None
    middle = (left + right) / 2
    n_end = max(height // 5, 1)
    foot_x = 0.5 * width
    if abs(np.mean(middle[rows[:n_end]]) - foot_x) > _GREATEST_LEAN * width:
        return None
    # The foot's ends are its outermost points, for a line and for an ellipse. A tilted camera makes
    # one end lower than the other.
    end_rows = [np.flatnonzero(shape[:, column]) for column in (0, width - 1)]
    if min(ends.max() for ends in end_rows) < 0.5 * height:
        return None
    return foot_x, float(np.mean([ends.max() for ends in end_rows])) + 0.5


def _stands_on_ground(
    mask: npt.NDArray[np.uint8], lab: npt.NDArray[np.uint8], box: tuple[int, int, int, int]
) -> bool:
    """Whether a box has other colours around it, and the same ground on three sides.

    A knee or a sleeve may have the colour and outline of a cone, but not grass on three sides.
    """
    x, y, width, height = box
    out = max(2, round(0.2 * max(width, height)))
    low = y + height // 2
    left = np.s_[low : y + height, max(x - out, 0) : x]
    right = np.s_[low : y + height, x + width : x + width + out]
    below = np.s_[y + height + 1 : y + height + 1 + out, x : x + width]
    above = np.s_[max(y - out, 0) : y, x : x + width]
    for side in (left, right, below, above):
        if mask[side].size == 0 or np.mean(mask[side] > 0) > _MOST_OF_A_SIDE:
            return False
    colours = [np.median(lab[side].reshape(-1, 3), axis=0) for side in (left, right, below)]
    apart = np.ptp(np.array(colours), axis=0)  # light, a and b
    return bool(apart[0] <= _LIGHT_APART and max(apart[1:]) <= _HUE_APART)
