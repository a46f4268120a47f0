"""What must not change a measure: the mirror, the scale, the clock, the direction of the scene."""

from collections.abc import Mapping

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.core.types import JOINTS, Motion
from pipeline.measures import MEASURES, measures_of
from pipeline.measures.view import NotMeasured, RepView
from tests.fixtures.dodgers import (
    DODGE_S,
    ROLL_S,
    SLOWEST_S,
    SWITCHED_S,
    angle_cutter,
    guard,
    hesitator,
    roller,
    splitter,
)
from tests.fixtures.players import (
    CUT_S,
    LAST_CONTACT_S,
    PLANT_S,
    THROWBACK_RELEASE_S,
    defender,
    dodger,
    frames_s,
    landed_of,
    passer,
)
from tests.fixtures.throwers import (
    DIP_BEFORE_S,
    STRIDE_BEFORE_S,
    TOP_BEFORE_S,
    low_to_high_shooter,
    running_shooter,
    stepping_shooter,
    turning,
    turning_shooter,
)
from tests.fixtures.views import view_of

TURNS = (1.86, 400.0), (1.94, 700.0)
PLAYERS = {
    "high_to_low_shot": (turning_shooter(), None),
    "throwback_pass": (passer(frames_s(4.0)), None),
    "close_gap_dodge": (dodger(frames_s(4.0)), defender(frames_s(4.0))),
    "low_to_high_shot": (turning(low_to_high_shooter(frames_s(3.0), (2.0,)), *TURNS), None),
    "on_the_run_shot": (turning(running_shooter(frames_s(3.0), 2.0), *TURNS), None),
    "step_down_shot": (turning(stepping_shooter(frames_s(3.0), 2.0), *TURNS), None),
    "pivot_throwback_pass": (passer(frames_s(4.0), pivot_deg=-120.0), None),
    "split_dodge": (splitter(frames_s(4.0)), guard(frames_s(4.0))),
    "angle_cut_dodge": (angle_cutter(frames_s(4.0)), guard(frames_s(4.0))),
    "roll_dodge": (roller(frames_s(4.0), 0.1), guard(frames_s(4.0))),
    "hesitation_dodge": (hesitator(frames_s(4.0)), guard(frames_s(4.0))),
}
FROM_THE_FRONT = {"knee_in_deg", "jab_width_m"}
"""Only where the camera faces the move: held in ``test_plant_leg`` and ``test_dodging``."""
GOAL_M = np.array([[-0.9, 0.5], [0.9, 0.5]])
EVENTS_S: Mapping[str, Mapping[str, float]] = {
    "high_to_low_shot": {"hands_high": 1.5, "release": 2.0},
    "throwback_pass": {
        "plant": PLANT_S,
        "last_contact": LAST_CONTACT_S,
        "release": THROWBACK_RELEASE_S,
    },
    "close_gap_dodge": {"dodge_start": CUT_S, "plant": CUT_S},
    "low_to_high_shot": {
        "hands_low": 2.0 - DIP_BEFORE_S,
        "hands_high": 2.0 - TOP_BEFORE_S,
        "release": 2.0,
    },
    "on_the_run_shot": {"plant": 1.75, "release": 2.0},
    "step_down_shot": {"plant": 2.0 - STRIDE_BEFORE_S, "release": 2.0},
    "split_dodge": {"dodge_start": DODGE_S, "plant": DODGE_S, "hands_switched": SWITCHED_S},
    "angle_cut_dodge": {"dodge_start": DODGE_S, "plant": DODGE_S},
    "roll_dodge": {"dodge_start": DODGE_S, "plant": DODGE_S, "roll_end": DODGE_S + ROLL_S},
    "hesitation_dodge": {"dodge_start": DODGE_S, "plant": DODGE_S, "slowest": SLOWEST_S},
}
EVENTS_S = {**EVENTS_S, "pivot_throwback_pass": EVENTS_S["throwback_pass"]}
SWAPPED = [
    JOINTS.index(
        name.replace("left", "?").replace("right", "left").replace("?", "right")
    )
    for name in JOINTS
]  # fmt: skip
few = settings(max_examples=5, deadline=None)


