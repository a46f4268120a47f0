"""Points made straight and bent again; profiles scaled, turned, or refused."""

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calibration.lens_profile import distort_px, for_picture, undistort_px
from pipeline.core.errors import LensProfileError
from tests.fixtures.lenses import PHONE, phone

SIZE = {"width_px": PHONE.width_px, "height_px": PHONE.height_px}
GRID_PX = np.stack(
    np.meshgrid(np.linspace(0, 1920, 9), np.linspace(0, 1080, 7)), axis=-1
)  # fmt: skip


def matrix(profile):
    (fx, fy), (cx, cy) = profile.focal_px, profile.principal_px
    return np.array([[fx, 0, cx], [0, fy, cy], [0, 0, 1.0]])


def straight_of_slope(profile, slope):
    return slope * profile.straight_focal_px + np.array(profile.principal_px)


def test_bending_agrees_with_the_library():
    slope = np.random.default_rng(2).uniform(-0.6, 0.6, (200, 2)) * (1, 0.6)
    rays = np.column_stack([slope, np.ones(200)])
    expected, _ = cv2.projectPoints(
        rays, np.zeros(3), np.zeros(3), matrix(PHONE), np.array(PHONE.distortion)
    )
    ours = distort_px(PHONE, straight_of_slope(PHONE, slope))
    assert np.abs(ours - expected[:, 0]).max() < 1e-9


def test_a_point_moved_by_hand():
    # Slope 0.5 to the right, k1 0.1 alone: 0.5 (1 + 0.1 * 0.25) = 0.5125, times 1000 px.
    lens = phone(focal_px=(1000.0, 1000.0), distortion=(0.1, 0.0, 0.0, 0.0))
    straight = np.array([975.0 + 500.0, 531.0])
    bent = np.array([975.0 + 512.5, 531.0])
    assert distort_px(lens, straight) == pytest.approx(bent)
    assert undistort_px(lens, bent) == pytest.approx(straight)


lenses = st.builds(
    lambda k1, k2, p1, p2, fx, ratio: phone(
        distortion=(k1, k2, p1, p2), focal_px=(fx, fx * ratio)
    ),
    st.floats(-0.08, 0.25), st.floats(-0.03, 0.1), st.floats(-0.005, 0.005),
    st.floats(-0.005, 0.005), st.floats(1300, 2500), st.floats(0.98, 1.02),
)  # fmt: skip


@given(lenses)
def test_bending_undoes_straightening_all_over_the_picture(lens):
    straight = undistort_px(lens, GRID_PX)
    assert np.isfinite(straight).all()
    assert np.abs(distort_px(lens, straight) - GRID_PX).max() < 1e-3
    assert np.abs(undistort_px(lens, distort_px(lens, straight)) - straight).max() < 1e-2


def test_missing_stays_missing_and_the_shape_stays():
    points = np.full((2, 3, 5, 2), 700.0)
    points[1, 2, 3] = np.nan
    points[0, 0, 0, 1] = np.nan
    for move in (undistort_px, distort_px):
        moved = move(PHONE, points)
        assert moved.shape == points.shape
        known = np.isfinite(points).all(axis=-1)
        assert np.isfinite(moved[known]).all()
    assert np.isnan(undistort_px(PHONE, points)[~known]).all()
    assert undistort_px(PHONE, np.empty((0, 2))).shape == (0, 2)
    assert np.isnan(undistort_px(PHONE, np.full((4, 2), np.nan))).all()


def test_a_point_where_the_lens_puts_nothing_is_missing():
    # With k1 = -0.3 alone no ray is bent further out than slope 2/3 sqrt(1 / 0.9) = 0.70.
    lens = phone(distortion=(-0.3, 0.0, 0.0, 0.0))
    assert np.isnan(undistort_px(lens, np.array([975.0 + 1500.0 * 0.8, 531.0]))).all()
    assert np.isfinite(undistort_px(lens, np.array([975.0 + 1500.0 * 0.6, 531.0]))).all()


