"""A motion seen from the body: place, direction and size of the scene drop out."""

import numpy as np
import pytest

from pipeline.core.types import JOINTS
from pipeline.moves.body_frame import body_frame, mirrored
from pipeline.moves.signals import signals_of
from tests.fixtures.players import frames_s
from tests.fixtures.views import motion_from
from tests.fixtures.walker import SPEED_MPS, STATURE_M, walker_joints_m

TIME_S = frames_s(3.0)


def walker(direction_deg=0.0, moved_m=0.0):
    joints_m = np.add(walker_joints_m(TIME_S, direction_deg), [moved_m, -moved_m, 0.0])
    motion = motion_from(TIME_S, joints_m)
    return body_frame(motion, signals_of(motion))


def test_a_walker_goes_forward_at_his_speed():
    frame = walker(40.0)
    assert np.allclose(frame.velocity[20:-20], [SPEED_MPS / STATURE_M, 0.0], atol=0.02)
    assert frame.joints[60, JOINTS.index("nose"), 0] > 0.03
    assert frame.joints[60, JOINTS.index("left_shoulder"), 1] == pytest.approx(0.1, abs=0.01)


@pytest.mark.parametrize(("direction_deg", "moved_m"), [(90.0, 0.0), (0.0, 5.0), (-150.0, 3.0)])
def test_where_and_which_way_one_walks_makes_no_difference(direction_deg, moved_m):
    one, other = walker(), walker(direction_deg, moved_m)
    assert np.allclose(one.joints, other.joints, atol=1e-6)
    assert np.allclose(one.velocity, other.velocity, atol=1e-6)


def test_the_mirror_image_of_a_mirror_image_is_the_body_itself():
    frame = walker(25.0)
    image = mirrored(frame)
    left, right = JOINTS.index("left_hand"), JOINTS.index("right_hand")
    assert np.allclose(image.joints[:, left], frame.joints[:, right] * [1, -1, 1])
    assert np.array_equal(mirrored(image).joints, frame.joints)
    assert np.array_equal(mirrored(image).turn_rad, frame.turn_rad)
