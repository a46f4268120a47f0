"""The centre of mass of a body."""

import numpy as np
import pytest

from calibration.balance import above_feet_m, centre_of_mass_m
from pipeline.core.types import JOINTS
from tests.fixtures.walker import STATURE_M, body_joints_m, carried, feet_under


def standing():
    root_m = np.zeros((1, 2))
    feet_m, _ = feet_under(np.zeros(1), root_m)
    return body_joints_m(root_m, 0.0, feet_m, carried(1))[0]


def test_the_centre_of_mass_of_one_who_stands_is_near_his_hips_above_his_feet():
    # Textbooks: 55 to 57 % of stature for one who stands straight; this figure stands bent.
    joints = standing()
    assert 0.48 < centre_of_mass_m(joints)[2] / STATURE_M < 0.60
    lean = above_feet_m(joints)
    assert np.degrees(np.arctan2(np.hypot(*lean[:2]), lean[2])) < 4.0


def test_where_all_joints_are_in_one_place_the_centre_is_there_too():
    joints = np.tile([1.0, -2.0, 0.5], (4, len(JOINTS), 1))
    assert np.allclose(centre_of_mass_m(joints), [1.0, -2.0, 0.5])
    assert np.allclose(above_feet_m(joints), 0.0)


def test_the_centre_goes_with_the_body_and_turns_with_it():
    joints = standing()
    angle = 0.7
    turn = np.array(
        [[np.cos(angle), -np.sin(angle), 0], [np.sin(angle), np.cos(angle), 0], [0, 0, 1]]
    )
    moved = joints @ turn.T + [3.0, 4.0, 0.0]
    expected = turn @ centre_of_mass_m(joints) + [3.0, 4.0, 0.0]
    assert centre_of_mass_m(moved) == pytest.approx(expected)


def test_raising_the_arms_raises_the_centre_by_their_share_of_the_mass():
    joints = standing()
    raised = joints.copy()
    for side in ("left", "right"):
        raised[JOINTS.index(f"{side}_hand"), 2] += 1.0
    rise = centre_of_mass_m(raised)[2] - centre_of_mass_m(joints)[2]
    assert rise == pytest.approx(0.012, abs=0.001)  # two hands are 1.2 % of the body


def test_an_unknown_joint_leaves_the_centre_unknown():
    joints = standing()
    joints[JOINTS.index("left_knee")] = np.nan
    assert np.isnan(centre_of_mass_m(joints)).all()