def test_without_distortion_nothing_moves():
    lens = phone(distortion=(0.0, 0.0, 0.0, 0.0), focal_px=(1500.0, 1500.0))
    assert undistort_px(lens, GRID_PX) == pytest.approx(GRID_PX)


def test_the_same_picture_needs_no_change():
    assert for_picture(PHONE, **SIZE) == PHONE


def test_a_smaller_picture_of_the_same_shape_scales():
    small = for_picture(PHONE, width_px=1280, height_px=720)
    assert small.focal_px == pytest.approx((1000.0, 1002.0))
    assert small.u_focal_px == pytest.approx((1.0, 0.8))
    assert small.principal_px == pytest.approx((650.0, 354.0))
    assert small.distortion == PHONE.distortion
    points = undistort_px(small, GRID_PX * 2 / 3)
    assert points == pytest.approx(undistort_px(PHONE, GRID_PX) * 2 / 3, abs=1e-3)


TURNS = {
    90: lambda p: np.stack([1080 - p[..., 1], p[..., 0]], axis=-1),
    180: lambda p: np.stack([1920 - p[..., 0], 1080 - p[..., 1]], axis=-1),
    270: lambda p: np.stack([p[..., 1], 1920 - p[..., 0]], axis=-1),
}


@pytest.mark.parametrize("turn_deg", TURNS)
def test_a_phone_held_another_way_turns_the_lens_with_the_picture(turn_deg):
    size = (1920, 1080) if turn_deg == 180 else (1080, 1920)
    turned = for_picture(PHONE, width_px=size[0], height_px=size[1], rotation_deg=turn_deg)
    turn = TURNS[turn_deg]
    assert turned.rotation_deg == turn_deg
    moved = undistort_px(turned, turn(GRID_PX))
    assert np.abs(moved - turn(undistort_px(PHONE, GRID_PX))).max() < 1e-3
    back = for_picture(turned, **SIZE)
    assert back.distortion == pytest.approx(PHONE.distortion)
    assert back.principal_px == pytest.approx(PHONE.principal_px)
    assert back.u_focal_px == pytest.approx(PHONE.u_focal_px)


def test_turns_count_from_how_the_board_was_filmed():
    upright = for_picture(PHONE, width_px=1080, height_px=1920, rotation_deg=90)
    assert for_picture(upright, width_px=1080, height_px=1920, rotation_deg=90) == upright
    level = for_picture(upright, **SIZE, rotation_deg=0)
    assert level.principal_px == pytest.approx(PHONE.principal_px)
    upside_down = for_picture(upright, width_px=1080, height_px=1920, rotation_deg=270)
    assert upside_down.principal_px == pytest.approx(
        (1080 - upright.principal_px[0], 1920 - upright.principal_px[1])
    )


def test_a_portrait_film_that_lost_its_turn_is_taken_as_held_the_usual_way_up():
    told = for_picture(PHONE, width_px=1080, height_px=1920, rotation_deg=90)
    assert for_picture(PHONE, width_px=1080, height_px=1920, rotation_deg=0) == told


@pytest.mark.parametrize("size", [(1440, 1080), (1080, 1440), (1920, 1440), (640, 640)])
def test_a_picture_of_another_shape_is_refused(size):
    with pytest.raises(LensProfileError, match=rf"1920 x 1080.*{size[0]} x {size[1]}"):
        for_picture(PHONE, width_px=size[0], height_px=size[1])


@pytest.mark.parametrize("size", [(854, 480), (426, 240)])
def test_sizes_rounded_to_whole_pixels_are_the_same_shape(size):
    assert for_picture(PHONE, width_px=size[0], height_px=size[1]).width_px == size[0]


def test_the_worse_direction_gives_the_doubt_of_the_focal_length():
    assert PHONE.u_log_focal == pytest.approx(0.001)
    assert PHONE.straight_focal_px == pytest.approx(np.sqrt(1500 * 1503))
