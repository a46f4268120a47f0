"""The camera over flat ground: rays and ground points worked by hand (OpenCV: see outside)."""

import numpy as np
import pytest

from calibration.camera import (
    field_from_camera,
    ground_point_m,
    plane_depth_m,
    project_px,
    ray,
    to_field,
)

LEVEL = {
    "focal_px": np.float64(1000.0),
    "principal_px": np.array([960.0, 540.0]),
    "pitch_deg": np.float64(0.0),
    "roll_deg": np.float64(0.0),
    "height_m": np.float64(1.5),
}


def test_a_ground_point_of_a_level_camera_by_similar_triangles():
    # 300 px under the horizon with f = 1000 px and 1.5 m of height: 1.5 * 1000 / 300 = 5 m away;
    # 200 px to the right there: 5 * 200 / 1000 = 1 m.
    assert ground_point_m(np.array([1160.0, 840.0]), **LEVEL) == pytest.approx([1.0, 5.0, 0.0])


def test_a_ground_point_on_the_axis_of_a_camera_that_looks_down():
    # The axis of a camera 1.5 m high, tilted by 30 deg, meets the ground 1.5 / tan 30 deg away.
    camera = LEVEL | {"pitch_deg": np.float64(30.0)}
    expected = [0.0, 1.5 / np.tan(np.radians(30.0)), 0.0]
    assert ground_point_m(camera["principal_px"], **camera) == pytest.approx(expected)


def test_a_level_above_the_ground_is_met_nearer_to_the_camera():
    point = ground_point_m(np.array([960.0, 840.0]), **LEVEL, level_m=0.3)
    assert point == pytest.approx([0.0, 4.0, 0.3])


def test_a_camera_rolled_clockwise_sees_the_scene_turned_anticlockwise():
    # Up in the world leans to the left of the picture.
    camera = LEVEL | {"roll_deg": np.float64(10.0)}
    foot, head = project_px(np.array([[0.0, 8.0, 0.5], [0.0, 8.0, 2.5]]), **camera)
    lean_deg = np.degrees(np.arctan2(foot[0] - head[0], foot[1] - head[1]))
    assert lean_deg == pytest.approx(10.0)


def test_the_rotation_is_a_rotation_for_every_draw():
    generator = np.random.default_rng(0)
    rotation = field_from_camera(generator.uniform(-20, 40, 50), generator.uniform(-20, 20, 50))
    assert np.allclose(rotation @ np.swapaxes(rotation, -1, -2), np.eye(3), atol=1e-12)
    assert np.allclose(np.linalg.det(rotation), 1.0)


def test_one_call_serves_every_draw_and_every_frame():
    generator = np.random.default_rng(1)
    pitch, roll = generator.uniform(2, 8, (5, 1)), generator.uniform(-2, 2, (5, 1))
    focal, height = generator.uniform(900, 1100, (5, 1)), generator.uniform(1.2, 1.6, (5, 1))
    image_px = generator.uniform([300, 700], [1500, 1000], (5, 7, 2))
    many = ground_point_m(
        image_px, focal_px=focal, principal_px=LEVEL["principal_px"],
        pitch_deg=pitch, roll_deg=roll, height_m=height,
    )  # fmt: skip
    one = ground_point_m(
        image_px[3, 4], focal_px=focal[3, 0], principal_px=LEVEL["principal_px"],
        pitch_deg=pitch[3, 0], roll_deg=roll[3, 0], height_m=height[3, 0],
    )  # fmt: skip
    assert np.allclose(many[3, 4], one)


def test_points_go_out_along_their_rays_and_come_back():
    camera = LEVEL | {"pitch_deg": np.float64(7.0), "roll_deg": np.float64(-2.0)}
    points = np.random.default_rng(2).uniform([-3, 4, 0], [3, 12, 2.5], (20, 3))
    rotation = field_from_camera(camera["pitch_deg"], camera["roll_deg"])
    direction = ray(project_px(points, **camera), camera["focal_px"], camera["principal_px"])
    depth = plane_depth_m(direction, rotation, camera["height_m"], points[:, 2])
    below = points[:, 2] < 1.4
    back = to_field(direction * depth[:, None], rotation, camera["height_m"])
    assert np.allclose(back[below], points[below])


def test_what_lies_behind_the_camera_or_above_the_horizon_is_unknown():
    assert np.isnan(project_px(np.array([0.0, -2.0, 1.0]), **LEVEL)).all()
    assert np.isnan(ground_point_m(np.array([960.0, 539.0]), **LEVEL)).all()
