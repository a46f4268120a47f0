"""Measures a lens from views of the board: focal length, principal point, distortion, or a refusal.

References
----------
.. [1] Z. Zhang, "A flexible new technique for camera calibration", *IEEE Transactions on Pattern
   Analysis and Machine Intelligence* 22(11), 2000, 1330-1334: the method, and that views in which
   the board faces the same way add nothing about the focal length.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import cast

import numpy as np

from calibration.board_views import BoardView, facing, widest_angle_deg
from calibration.lens_checks import check_number, check_result, check_variety, chosen_views, no_fit
from pipeline.core.types import FloatArray, LensProfile, Pair

DROPPED_ABOVE = 2.5
"""A view this many times worse than the middle one does not fit: a bent board, or a shaken hand."""

COVERAGE_CELLS = (8, 6)


@dataclass(frozen=True, slots=True, kw_only=True)
class LensMeasurement:
    """A lens as measured, with what shows how good the film was.

    Attributes
    ----------
    profile
        The result.
    views
        Views that it was solved from.
    view_reprojection_px
        (n_views,) root mean square distance of the corners from where the profile puts them.
    n_dropped
        Views that were left out because they did not fit.
    coverage
        Share of the picture's 8 x 6 cells in which a corner was seen.
    angle_deg
        Greatest angle between two views of the board.
    distance_mm
        Least and greatest distance of the board from the camera.
    """

    profile: LensProfile
    views: tuple[BoardView, ...]
    view_reprojection_px: FloatArray
    n_dropped: int
    coverage: float
    angle_deg: float
    distance_mm: Pair


@dataclass(frozen=True, slots=True)
class _Solution:
    """What OpenCV gives: errors, then parameters in its order, then board places in squares."""

    overall_px: float
    view_px: FloatArray
    matrix: FloatArray
    distortion: FloatArray
    deviations: FloatArray
    normals: FloatArray
    places: FloatArray


def measure_lens(
    found: Sequence[BoardView],
    *,
    size_px: tuple[int, int],
    rotation_deg: int,
    name: str,
    square_mm: float,
    made_on: date,
) -> LensMeasurement:
    """Measure a lens, or report why these views do not allow it and what to film instead.

    Parameters
    ----------
    found
        Views of the board, as many as there are.
    size_px
        Width and height of the upright picture.
    rotation_deg
        Clockwise turn that made it upright.
    name
        What the phone and the mode are called.
    square_mm
        Side of a square as it was printed; only the distances depend on it.
    made_on
        The day.

    Returns
    -------
    LensMeasurement

    Raises
    ------
    CalibrationError
        Too few sharp views, the board too small, always at the same angle, edges of the picture
        not covered, or a result that does not fit the views.
    """
    views = chosen_views(found, size_px)
    check_variety(views, widest_angle_deg(facing(views, size_px)), size_px)
    solution = _solve(views, size_px)
    limit_px = DROPPED_ABOVE * float(np.median(solution.view_px))
    kept = [view for view, px in zip(views, solution.view_px, strict=True) if px <= limit_px]
    n_dropped = len(views) - len(kept)
    if n_dropped:
        check_number(kept)
        views, solution = kept, _solve(kept, size_px)
    angle_deg = widest_angle_deg(solution.normals)
    check_variety(views, angle_deg, size_px)
    profile = _profile(solution, size_px, rotation_deg, name, len(views), made_on)
    check_result(profile)
    distance_mm = np.linalg.norm(solution.places, axis=1) * square_mm
    return LensMeasurement(
        profile=profile,
        views=tuple(views),
        view_reprojection_px=solution.view_px,
        n_dropped=n_dropped,
        coverage=coverage(views, size_px),
        angle_deg=angle_deg,
        distance_mm=(float(distance_mm.min()), float(distance_mm.max())),
    )


def coverage(views: Sequence[BoardView], size_px: tuple[int, int]) -> float:
    """Share of the picture's cells (8 across, 6 down) in which any view has a corner.

    Parameters
    ----------
    views
        Views of the board.
    size_px
        Width and height of the picture.

    Returns
    -------
    float
        0 to 1.
    """
    points = np.concatenate([view.image_px for view in views])
    cells = np.floor(points / size_px * COVERAGE_CELLS).astype(int)
    cells = np.clip(cells, 0, np.array(COVERAGE_CELLS) - 1)
    return len(np.unique(cells, axis=0)) / (COVERAGE_CELLS[0] * COVERAGE_CELLS[1])


def _solve(views: Sequence[BoardView], size_px: tuple[int, int]) -> _Solution:
    """Solve the low-order model: k1, k2, p1 and p2, with k3 held at 0.

    More terms would fit a phone's noise: its software has straightened the picture already.
    """
    import cv2

    try:
        overall_px, matrix, distortion, turns, places, deviations, _, view_px = (
            cv2.calibrateCameraExtended(
                [view.board_squares.astype(np.float32) for view in views],
                [view.image_px.astype(np.float32) for view in views],
                size_px,
                np.eye(3),  # overwritten: nothing is known beforehand
                np.zeros(5),
                flags=cv2.CALIB_FIX_K3,
            )
        )
    except cv2.error as error:
        raise no_fit() from error
    return _Solution(
        float(overall_px),
        np.ravel(view_px),
        np.asarray(matrix),
        np.ravel(np.asarray(distortion, float))[:4],
        np.ravel(np.asarray(deviations, float))[:8],
        np.array([cv2.Rodrigues(turn)[0][:, 2] for turn in turns]),
        np.array([np.ravel(place) for place in places]),
    )


def _profile(
    solution: _Solution,
    size_px: tuple[int, int],
    rotation_deg: int,
    name: str,
    n_views: int,
    made_on: date,
) -> LensProfile:
    matrix, deviations = solution.matrix, solution.deviations

    def rounded(values: Sequence[float] | FloatArray, decimals: int) -> tuple[float, ...]:
        return tuple(round(float(value), decimals) for value in values)

    four = tuple[float, float, float, float]
    return LensProfile(
        name=name,
        width_px=size_px[0],
        height_px=size_px[1],
        rotation_deg=rotation_deg,
        focal_px=cast(Pair, rounded((matrix[0, 0], matrix[1, 1]), 3)),
        u_focal_px=cast(Pair, rounded(deviations[:2], 3)),
        principal_px=cast(Pair, rounded((matrix[0, 2], matrix[1, 2]), 3)),
        u_principal_px=cast(Pair, rounded(deviations[2:4], 3)),
        distortion=cast(four, rounded(solution.distortion, 6)),
        u_distortion=cast(four, rounded(deviations[4:8], 6)),
        reprojection_px=round(solution.overall_px, 3),
        n_views=n_views,
        made_on=made_on,
    )
