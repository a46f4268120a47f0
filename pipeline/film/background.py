"""Follows the background of a film in small grey pictures: corners, and what most of them do."""

from __future__ import annotations

from dataclasses import dataclass
from typing import cast

import numpy as np
import numpy.typing as npt

from calibration.turned_view import NO_TURN, fit_turn, moved_points, turned
from pipeline.core.types import BoolArray, FloatArray
from pipeline.film.container import Picture

SmallPicture = npt.NDArray[np.uint8]

SMALL_SIDE_PX = 320
"""Longer side of the small picture; one of its pixels is 4 of a film of 1280 x 720."""
CELLS = (6, 4)
CORNERS_PER_CELL = 6
"""As many corners from each part of the picture, so that area has the majority and not texture."""
FEWEST_CORNERS = 12
FEWEST_CELLS = 4
"""Corners in fewer cells may all lie on one thing that moves."""
CORNER_QUALITY = 0.02
CORNER_DISTANCE_PX = 7
LOCAL_MEAN_PX = 31
"""What is smoother than this, light and the edges of shadows above all, is taken away."""
SEARCH_PX = 11
SEARCH_LEVELS = 3
"""Side of the patch that is followed, and how often the picture is halved."""
RETURN_PX = 0.5
"""A corner that is followed there and back must come back this near, in pixels of the small one."""
TOGETHER_PX = 1.0
"""Corners within this of the common movement take part in it, in pixels of the small picture."""
MAJORITY = 0.5
"""The common movement is the camera's only if so many of the corners that are followed share it."""
RENEW_SHARE = 0.3
RENEW_WAY = 0.15
"""The picture that corners are followed from is renewed when fewer of them are left, or when it
lies further off, in parts of the longer side. Each renewal adds a small error of its own."""
GUESSED_FOCAL = 0.785
"""Focal length of a typical phone's film, 65 degrees along the long side, in long sides."""
WILD_PX = 0.5
"""Corners further off than this from the common turn take less part in it, small px."""
AS_EXPECTED = 0.8
"""So many corners near where they were expected need no search for what the majority does."""
BEND = 0.25
"""A turn that was not expected moves the edge by this much more than the middle."""
MISFIT_QUANTILE = 0.75
"""What moves of its own, or lies at the edge, is in fewer cells of the picture than the rest."""
BODY_MARGIN = 0.3
"""Room around the landmarks of a body for hands, stick and shadow, in parts of its height."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Movement:
    """What the camera did to its picture.

    Attributes
    ----------
    homography
        (3, 3) from points of the first picture of the film to points of this one, small px.
    misfit_px
        How far the parts of the background lie from where a camera that only turns would have put
        them (`MISFIT_QUANTILE` of the cells of the picture), small px: 0.05 or so by the noise of
        following alone, more where the camera travelled, so that near things moved before far ones.
    """

    homography: FloatArray
    misfit_px: float


NO_MOVEMENT = Movement(homography=np.eye(3), misfit_px=0.0)


class Background:
    """A picture with corners of its background, and where it lies itself.

    Attributes
    ----------
    moved
        From the first picture of the film to this one.
    worn
        Whether it is time for another one: too few of the corners took part in the last movement,
        or it led too far away. A camera that stands still keeps its first one.
    """

    def __init__(self, small: SmallPicture, corners: FloatArray, moved: Movement) -> None:
        self.moved = moved
        self.worn = False
        self._small = small
        self._corners = corners
        self._last: FloatArray = NO_TURN
        self._middle = 0.5 * np.array(small.shape[::-1])
        self._focal_px = GUESSED_FOCAL * max(small.shape)

    @classmethod
    def of(cls, small: SmallPicture, bodies: FloatArray, moved: Movement) -> Background | None:
        """Take a picture for a reference; None when it has too little texture."""
        corners = _corners(small, bodies)
        if len(corners) < FEWEST_CORNERS or _n_cells(corners, small) < FEWEST_CELLS:
            return None
        return cls(small, corners, moved)

    def movement_to(self, small: SmallPicture, bodies: FloatArray) -> Movement | None:
        """Return the movement from the first picture of the film to a later one, or None.

        Corners are looked for where the last movement puts them; failing that, where the two
        pictures as wholes lie best on each other, which finds a quick pan.
        """
        found = self._step(small, bodies, self._last)
        if found is None:
            found = self._step(small, bodies, _overall_shift(self._small, small))
        if found is None:
            return None
        turn, misfit_px = found
        self._last = turn
        away_px = float(np.hypot(turn[0], turn[1]))
        self.worn = self.worn or away_px > RENEW_WAY * max(small.shape)
        return Movement(
            homography=turned(turn, self._focal_px, self._middle) @ self.moved.homography,
            misfit_px=float(np.hypot(misfit_px, self.moved.misfit_px)),
        )

    def _step(
        self, small: SmallPicture, bodies: FloatArray, guess: FloatArray
    ) -> tuple[FloatArray, float] | None:
        """Return turn and misfit from this picture to a later one, looked for by a guess."""
        expected = moved_points(turned(guess, self._focal_px, self._middle), self._corners)
        expected = np.where(np.isfinite(expected), expected, self._corners)
        start, end, expected = _followed(self._small, small, self._corners, expected)
        open_to_view = ~_inside(end, bodies)
        start, end, expected = start[open_to_view], end[open_to_view], expected[open_to_view]
        if len(start) < FEWEST_CORNERS:
            return None
        shared = _together(expected, end)
        turn = guess
        for _ in range(2):  # the majority's turn, then that of all who share it
            if shared.sum() < FEWEST_CORNERS:
                return None
            turn = fit_turn(
                start[shared], end[shared], turn,
                focal_px=self._focal_px, middle_px=self._middle, wild_px=WILD_PX,
            )  # fmt: skip
            off = end - moved_points(turned(turn, self._focal_px, self._middle), start)
            majority, shared = shared, np.linalg.norm(off, axis=-1) < TOGETHER_PX
            if (majority == shared).all():
                break
        if shared.sum() < max(FEWEST_CORNERS, MAJORITY * len(start)):
            return None
        if _n_cells(end[shared], small) < FEWEST_CELLS:
            return None
        self.worn = bool(shared.sum() < RENEW_SHARE * len(self._corners))
        return turn, _misfit_px(off, _cells_of(start, small))


def small_picture(rgb: Picture) -> tuple[SmallPicture, float]:
    """Return the small grey picture without what is smooth in it, and its scale."""
    import cv2

    height, width = rgb.shape[:2]
    scale = min(1.0, SMALL_SIDE_PX / max(height, width))
    size = (max(round(width * scale), 1), max(round(height * scale), 1))
    # Green alone, and at least four of its pixels in each small one: a tenth of the time.
    step = max(int(0.5 / scale), 1)
    green = np.ascontiguousarray(rgb[::step, ::step, 1])
    grey = cv2.resize(green, size, interpolation=cv2.INTER_AREA)
    smooth = cv2.blur(grey, (LOCAL_MEAN_PX, LOCAL_MEAN_PX))
    return np.asarray(cv2.addWeighted(grey, 1.0, smooth, -1.0, 128.0), np.uint8), scale


def body_boxes(bodies: FloatArray) -> FloatArray:
    """(n_people, 4) left, top, right and bottom of boxes around bodies, with a margin."""
    low, high = bodies.min(axis=1), bodies.max(axis=1)
    margin = BODY_MARGIN * (high[:, 1:] - low[:, 1:])
    return np.concatenate([low - margin, high + margin], axis=1)


def _inside(points: FloatArray, boxes: FloatArray) -> BoolArray:
    """(n_points,) true for points that lie in one of the boxes."""
    inside = (points[:, None] >= boxes[None, :, :2]) & (points[:, None] <= boxes[None, :, 2:])
    return np.asarray(inside.all(axis=-1).any(axis=-1))


def _cells_of(points: FloatArray, small: SmallPicture) -> npt.NDArray[np.intp]:
    """(n_points,) number of the cell of the picture in which each point lies."""
    place = points / (small.shape[1], small.shape[0]) * CELLS
    columns, rows = np.clip(place.astype(int), 0, np.array(CELLS) - 1).T
    return np.asarray(rows * CELLS[0] + columns, np.intp)


def _n_cells(points: FloatArray, small: SmallPicture) -> int:
    """Count the cells in which at least one point lies."""
    return int(np.unique(_cells_of(points, small)).size)


def _corners(small: SmallPicture, bodies: FloatArray) -> FloatArray:
    """(n_corners, 2) the strongest corners of each cell that lie outside all bodies."""
    import cv2

    most = CELLS[0] * CELLS[1] * CORNERS_PER_CELL
    found = cast(
        "FloatArray | None",  # its stub promises an array, but there is none without a corner
        cv2.goodFeaturesToTrack(small, 3 * most, CORNER_QUALITY, CORNER_DISTANCE_PX),
    )
    if found is None:
        return np.empty((0, 2), np.float32)
    corners = np.asarray(found, np.float32).reshape(-1, 2)
    corners = corners[~_inside(corners, bodies)]
    cells = _cells_of(corners, small)
    kept = np.zeros(len(corners), bool)
    for cell in np.unique(cells):
        kept[np.flatnonzero(cells == cell)[:CORNERS_PER_CELL]] = True  # strongest first
    return np.asarray(corners[kept])


def _together(expected: FloatArray, end: FloatArray) -> BoolArray:
    """(n_points,) true for points that moved together, beyond what was expected of them."""
    import cv2

    apart_px = np.linalg.norm(end - expected, axis=-1)
    if np.mean(apart_px < TOGETHER_PX) > AS_EXPECTED:
        return np.asarray(apart_px < TOGETHER_PX)
    # A turn that was not expected bends the picture as well: give a little.
    bend_px = BEND * float(np.median(apart_px))
    _, together = cast(
        "tuple[FloatArray | None, BoolArray]",
        cv2.estimateAffinePartial2D(
            np.asarray(expected, np.float32), np.asarray(end, np.float32),
            method=cv2.RANSAC, ransacReprojThreshold=TOGETHER_PX + bend_px,
        ),
    )  # fmt: skip
    return np.asarray(together, bool).ravel()


def _misfit_px(off: FloatArray, cells: npt.NDArray[np.intp]) -> float:
    """How far three quarters of the cells of the picture are off at most."""
    count = np.bincount(cells)
    mean = [np.bincount(cells, off[:, axis])[count > 0] / count[count > 0] for axis in (0, 1)]
    return float(np.quantile(np.hypot(*mean), MISFIT_QUANTILE))


def _overall_shift(before: SmallPicture, after: SmallPicture) -> FloatArray:
    """(5,) turn that lays one picture best on another, by phase correlation."""
    import cv2

    window = cv2.createHanningWindow((before.shape[1], before.shape[0]), cv2.CV_32F)
    shift, _ = cv2.phaseCorrelate(before.astype(np.float32), after.astype(np.float32), window)
    return np.array([*shift, *NO_TURN[2:]])


def _followed(
    before: SmallPicture, after: SmallPicture, corners: FloatArray, expected: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return corners, where they went and were expected, of those that lead back to their start."""
    import cv2

    patch = (SEARCH_PX, SEARCH_PX)
    start = np.asarray(corners, np.float32)
    flags = cv2.OPTFLOW_USE_INITIAL_FLOW
    end, there, _ = cv2.calcOpticalFlowPyrLK(
        before, after, start, np.array(expected, np.float32),
        winSize=patch, maxLevel=SEARCH_LEVELS, flags=flags,
    )  # fmt: skip
    back, here, _ = cv2.calcOpticalFlowPyrLK(
        after, before, end, start.copy(), winSize=patch, maxLevel=SEARCH_LEVELS, flags=flags
    )
    sound = (there.ravel() == 1) & (here.ravel() == 1)
    sound &= np.linalg.norm(back - start, axis=1) < RETURN_PX
    return start[sound], end[sound], expected[sound]
