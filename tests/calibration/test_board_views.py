"""Views of the board: found where they are, told how blurred they are, chosen for variety."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from calibration.board_views import (
    FEWEST_CORNERS,
    BoardFinder,
    blur_px,
    choose_views,
    facing,
    picture_sharpness,
    widest_angle_deg,
)
from tests.fixtures.board_film import (
    SIZE_PX,
    TRUE_DISTORTION,
    Pose,
    board_picture_of,
    good_pictures,
    good_poses,
    good_views,
    matrix,
    placed,
)

pytestmark = pytest.mark.slow

MIDDLE = Pose(0.5, 0.5, 14, tilt_deg=15, yaw_deg=10)


def true_px(view, pose):
    """Where the library's projection puts the corners of a view."""
    rotation, translation = placed(pose)
    image, _ = cv2.projectPoints(
        view.board_squares, cv2.Rodrigues(rotation)[0], translation, matrix(),
        np.array(TRUE_DISTORTION),
    )  # fmt: skip
    return image[:, 0] + 0.5


def test_corners_are_found_where_the_camera_puts_them():
    poses = good_poses()
    for view in good_views():
        error_px = view.image_px - true_px(view, poses[view.frame])
        assert np.sqrt(np.mean(np.sum(error_px**2, axis=1))) < 0.4
    assert len(good_views()) >= len(poses) - 1


def test_a_picture_without_the_board_has_no_view():
    finder = BoardFinder()
    assert finder.find(np.full(SIZE_PX[::-1], 128, np.uint8), 0) is None
    noise = np.random.default_rng(0).integers(0, 255, SIZE_PX[::-1], np.uint8)
    assert finder.find(noise, 0) is None


def test_too_little_of_the_board_is_no_view():
    picture = board_picture_of(MIDDLE)
    whole = BoardFinder().find(picture, 0)
    assert whole.corner.size == 48
    cut = picture.copy()
    cut[:, round(whole.image_px[:, 0].min()) + 60 :] = 128
    found = BoardFinder().find(cut, 0)
    assert found is None or found.corner.size >= FEWEST_CORNERS


def test_a_square_is_as_large_as_focal_length_over_distance():
    view = BoardFinder().find(board_picture_of(Pose(0.5, 0.5, 14)), 7)
    assert view.square_px == pytest.approx(511.0 / 14, rel=0.02)
    assert view.frame == 7


@pytest.mark.parametrize("roll_deg", [0, 25, 45])
def test_blur_is_told_to_about_half_of_it(roll_deg):
    pose = replace(MIDDLE, roll_deg=roll_deg)
    square_px = 511.0 / 14

    def told(blur):
        return blur_px(board_picture_of(pose, blur_px=blur)[110:250, 260:380], square_px)

    levels = [told(blur) for blur in (0.0, 1.0, 2.0, 3.0)]
    assert levels == sorted(levels)
    assert levels[0] < 1.4
    for blur, level in zip((2.0, 3.0), levels[2:], strict=True):
        assert 0.6 * blur < level < 1.5 * blur


@pytest.mark.parametrize("way", [(1, 9), (9, 1)])
def test_blur_along_one_way_counts_in_full(way):
    picture = board_picture_of(Pose(0.5, 0.5, 14), noise=0)
    shaken = cv2.blur(picture, way)
    told = blur_px(shaken[110:250, 260:380], 511.0 / 14)
    assert told > 0.7 * 9 / np.sqrt(12)


def test_a_flat_picture_is_blurred_beyond_telling():
    assert blur_px(np.full((40, 40), 90, np.uint8), 30.0) == np.inf


def test_the_sharper_of_two_pictures_is_told():
    sharp, soft = (picture_sharpness(board_picture_of(MIDDLE, blur_px=b)) for b in (0.0, 1.0))
    assert sharp > 1.5 * soft


def test_the_boards_facing_is_that_of_its_pose():
    poses = good_poses()
    normals = facing(good_views(), SIZE_PX)
    for view, normal in zip(good_views(), normals, strict=True):
        true = placed(poses[view.frame])[0][:, 2]
        assert np.degrees(np.arccos(normal @ true)) < 12.0


def test_the_widest_angle_is_between_the_two_that_differ_most():
    turned = [[0.0, np.sin(a), np.cos(a)] for a in np.radians([0.0, 20.0, -15.0])]
    assert widest_angle_deg(np.array(turned)) == pytest.approx(35.0)
    assert widest_angle_deg(np.array(turned[:1])) == 0.0
    assert widest_angle_deg(np.empty((0, 3))) == 0.0


def test_repetitions_are_left_out_and_variety_is_kept():
    views = list(good_views())
    again = [replace(view, frame=view.frame + 100) for view in views]
    chosen = choose_views([*views, *again], SIZE_PX, most=40)
    assert len({view.frame % 100 for view in chosen}) == len(chosen) >= 20
    few = choose_views(views, SIZE_PX, most=8)
    assert len(few) == 8
    assert [view.frame for view in few] == sorted(view.frame for view in few)
    spread = np.ptp([view.image_px.mean(axis=0) for view in few], axis=0) / SIZE_PX
    assert spread.min() > 0.3
    assert choose_views([], SIZE_PX, most=8) == []


def test_pictures_are_of_the_size_that_is_said():
    assert good_pictures()[0].shape == SIZE_PX[::-1]
