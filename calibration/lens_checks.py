"""Says when a film of the board does not allow a lens to be measured, and what to film instead."""

from __future__ import annotations

from collections.abc import Sequence
from functools import reduce

import numpy as np

from calibration.board import N_ROWS
from calibration.board_views import BoardView, choose_views
from pipeline.core.errors import CalibrationError
from pipeline.core.messages import message
from pipeline.core.types import LensProfile

MOST_VIEWS = 24
FEWEST_VIEWS = 10

BLUR_LIMIT_OF_LONG_SIDE = 2.0 / 1920
BLUR_LIMIT_PX = 2.0
"""A hand that blurs the board also shears it: a phone reads its picture out row by row."""

LEAST_BOARD_OF_LONG_SIDE = 0.15
"""Length of the board in the middle one of the views."""

LEAST_ANGLE_DEG = 25.0
"""Greatest angle between two views of the board; below it focal length and distance mix."""

MARGIN_NOT_COVERED = 0.15
"""Share of the picture at an edge that may be without corners; beyond, distortion is a guess."""

WORST_REPROJECTION_OF_LONG_SIDE = 1.0 / 1920
WORST_REPROJECTION_PX = 0.5
WORST_U_LOG_FOCAL = 0.01


def chosen_views(found: Sequence[BoardView], size_px: tuple[int, int]) -> list[BoardView]:
    """Choose among the sharp views.

    Parameters
    ----------
    found
        Views of the board, as many as there are.
    size_px
        Width and height of the picture.

    Returns
    -------
    list of BoardView

    Raises
    ------
    CalibrationError
        There are too few.
    """
    if not found:
        raise CalibrationError.of("board_not_found")
    if len(found) < FEWEST_VIEWS:
        raise CalibrationError.of("board_in_few_pictures", n=len(found), needed=FEWEST_VIEWS)
    blur_limit_px = max(BLUR_LIMIT_PX, BLUR_LIMIT_OF_LONG_SIDE * max(size_px))
    sharp = [view for view in found if view.blur_px <= blur_limit_px]
    views = choose_views(sharp, size_px, most=MOST_VIEWS)
    if len(sharp) < FEWEST_VIEWS:
        raise CalibrationError.of(
            "few_sharp_views", n=len(sharp), found=len(found), needed=FEWEST_VIEWS
        )
    check_number(views)
    return views


def check_number(views: Sequence[BoardView]) -> None:
    """Raise `CalibrationError` for too few different views."""
    if len(views) < FEWEST_VIEWS:
        raise CalibrationError.of("few_different_views", n=len(views), needed=FEWEST_VIEWS)


def check_variety(views: Sequence[BoardView], angle_deg: float, size_px: tuple[int, int]) -> None:
    """Raise `CalibrationError` for views that leave something about the lens open.

    Parameters
    ----------
    views
        Views to solve from.
    angle_deg
        Greatest angle between two views of the board.
    size_px
        Width and height of the picture.
    """
    board = N_ROWS * float(np.median([view.square_px for view in views])) / max(size_px)
    if board < LEAST_BOARD_OF_LONG_SIDE:
        raise CalibrationError.of("board_too_small", share=board, needed=LEAST_BOARD_OF_LONG_SIDE)
    if angle_deg < LEAST_ANGLE_DEG:
        raise CalibrationError.of("board_faces_one_way", angle=angle_deg)
    points = np.concatenate([view.image_px for view in views]) / size_px
    (left, top), (right, bottom) = points.min(axis=0), 1.0 - points.max(axis=0)
    bare = [
        message(f"board_edges.{edge}")
        for edge, gap in (("left", left), ("top", top), ("right", right), ("bottom", bottom))
        if gap > MARGIN_NOT_COVERED
    ]
    if bare:
        edges = reduce(lambda one, other: message("board_edges.both", one=one, other=other), bare)
        raise CalibrationError.of("board_never_at_edge", edges=edges)


def no_fit() -> CalibrationError:
    """Make the error for views that no lens explains."""
    return CalibrationError.of("no_lens_explains_views")


def check_result(profile: LensProfile) -> None:
    """Raise `CalibrationError` for a result that is not to be used."""
    limit_px = max(
        WORST_REPROJECTION_PX,
        WORST_REPROJECTION_OF_LONG_SIDE * max(profile.width_px, profile.height_px),
    )
    if not profile.reprojection_px <= limit_px:
        raise CalibrationError.of(
            "views_do_not_fit_together", off=profile.reprojection_px, most=limit_px
        )
    x_px, y_px = profile.principal_px
    if not (0 < x_px < profile.width_px and 0 < y_px < profile.height_px):
        raise no_fit()
    if not profile.u_log_focal <= WORST_U_LOG_FOCAL:
        raise CalibrationError.of(
            "focal_length_open", u=profile.u_log_focal, needed=WORST_U_LOG_FOCAL
        )
