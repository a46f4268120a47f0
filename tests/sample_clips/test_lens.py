"""The lens and the turned camera of a hard clip show each point where the truth says."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from sample_clips.render.camera import look
from sample_clips.render.lens import (
    bent,
    bent_px,
    by_turned_camera,
    homography,
    lens_maps,
    margin_for_lens,
    margin_for_turns,
    through_lens,
    turned,
    unbent,
    wider,
)
from sample_clips.render.shaking import shake_of
from sample_clips.render.tracks import GRID_HZ

CAMERA = look(
    size_px=(640, 360),
    fov_long_side_deg=66.0,
    position_m=(0.0, 9.0, 1.4),
    target_m=(0.3, 0.0, 0.8),
)
BARREL = (-0.18, 0.03)


def turn_about(axis, angle_deg):
    angle = np.deg2rad(angle_deg)
    x, y, z = np.asarray(axis, dtype=float) / np.linalg.norm(axis)
    cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    return np.eye(3) + np.sin(angle) * cross + (1 - np.cos(angle)) * cross @ cross


def spot(camera, px):
    """Return a picture of the camera's size with a soft round spot."""
    width, height = camera.size_px
    u, v = np.meshgrid(np.arange(width) + 0.5, np.arange(height) + 0.5)
    square = (u - px[0]) ** 2 + (v - px[1]) ** 2
    return np.repeat((240 * np.exp(-square / 18))[..., None], 3, axis=2).astype(np.uint8)


def place_of_spot(picture):
    weight = picture[..., 0].astype(float)
    v, u = np.indices(weight.shape) + 0.5
    return np.array([(u * weight).sum(), (v * weight).sum()]) / weight.sum()


@given(st.floats(-0.6, 0.6), st.floats(-0.4, 0.4), st.floats(-0.22, 0.1), st.floats(-0.02, 0.05))
def test_unbent_undoes_bent(x, y, k1, k2):
    slopes = np.array([[x, y]])
    np.testing.assert_allclose(unbent(bent(slopes, (k1, k2)), (k1, k2)), slopes, atol=1e-9)


def test_a_barrel_draws_points_to_the_middle_and_leaves_the_middle():
    middle, corner = np.array([[320.0, 180.0], [640.0, 360.0]])
    np.testing.assert_allclose(bent_px(CAMERA, middle, BARREL), middle)
    moved = bent_px(CAMERA, corner, BARREL) - middle
    assert np.linalg.norm(moved) < np.linalg.norm(corner - middle)


def test_the_bent_picture_shows_a_point_where_the_truth_puts_it():
    drawn = wider(CAMERA, margin_for_lens(CAMERA, BARREL))
    point_m = np.array([-2.2, 1.0, 0.5])
    picture = through_lens(spot(drawn, drawn.project(point_m)[0]), lens_maps(CAMERA, drawn, BARREL))
    assert picture.shape == (360, 640, 3)
    expected = bent_px(CAMERA, CAMERA.project(point_m)[0], BARREL)
    np.testing.assert_allclose(place_of_spot(picture), expected, atol=0.1)


def test_the_wider_camera_sees_the_same_with_more_round_about():
    drawn = wider(CAMERA, 25)
    point_m = np.array([1.0, 2.0, 0.3])
    np.testing.assert_allclose(drawn.project(point_m)[0], CAMERA.project(point_m)[0] + 25)


def test_a_picture_of_a_turned_camera_shows_points_of_any_depth_where_the_truth_puts_them():
    turn = turn_about([0.5, 1.0, 0.4], 1.1)
    seen = turned(CAMERA, turn)
    drawn = wider(CAMERA, margin_for_turns(CAMERA, turn[None]))
    for point_m in ([1.5, 5.0, 0.2], [-4.0, -6.0, 1.9]):
        at = drawn.project(np.array(point_m))[0]
        picture = by_turned_camera(spot(drawn, at), seen, drawn)
        expected = seen.project(np.array(point_m))[0]
        np.testing.assert_allclose(place_of_spot(picture), expected, atol=0.1)
        x, y, w = homography(seen, drawn) @ [*at, 1.0]
        np.testing.assert_allclose([x / w, y / w], expected, atol=1e-9)


def test_the_wider_picture_has_no_empty_corners():
    turns = shake_of(4 * GRID_HZ, 1.0, 0.06, np.random.default_rng(3))
    drawn = wider(CAMERA, margin_for_turns(CAMERA, turns))
    width, height = drawn.size_px
    white = np.full((height, width, 3), 255, np.uint8)
    for turn in turns[::200]:
        assert by_turned_camera(white, turned(CAMERA, turn), drawn).min() == 255
    bent_margin = wider(CAMERA, margin_for_lens(CAMERA, BARREL))
    white = np.full((*bent_margin.size_px[::-1], 3), 255, np.uint8)
    assert through_lens(white, lens_maps(CAMERA, bent_margin, BARREL)).min() == 255


def test_a_hand_turns_slowly_as_far_as_asked_and_trembles():
    drift_deg, tremor_deg = 0.8, 0.05
    rng = np.random.default_rng(8)
    turns = shake_of(10 * GRID_HZ, drift_deg, tremor_deg, rng)
    np.testing.assert_allclose(turns[0], np.eye(3), atol=1e-12)
    whole = turns @ np.swapaxes(turns, 1, 2)
    np.testing.assert_allclose(whole, np.broadcast_to(np.eye(3), whole.shape), atol=1e-9)
    angle_deg = np.rad2deg(np.arccos(np.clip((np.trace(turns, axis1=1, axis2=2) - 1) / 2, -1, 1)))
    assert 0.7 * drift_deg < angle_deg.max() < drift_deg + 8 * tremor_deg
    # Within a fifteenth of a second it is the tremor that moves: hundredths of a degree.
    lag = GRID_HZ // 15
    change = turns[lag:] @ np.swapaxes(turns[:-lag], 1, 2)
    yaw_deg = np.rad2deg(change[:, 0, 2])
    assert 0.3 * tremor_deg < yaw_deg.std() < 3 * tremor_deg


def test_no_drift_and_no_tremor_is_a_still_camera():
    turns = shake_of(GRID_HZ, 0.0, 0.0, np.random.default_rng(1))
    np.testing.assert_allclose(turns, np.broadcast_to(np.eye(3), turns.shape), atol=1e-12)
