"""Turn speeds of hips and trunk and their order, against turns of known speed and instant."""

import numpy as np
import pytest

from pipeline.core.types import JOINTS
from pipeline.measures import angles
from pipeline.measures.view import NotMeasured
from tests.fixtures.players import frames_s, shooter
from tests.fixtures.throwers import turning
from tests.fixtures.views import motion_from, view_of

RELEASE_S = 2.0
TIME_S = frames_s(3.0, 240.0)


def view(hips=(1.86, 400.0), trunk=(1.94, 700.0), *, hand="right", release_s=RELEASE_S, **width):
    player = turning(shooter(TIME_S, (RELEASE_S,)), hips, trunk, **width)
    return view_of(player.motion(3), {"release": release_s}, hand=hand)


def as_seen_dps(reading):
    """Turn speed before it is made up for what the pose model does not follow."""
    return reading.values[0] * angles.SEEN_SHARE


def test_the_greatest_turn_speeds_are_those_of_the_turn():
    seen = view()
    assert as_seen_dps(angles.pelvis_turn_speed(seen)) == pytest.approx(400.0, rel=0.01)
    assert as_seen_dps(angles.trunk_turn_speed(seen)) == pytest.approx(700.0, rel=0.01)


def test_hips_trunk_and_hand_come_one_after_the_other():
    seen = view()
    assert angles.pelvis_to_trunk(seen).values[0] == pytest.approx(0.08, abs=0.002)
    assert angles.trunk_to_hand(seen).values[0] == pytest.approx(0.06, abs=0.002)


def test_a_trunk_that_leads_or_comes_after_the_hand_is_negative():
    assert angles.pelvis_to_trunk(view((1.9, 400.0), (1.8, 500.0))).values[0] < -0.08
    assert angles.trunk_to_hand(view((1.9, 400.0), (2.06, 500.0))).values[0] < -0.04


def test_the_peak_lies_between_two_frames():
    time_s = frames_s(3.0, 30.0)
    player = turning(shooter(time_s, (RELEASE_S,)), (1.85, 400.0), (1.95, 400.0), width_s=0.2)
    seen = view_of(player.motion(3), {"release": RELEASE_S})
    assert angles.pelvis_to_trunk(seen).values[0] == pytest.approx(0.1, abs=0.01)


def test_the_wind_up_turns_the_other_way_and_does_not_count():
    seen = view((1.7, -600.0), (1.7, -600.0))
    for measure in (angles.pelvis_turn_speed, angles.pelvis_to_trunk):
        with pytest.raises(NotMeasured, match="hips hardly turned"):
            measure(seen)


def test_with_the_left_hand_on_top_the_body_turns_to_the_right():
    seen = view((1.86, -400.0), (1.94, -700.0), hand="left")
    assert as_seen_dps(angles.trunk_turn_speed(seen)) == pytest.approx(700.0, rel=0.01)
    assert angles.pelvis_to_trunk(seen).values[0] == pytest.approx(0.08, abs=0.002)


def test_what_comes_after_the_release_is_no_speed_before_it():
    with pytest.raises(NotMeasured, match="trunk hardly turned"):
        angles.trunk_turn_speed(view((2.3, 400.0), (2.3, 700.0)))


def test_a_line_that_turns_across_the_seam_of_half_a_turn_goes_on():
    angle = np.radians(170.0 + 200.0 * (TIME_S - RELEASE_S + 0.3))
    along = 0.2 * np.column_stack([np.cos(angle), np.sin(angle), 0 * angle])
    joints = np.full((TIME_S.size, len(JOINTS), 3), np.nan)
    joints[:, JOINTS.index("left_hip")] = -along
    joints[:, JOINTS.index("right_hip")] = along
    seen = view_of(motion_from(TIME_S, joints), {"release": RELEASE_S})
    assert as_seen_dps(angles.pelvis_turn_speed(seen)) == pytest.approx(200.0)


def test_too_few_frames_are_a_reason():
    motion = motion_from(np.array([0.0, 1.0, 2.0]), {"left_hip": np.zeros(3)})
    with pytest.raises(NotMeasured, match="too few frames"):
        angles.pelvis_turn_speed(view_of(motion, {"release": 1.0}))
