"""Where a body of known size stands, from its image and its shape."""

import numpy as np
import pytest

from calibration.body_size import root_from_size, toward_viewing_ray

OFFSETS = np.random.default_rng(0).uniform([-0.3, -0.9, -0.2], [0.3, 0.9, 0.2], (12, 3))


def slopes(root, offsets=OFFSETS):
    points = root + offsets
    return points[:, :2] / points[:, 2:]


@pytest.mark.parametrize("root", [[0.0, 0.2, 5.0], [2.0, -0.3, 8.0], [-3.0, 0.5, 14.0]])
def test_a_perfect_body_is_put_back_where_it_was(root):
    found = root_from_size(slopes(np.array(root)), OFFSETS, np.ones(12))
    assert found == pytest.approx(root)


def test_two_joints_by_hand():
    # A rod of 2 m, upright and square to the axis, seen 0.4 high: 2 / 0.4 = 5 m away.
    slope = np.array([[0.0, -0.2], [0.0, 0.2]])
    rod = np.array([[0.0, -1.0, 0.0], [0.0, 1.0, 0.0]])
    assert root_from_size(slope, rod, np.ones(2)) == pytest.approx([0.0, 0.0, 5.0])


def test_a_body_believed_to_be_larger_is_put_further_away_in_proportion():
    slope = slopes(np.array([1.0, 0.2, 7.0]))
    near = root_from_size(slope, OFFSETS, np.ones(12))
    far = root_from_size(slope, 1.1 * OFFSETS, np.ones(12))
    assert far == pytest.approx(1.1 * near)


def test_a_joint_without_weight_does_not_count():
    slope = slopes(np.array([1.0, 0.2, 7.0]))
    slope[3] += 0.5
    weight = np.ones(12)
    weight[3] = 0.0
    assert root_from_size(slope, OFFSETS, weight) == pytest.approx([1.0, 0.2, 7.0])


def test_many_frames_at_once():
    roots = np.random.default_rng(1).uniform([-3, -1, 4], [3, 1, 12], (9, 3))
    slope = np.stack([slopes(root) for root in roots])
    assert np.allclose(root_from_size(slope, np.tile(OFFSETS, (9, 1, 1)), np.ones(12)), roots)


def test_a_body_on_the_optical_axis_is_not_turned():
    assert np.allclose(toward_viewing_ray(OFFSETS, np.zeros(2)), OFFSETS)


@pytest.mark.parametrize("slope", [[0.5, 0.0], [0.0, -0.3], [-0.6, 0.2]])
def test_depth_of_the_cut_out_turns_onto_the_viewing_ray(slope):
    away = np.array([[0.0, 0.0, 2.0]])
    turned = toward_viewing_ray(away, np.array(slope))[0]
    ray = np.array([*slope, 1.0])
    assert turned == pytest.approx(2.0 * ray / np.linalg.norm(ray))
    lengths = np.linalg.norm(toward_viewing_ray(OFFSETS, np.array(slope)), axis=-1)
    assert np.allclose(lengths, np.linalg.norm(OFFSETS, axis=-1))


def test_a_ray_to_the_right_turns_the_body_about_the_vertical_alone():
    up = np.array([[0.0, -1.0, 0.0]])
    assert np.allclose(toward_viewing_ray(up, np.array([0.7, 0.0])), up)