def view(
    move, change=lambda motion: motion, *, hand="right", shift_s=0.0, goal_m=GOAL_M
) -> RepView:
    athlete, other = PLAYERS[move]
    rep_s = {"start_s": 0.3 + shift_s, "stop_s": 3.0 + shift_s}
    return view_of(
        change(athlete.motion(3)),
        {name: at_s + shift_s for name, at_s in EVENTS_S[move].items()},
        move=move,
        hand=hand,
        defender=None if other is None else change(other.motion(3)),
        goal_m=np.repeat(goal_m[None], 3, axis=0),
        **rep_s,
    )


def values(move, *args, **changes):
    """Values of all measures of a move by key; the reason where there is none."""
    seen = view(move, *args, **changes)
    result = {}
    for info in measures_of(move):
        if info.key in FROM_THE_FRONT:
            continue
        try:
            result[info.key] = info.function(seen).values[0]
        except NotMeasured as missing:
            result[info.key] = str(missing)
    return result


def changed(motion, joints_m, *, contact=None, time_s=None, scale=1.0):
    standing = motion.contact if contact is None else contact
    return Motion(
        time_s=motion.time_s if time_s is None else time_s,
        first_frame=motion.first_frame,
        joints_m=joints_m,
        contact=standing,
        landed=landed_of(standing),
        stature_m=motion.stature_m * scale,
        arm_length_m=np.full(1, np.nan),
    )


def assert_same(found, expected):
    assert found == {
        key: value if isinstance(value, str) else pytest.approx(value, rel=1e-6, abs=1e-6)
        for key, value in expected.items()
    }


@pytest.mark.parametrize("move", PLAYERS)
def test_the_players_of_these_tests_are_measured_in_full(move):
    assert not [value for value in values(move).values() if isinstance(value, str)]


@pytest.mark.parametrize("move", PLAYERS)
def test_the_mirror_swaps_the_hands_and_keeps_the_values(move):
    def mirrored(motion):
        joints_m = motion.joints_m[:, :, SWAPPED] * [-1.0, 1.0, 1.0]
        return changed(motion, joints_m, contact=motion.contact[:, ::-1])

    assert_same(values(move, mirrored, hand="left", goal_m=GOAL_M * [-1.0, 1.0]), values(move))


@pytest.mark.slow
@few
@given(turn_deg=st.floats(-180.0, 180.0), x_m=st.floats(-20.0, 20.0), y_m=st.floats(-20.0, 20.0))
@pytest.mark.parametrize("move", PLAYERS)
def test_turning_and_moving_the_scene_keeps_everything(move, turn_deg, x_m, y_m):
    angle = np.radians(turn_deg)
    turn = np.array(
        [[np.cos(angle), -np.sin(angle), 0], [np.sin(angle), np.cos(angle), 0], [0, 0, 1]]
    )

    def turned(motion):
        return changed(motion, motion.joints_m @ turn.T + np.array([x_m, y_m, 0.0]))

    goal_m = GOAL_M @ turn[:2, :2].T + [x_m, y_m]
    assert_same(values(move, turned, goal_m=goal_m), values(move))


@pytest.mark.slow
@few
@given(scale=st.floats(0.6, 1.3))
@pytest.mark.parametrize("move", PLAYERS)
def test_scaling_the_scene_scales_lengths_and_speeds_alone(move, scale):
    def scaled(motion):
        return changed(motion, motion.joints_m * scale, scale=scale)

    expected = {
        key: value * scale if MEASURES[key].unit in ("m", "m/s") else value
        for key, value in values(move).items()
    }
    assert_same(values(move, scaled, goal_m=GOAL_M * scale), expected)


@pytest.mark.slow
@few
@given(shift_s=st.floats(0.0, 3600.0))
@pytest.mark.parametrize("move", PLAYERS)
def test_shifting_time_keeps_everything(move, shift_s):
    def shifted(motion):
        return changed(motion, motion.joints_m, time_s=motion.time_s + shift_s)

    found, expected = values(move, shifted, shift_s=shift_s), values(move)
    assert found == {
        key: pytest.approx(value, rel=1e-4, abs=1e-4) for key, value in expected.items()
    }
