"""A turn of the camera is told from what it does to the picture, and undone."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calibration.turned_view import NO_TURN, fit_turn, homography_of, moved_points, turned

FOCAL_PX = 250.0
MIDDLE_PX = np.array([160.0, 90.0])
CORNERS_PX = np.random.default_rng(0).uniform((0, 0), (320, 180), (80, 2))
ANCHORS_PX = np.array([(80.0, 45.0), (240.0, 45.0), (80.0, 135.0), (240.0, 135.0)])


def fitted(start, end, guess=NO_TURN):
    return fit_turn(start, end, guess, focal_px=FOCAL_PX, middle_px=MIDDLE_PX, wild_px=0.5)


def test_a_pan_moves_the_middle_by_focal_length_times_tangent_and_the_edge_by_more():
    angle = np.radians(5.0)
    homography = turned(np.array([FOCAL_PX * angle, 0, 0, 0, 1.0]), FOCAL_PX, MIDDLE_PX)
    (middle, edge) = moved_points(homography, MIDDLE_PX + np.array([(0.0, 0.0), (160.0, 0.0)]))
    assert (middle - MIDDLE_PX).tolist() == pytest.approx([FOCAL_PX * np.tan(angle), 0.0])
    at_edge = np.arctan(160.0 / FOCAL_PX)
    assert edge[0] == pytest.approx(MIDDLE_PX[0] + FOCAL_PX * np.tan(angle + at_edge))


def test_no_turn_moves_nothing_and_points_that_go_behind_are_unknown():
    np.testing.assert_allclose(turned(NO_TURN, FOCAL_PX, MIDDLE_PX), np.eye(3), atol=1e-12)
    sideways = turned(np.array([FOCAL_PX * np.pi / 2, 0, 0, 0, 1.0]), FOCAL_PX, MIDDLE_PX)
    assert np.isnan(moved_points(sideways, MIDDLE_PX + np.array([(10.0, 0.0)]))).all()


@pytest.mark.slow
@given(
    pan=st.floats(-40, 40), tilt=st.floats(-25, 25), roll=st.floats(-0.05, 0.05),
    zoom=st.floats(-0.01, 0.01), share=st.floats(0.7, 1.3),
)  # fmt: skip
def test_a_turn_is_found_again_whatever_the_focal_length(pan, tilt, roll, zoom, share):
    homography = turned(np.array([pan, tilt, roll, zoom, share]), FOCAL_PX, MIDDLE_PX)
    end = moved_points(homography, CORNERS_PX)
    guess = fitted(CORNERS_PX, end)
    found = turned(fitted(CORNERS_PX, end, guess), FOCAL_PX, MIDDLE_PX)
    off = moved_points(found, CORNERS_PX) - end
    assert np.abs(off).max() < 0.1


def test_points_that_move_of_their_own_take_little_part():
    homography = turned(np.array([6.0, -3.0, 0.01, 0.0, 1.0]), FOCAL_PX, MIDDLE_PX)
    end = moved_points(homography, CORNERS_PX)
    end[:20] += (9.0, 4.0)
    found = fitted(CORNERS_PX, end)
    off = moved_points(turned(found, FOCAL_PX, MIDDLE_PX), CORNERS_PX[20:]) - end[20:]
    assert np.abs(off).max() < 0.1


def test_four_points_give_the_homography_and_unknown_ones_none():
    homography = turned(np.array([30.0, -9.0, 0.02, 0.005, 1.1]), FOCAL_PX, MIDDLE_PX)
    after = moved_points(homography, ANCHORS_PX)
    found = homography_of(ANCHORS_PX, np.stack([after, np.full_like(after, np.nan)]))
    np.testing.assert_allclose(found[0], homography / homography[2, 2], rtol=1e-6, atol=1e-9)
    assert np.isnan(found[1]).all()
