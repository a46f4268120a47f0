"""Says when a film of the board does not allow a lens to be measured, and what to film instead."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from calibration.board import N_ROWS
from calibration.board_views import BoardView, choose_views
from calibration.lens_profile import LensProfile
from pipeline.errors import CalibrationError

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
        raise CalibrationError(
            "the board was not found in this film.",
            what_to_do="Print it with crossemetry calibrate board, and film it from about 1 m in "
            "good light, at least half of it in the picture.",
        )
    if len(found) < FEWEST_VIEWS:
        raise CalibrationError(
            f"the board was found in {len(found)} pictures only, and {FEWEST_VIEWS} are needed.",
            what_to_do="Film longer, from nearer and in brighter light, and move slowly.",
        )
    blur_limit_px = max(BLUR_LIMIT_PX, BLUR_LIMIT_OF_LONG_SIDE * max(size_px))
    sharp = [view for view in found if view.blur_px <= blur_limit_px]
    views = choose_views(sharp, size_px, most=MOST_VIEWS)
    if len(sharp) < FEWEST_VIEWS:
        raise CalibrationError(
            f"too few sharp views of the board: {len(sharp)} of the {len(found)} in which it was "
            f"found, and {FEWEST_VIEWS} are needed.",
            what_to_do="Film longer and in brighter light, move slowly, and hold still for a "
            "moment at each angle.",
        )
    check_number(views)
    return views


def check_number(views: Sequence[BoardView]) -> None:
    """Raise `CalibrationError` for too few different views."""
    if len(views) < FEWEST_VIEWS:
        raise CalibrationError(
            f"too few different views of the board: {len(views)}, and {FEWEST_VIEWS} are needed.",
            what_to_do="Move the phone around the board: near and far, from the left, the right, "
            "above and below, the board flat and stiff and in every part of the picture.",
        )


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
        raise CalibrationError(
            f"the board is too small in the picture: {board:.0%} of its long side in the middle "
            f"one of the views, and {LEAST_BOARD_OF_LONG_SIDE:.0%} are needed.",
            what_to_do="Go nearer, or print the board larger.",
        )
    if angle_deg < LEAST_ANGLE_DEG:
        raise CalibrationError(
            f"the board faces the same way in all views, within {angle_deg:.0f} degrees: that "
            "leaves the focal length open.",
            what_to_do="Film the board from the left, the right, above and below as well, at "
            "angles of 30 to 45 degrees.",
        )
    points = np.concatenate([view.image_px for view in views]) / size_px
    (left, top), (right, bottom) = points.min(axis=0), 1.0 - points.max(axis=0)
    bare = [
        edge
        for edge, gap in (("left", left), ("top", top), ("right", right), ("bottom", bottom))
        if gap > MARGIN_NOT_COVERED
    ]
    if bare:
        raise CalibrationError(
            f"the board never comes near the {' and the '.join(bare)} edge of the picture, where "
            "a lens distorts most.",
            what_to_do="Film it in every corner of the picture too; a part of it may be cut off.",
        )


def no_fit() -> CalibrationError:
    """Make the error for views that no lens explains."""
    return CalibrationError(
        "no lens explains these views.",
        what_to_do="Glue the board on something flat and stiff, and film it anew, in one mode and "
        "without zooming.",
    )


def check_result(profile: LensProfile) -> None:
    """Raise `CalibrationError` for a result that is not to be used."""
    limit_px = max(
        WORST_REPROJECTION_PX,
        WORST_REPROJECTION_OF_LONG_SIDE * max(profile.width_px, profile.height_px),
    )
    if not profile.reprojection_px <= limit_px:
        raise CalibrationError(
            f"the views do not fit together: the corners lie {profile.reprojection_px:.2f} px from "
            f"where they should, and {limit_px:.2f} px is the most that can be used.",
            what_to_do="Glue the board on something flat and stiff, turn video stabilisation off, "
            "and move slowly.",
        )
    x_px, y_px = profile.principal_px
    if not (0 < x_px < profile.width_px and 0 < y_px < profile.height_px):
        raise no_fit()
    if not profile.u_log_focal <= WORST_U_LOG_FOCAL:
        raise CalibrationError(
            f"the focal length is only known to {profile.u_log_focal:.1%}, and "
            f"{WORST_U_LOG_FOCAL:.0%} is needed.",
            what_to_do="Film the board from nearer and from steeper angles, each way.",
        )
