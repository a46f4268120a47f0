"""A camera from marks against a published calibration and against similar triangles."""

import cv2
import numpy as np
import pytest

from calibration.camera import ground_point_m
from calibration.marked_field import solve_marked_field
from calibration.marks import Mark
from pipeline.core.errors import MarksError
from tests.fixtures.marks import focal_prior
from tests.outside.test_pinhole import (
    ZHANG_DISTORTION,
    ZHANG_IMAGE_PX,
    ZHANG_MATRIX,
    ZHANG_MODEL_IN,
    ZHANG_ROTATION,
    ZHANG_TRANSLATION_IN,
)

CENTRE_PX = np.array([960.0, 540.0])


def test_the_published_pose_of_a_board_comes_back_from_its_measured_corners():
    # Zhang 2000 (TR-98-71), view 1: only four corners of one square of half an inch are quoted,
    # 12.8 in away, so the pose is as sure as a third of a pixel in 30 allows. The board lies in
    # its plane z = 0 with z away from the camera: turned by half a turn about x it faces up.
    straight = cv2.undistortPoints(
        ZHANG_IMAGE_PX[:, None], ZHANG_MATRIX, ZHANG_DISTORTION, P=ZHANG_MATRIX
    )[:, 0]
    turned = ZHANG_MODEL_IN * np.array([1.0, -1.0, 1.0])
    marks = [
        Mark(name=f"corner_{i}", field_m=tuple(place), image_px=tuple(point),
             uncertainty_px=0.335, uncertainty_m=0.0)
        for i, (place, point) in enumerate(zip(turned, straight, strict=True))
    ]  # fmt: skip
    found = solve_marked_field(
        marks, principal_px=ZHANG_MATRIX[:2, 2], prior=focal_prior(832.5, 0.002, is_given=True)
    )
    position = -ZHANG_ROTATION.T @ ZHANG_TRANSLATION_IN * np.array([1.0, -1.0, -1.0])
    assert found.residual_px.max() < 0.7
    assert abs(found.height_m - position[2]) < 3.0 * found.uncertainty("height_m")
    assert found.height_m == pytest.approx(position[2], rel=0.03)


def test_a_goal_by_similar_triangles_gives_distance_and_height():
    # f = 1500 px, level camera at 1.5 m, a goal of 6 ft at 10 m: 150 px/m, so it is 274.3 px wide,
    # its feet lie 225 px under the horizon and its crossbar 49.3 px above it.
    half_px, foot_px, bar_px = 0.5 * 274.32, 540.0 + 225.0, 540.0 - 0.3288 * 150.0
    half_m = 0.5 * 1.8288
    marks = [
        Mark(name=f"{side}_{part}", field_m=(sign * half_m, 0.0, height_m),
             image_px=(960.0 + sign * half_px, row_px),
             uncertainty_px=0.1, uncertainty_m=0.001)
        for side, sign in (("left", -1), ("right", 1))
        for part, height_m, row_px in (("foot", 0.0, foot_px), ("corner", 1.8288, bar_px))
    ]  # fmt: skip
    found = solve_marked_field(
        marks, principal_px=CENTRE_PX, prior=focal_prior(1500.0, 0.006, is_given=True)
    )
    assert found.height_m == pytest.approx(1.5, rel=1e-6)
    assert found.position_m == pytest.approx((0.0, -10.0), abs=1e-5)
    assert (found.pitch_deg, found.roll_deg) == pytest.approx((0.0, 0.0), abs=1e-5)


def test_a_goal_alone_read_to_two_pixels_leaves_the_height_open():
    # Seen square on, only how much its crossbar seems narrower than its foot tells the tilt.
    half_m = 0.5 * 1.8288
    marks = [
        Mark(
            name=f"{sign}_{height_m}",
            field_m=(sign * half_m, 0.0, height_m),
            image_px=(960.0 + sign * half_m * 150.0, 540.0 + (1.5 - height_m) * 150.0),
        )
        for sign in (-1, 1)
        for height_m in (0.0, 1.8288)
    ]
    with pytest.raises(MarksError, match="leave the camera's height open"):
        solve_marked_field(
            marks, principal_px=CENTRE_PX, prior=focal_prior(1500.0, 0.006, is_given=True)
        )


def test_a_player_before_the_goal_is_not_measured_by_the_goals_scale():
    # Worked by hand: 1 m before a goal at 10 m, the goal's own scale says 10 / 9 of the truth. With
    # the camera from marks the point on the ground is where it is.
    foot_px = np.array([960.0 + 1500.0 * 1.0 / 9.0, 540.0 + 1500.0 * 1.5 / 9.0])
    place = ground_point_m(
        foot_px, focal_px=np.float64(1500.0), principal_px=CENTRE_PX, pitch_deg=np.float64(0.0),
        roll_deg=np.float64(0.0), height_m=np.float64(1.5),
    )  # fmt: skip
    by_the_goal_m = (foot_px[0] - 960.0) / 150.0
    assert place[:2] == pytest.approx([1.0, 9.0])
    assert by_the_goal_m / place[0] == pytest.approx(10.0 / 9.0)
