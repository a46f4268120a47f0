"""Views of the calibration board: found in pictures, judged for sharpness, chosen for variety."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from calibration.board import N_COLUMNS, charuco_board
from pipeline.core.types import FloatArray

IntArray = npt.NDArray[np.integer]

FEWEST_CORNERS = 12
"""A quarter of the board; fewer do not show its tilt."""

FEWEST_LINES = 3
"""Rows and columns of corners that must be seen for a view to lie in no line."""

USUAL_FOCAL_OF_LONG_SIDE = 0.785
"""Focal length of a phone that sees 65 degrees along the long side; enough to estimate tilts."""

_CORNERS_ACROSS = N_COLUMNS - 1
_EDGES = 3.1
_SMOOTHED_PX = 1.0
_ALIKE = 0.04
_SHARE_OF_SIZE = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardView:
    """The board in one picture.

    Attributes
    ----------
    frame
        Number of the frame.
    corner
        (n,) numbers of the inner corners that were found, row by row.
    image_px
        (n, 2) where they lie, from the left and top edge of the picture.
    square_px
        Side of a square in the picture, along the less shortened of its two directions.
    blur_px
        Standard deviation of the blur over the board.
    """

    frame: int
    corner: IntArray
    image_px: FloatArray
    square_px: float
    blur_px: float

    @property
    def board_squares(self) -> FloatArray:
        """(n, 3) the corners on the board, in squares; the third is 0."""
        down, across = np.divmod(self.corner, _CORNERS_ACROSS)
        return np.stack([across + 1.0, down + 1.0, 0.0 * across], axis=-1)


class BoardFinder:
    """Finds the board in one picture after the other."""

    def __init__(self) -> None:
        import cv2

        self._detector: Any = cv2.aruco.CharucoDetector(charuco_board())

    def find(self, grey: npt.NDArray[np.uint8], frame: int) -> BoardView | None:
        """Look for the board.

        Parameters
        ----------
        grey
            (height, width) picture.
        frame
            Its number.

        Returns
        -------
        BoardView or None
            None when too little of the board is seen to be of use.
        """
        found_px, numbers, _, _ = self._detector.detectBoard(grey)
        if numbers is None or len(numbers) < FEWEST_CORNERS:
            return None
        corner = np.asarray(numbers).ravel().astype(int)
        image_px = np.asarray(found_px, float).reshape(-1, 2)
        lines = np.divmod(corner, _CORNERS_ACROSS)
        if min(np.unique(line).size for line in lines) < FEWEST_LINES:
            return None
        square_px = _square_px(corner, image_px)
        if not math.isfinite(square_px):
            return None
        return BoardView(
            frame=frame,
            corner=corner,
            # OpenCV counts from the middle of the first pixel.
            image_px=image_px + 0.5,
            square_px=square_px,
            blur_px=blur_px(_cut_out(grey, image_px), square_px),
        )


def picture_sharpness(grey: npt.NDArray[np.uint8]) -> float:
    """Sharpness of a picture among others of the same thing: the variance of its Laplacian.

    Parameters
    ----------
    grey
        (height, width).

    Returns
    -------
    float
        Grey levels squared; more is sharper.
    """
    import cv2

    _, deviation = cv2.meanStdDev(cv2.Laplacian(grey, cv2.CV_16S))
    return float(deviation[0, 0] ** 2)


def blur_px(grey: npt.NDArray[np.uint8], square_px: float) -> float:
    """Estimate the standard deviation of the blur in a picture that the board fills.

    A step of height A blurred by a Gaussian of standard deviation s has a second derivative whose
    square integrates to ``A^2 / (4 sqrt(pi) s^3)`` along the line across it. So the variance of the
    second derivative over that of the grey levels is ``edges / (s^3 square)``, where ``edges`` is
    a number of the board's pattern: 3.1, measured on drawn boards. Each derivative is taken by
    itself and the worse one counts, not their sum (the Laplacian), because the blur of a moving
    hand leaves the edges along its way sharp.

    Parameters
    ----------
    grey
        (height, width) cut-out of the board.
    square_px
        Side of a square in it.

    Returns
    -------
    float
        px, to about half of it; infinity for a flat picture.
    """
    import cv2

    # Smoothed first, or the noise of the film would pass for sharp edges.
    smooth = cv2.GaussianBlur(grey.astype(np.float32), (0, 0), _SMOOTHED_PX)
    variance = float(smooth.var())
    across = cv2.filter2D(smooth, -1, np.array([[1.0, -2.0, 1.0]]))
    down = cv2.filter2D(smooth, -1, np.array([[1.0], [-2.0], [1.0]]))
    edges = float(min(across.var(), down.var()))
    if variance <= 0.0 or edges <= 0.0:
        return math.inf
    cubed = _EDGES / square_px * variance / edges
    return math.sqrt(max(cubed ** (2.0 / 3.0) - _SMOOTHED_PX**2, 0.0))


def facing(views: Sequence[BoardView], size_px: tuple[int, int]) -> FloatArray:
    """Give how the board faces in each view, taking the lens for a usual one.

    Parameters
    ----------
    views
        Views of the board.
    size_px
        Width and height of the picture.

    Returns
    -------
    numpy.ndarray
        (n_views, 3) the board's normal in camera axes; its angles are right to about the factor by
        which the focal length is not the usual one.
    """
    import cv2

    focal_px = USUAL_FOCAL_OF_LONG_SIDE * max(size_px)
    matrix = np.array([[focal_px, 0, size_px[0] / 2], [0, focal_px, size_px[1] / 2], [0, 0, 1.0]])
    normals = []
    for view in views:
        _, turn, _ = cv2.solvePnP(
            view.board_squares, view.image_px, matrix, np.zeros(4), flags=cv2.SOLVEPNP_IPPE
        )
        normals.append(cv2.Rodrigues(turn)[0][:, 2])
    return np.reshape(np.asarray(normals, float), (-1, 3))


def widest_angle_deg(normals: FloatArray) -> float:
    """Greatest angle between any two of the boards' normals.

    Parameters
    ----------
    normals
        (n_views, 3) unit vectors.

    Returns
    -------
    float
        Degrees; 0 for fewer than two.
    """
    if len(normals) < 2:
        return 0.0
    return float(np.degrees(np.arccos(np.clip(normals @ normals.T, -1.0, 1.0)).max()))


def choose_views(
    views: Sequence[BoardView], size_px: tuple[int, int], *, most: int
) -> list[BoardView]:
    """Choose views that differ as much as they can in place, size and tilt.

    Starts with the view of most corners and adds, one at a time, the view that is least like all
    those chosen (farthest-point sampling), until the rest are repetitions.

    Parameters
    ----------
    views
        Sharp views.
    size_px
        Width and height of the picture.
    most
        How many at most.

    Returns
    -------
    list of BoardView
        In the order of the film.
    """
    if not views:
        return []
    long_side = max(size_px)
    features = np.array(
        [
            (*(view.image_px.mean(axis=0) / long_side),
             _SHARE_OF_SIZE * math.log(view.square_px), *normal[:2])
            for view, normal in zip(views, facing(views, size_px), strict=True)
        ]
    )  # fmt: skip
    chosen = [int(np.argmax([view.corner.size for view in views]))]
    apart = np.linalg.norm(features - features[chosen[0]], axis=1)
    while len(chosen) < most and apart.max() > _ALIKE:
        chosen.append(int(np.argmax(apart)))
        apart = np.minimum(apart, np.linalg.norm(features - features[chosen[-1]], axis=1))
    return [views[i] for i in sorted(chosen, key=lambda i: views[i].frame)]


def _square_px(corner: IntArray, image_px: FloatArray) -> float:
    """Median distance of neighbouring corners, along the direction in which it is greater."""
    place = {int(number): point for number, point in zip(corner, image_px, strict=True)}
    sides = []
    for step in (1, _CORNERS_ACROSS):
        lengths = [
            float(np.linalg.norm(place[number + step] - place[number]))
            for number in place
            if number + step in place and not (step == 1 and (number + 1) % _CORNERS_ACROSS == 0)
        ]
        if lengths:
            sides.append(float(np.median(lengths)))
    return max(sides, default=math.nan)


def _cut_out(grey: npt.NDArray[np.uint8], image_px: FloatArray) -> npt.NDArray[np.uint8]:
    left, top = np.floor(image_px.min(axis=0)).astype(int)
    right, bottom = np.ceil(image_px.max(axis=0)).astype(int)
    return grey[max(top, 0) : bottom, max(left, 0) : right]
