"""Cuts, jab steps, hand switches, rolls and hitches, against numbers worked by hand."""

import numpy as np
import pytest

from pipeline.core.types import JOINTS, Motion
from pipeline.measures import dodging, spacing
from pipeline.measures.view import NotMeasured
from tests.fixtures.dodgers import (
    CUT_DEG,
    DODGE_S,
    FAST_MPS,
    JAB_M,
    ROLL_DEG,
    ROLL_S,
    SLOW_MPS,
    SLOWEST_S,
    SWITCHED_S,
    angle_cutter,
    hesitator,
    roller,
    splitter,
)
from tests.fixtures.players import frames_s
from tests.fixtures.views import motion_from, view_of

TIME_S = frames_s(5.0)
CONTACT_S = {"dodge_start": DODGE_S, "plant": DODGE_S}
ROLL_EVENTS_S = CONTACT_S | {"roll_end": DODGE_S + ROLL_S}
SWAPPED = [
    JOINTS.index(name.replace("left", "?").replace("right", "left").replace("?", "right"))
    for name in JOINTS
]
HITCH_EVENTS_S = CONTACT_S | {"slowest": SLOWEST_S}


def dodge(player, events_s=CONTACT_S, move="angle_cut_dodge", n_draws=3):
    return view_of(player.motion(n_draws), events_s, move=move, start_s=0.5, stop_s=3.4)


def hips_along(*keys, **changes):
    """View of somebody whose hips move at (time, vx, vy), linear between these instants."""
    at_s, x, y = np.array(keys, float).T
    step_s = TIME_S[1]
    way = [np.cumsum(np.interp(TIME_S, at_s, v)) * step_s for v in (x, y)]
    hips = np.column_stack([*way, 0.9 + 0 * TIME_S])
    motion = motion_from(TIME_S, {"left_hip": hips, "right_hip": hips})
    return view_of(motion, changes.pop("events_s", CONTACT_S), move="angle_cut_dodge", **changes)


@pytest.mark.parametrize("turn_deg", [0.0, 45.0, 90.0, 135.0, 180.0])
def test_the_cut_is_the_angle_between_the_way_in_and_the_way_out(turn_deg):
    angle = np.radians(turn_deg)
    out = 3.0 * np.cos(angle), -3.0 * np.sin(angle)
    view = hips_along((0, 3, 0), (DODGE_S, 3, 0), (DODGE_S + 0.02, *out), (9, *out))
    assert dodging.cut_angle(view).values[0] == pytest.approx(turn_deg, abs=0.01)


def test_the_figures_cut_by_what_they_are_made_to():
    for figure in (splitter, angle_cutter):
        value = dodging.cut_angle(dodge(figure(TIME_S))).values[0]
        assert value == pytest.approx(CUT_DEG, abs=1.0)


def test_who_hardly_moves_cuts_by_no_angle():
    with pytest.raises(NotMeasured, match="hardly moved"):
        dodging.cut_angle(hips_along((0, 3, 0), (1.9, 3, 0), (2.2, 0.1, 0), (9, 0.1, 0)))


def test_a_cut_at_the_edge_of_the_film_has_no_angle():
    for at_s in (0.1, 4.8):
        view = hips_along((0, 3, 0), (9, 3, 0), events_s={"dodge_start": at_s})
        with pytest.raises(NotMeasured, match="film does not show"):
            dodging.cut_angle(view)


def test_the_cut_is_as_unsure_as_the_direction_of_the_hips():
    view = dodge(angle_cutter(TIME_S), n_draws=401)
    slow = dodge(angle_cutter(TIME_S, leave_mps=1.5), n_draws=401)
    spread, wider = (dodging.cut_angle(each).values[1:].std() for each in (view, slow))
    assert 2.0 < spread < wider


def jab(turn_deg=-90.0, scale=1.0, mirror=False):
    """View of the splitter who runs towards the camera at 9 m; the whole scene may be turned."""
    motion = splitter(TIME_S).motion(3)
    joints_m, contact = motion.joints_m[0] - [2.0, 9.0, 0.0], motion.contact
    if mirror:
        joints_m, contact = joints_m[:, SWAPPED] * [1.0, -1.0, 1.0], contact[:, ::-1]
    towards = np.array([[0.0, -1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
    angle = np.radians(turn_deg + 90.0)
    turn = np.array(
        [[np.cos(angle), -np.sin(angle), 0], [np.sin(angle), np.cos(angle), 0], [0, 0, 1]]
    )
    joints_m = scale * (joints_m @ towards + [0.0, 9.0, 0.0]) @ turn.T
    return view_of(motion_from(TIME_S, joints_m, contact=contact), CONTACT_S, move="split_dodge")


def test_the_jab_is_as_wide_as_the_foot_is_off_the_hips_across_the_run():
    reading = dodging.jab_width(jab())
    signals, plant = splitter(TIME_S).signals(), round(60 * DODGE_S)
    # The foot is set down where the stance will be, so less wide than the jab alone.
    expected_m = signals.hips_m[plant, 1] - signals.foot_m[plant, 1, 1]
    assert JAB_M < reading.values[0] == pytest.approx(expected_m, abs=0.01)
    assert (reading.ends_m[:, 2] == 0.0).all()


@pytest.mark.parametrize(("turn_deg", "scale", "mirror"), [(30, 1, 0), (0, 0.7, 0), (-90, 1, 1)])
def test_the_jab_keeps_in_the_mirror_and_when_all_turns_about_the_camera(turn_deg, scale, mirror):
    expected = scale * dodging.jab_width(jab()).values[0]
    changed = dodging.jab_width(jab(turn_deg, scale, bool(mirror)))
    assert changed.values[0] == pytest.approx(expected, rel=1e-6)


def test_a_jab_along_the_sight_is_a_reason():
    with pytest.raises(NotMeasured, match="towards the camera or away"):
        dodging.jab_width(dodge(splitter(TIME_S)))


def test_no_jab_without_a_run():
    slow = splitter(TIME_S).motion(3)
    joints_m = slow.joints_m - slow.middle("hip")[:, :, None] * [1, 1, 0]
    still = motion_from(TIME_S, joints_m[0], contact=slow.contact)
    with pytest.raises(NotMeasured, match="no run"):
        dodging.jab_width(view_of(still, CONTACT_S, move="split_dodge"))


def test_the_hand_switch_is_counted_from_the_plant():
    view = dodge(splitter(TIME_S), CONTACT_S | {"hands_switched": SWITCHED_S})
    assert dodging.hand_switch(view).values[0] == pytest.approx(SWITCHED_S - DODGE_S)
    with pytest.raises(NotMeasured, match="not seen to change places"):
        dodging.hand_switch(dodge(splitter(TIME_S)))


def test_the_turn_of_a_roll_and_its_time():
    view = dodge(roller(TIME_S), ROLL_EVENTS_S, "roll_dodge")
    assert dodging.roll_turn(view).values[0] == pytest.approx(abs(ROLL_DEG), abs=3.0)
    part = np.linspace(0.0, 1.0, 1001)
    turned = part - np.sin(2 * np.pi * part) / (2 * np.pi)
    expected_s = ROLL_S * float(np.diff(np.interp([0.05, 0.95], turned, part))[0])
    assert dodging.roll_time(view).values[0] == pytest.approx(expected_s, abs=0.04)


def test_hidden_hips_have_no_turn():
    view = dodge(roller(TIME_S), ROLL_EVENTS_S, "roll_dodge")
    view.athlete.joint("left_hip")[:, 125:160] = np.nan
    with pytest.raises(NotMeasured, match="hips were hidden"):
        dodging.roll_turn(view)
    with pytest.raises(NotMeasured, match="turn far enough"):
        dodging.roll_time(dodge(roller(TIME_S)))


@pytest.mark.parametrize("drift_m", [0.0, 0.1, 0.25])
def test_the_pivot_foot_drifts_by_its_way_and_not_by_its_turn(drift_m):
    # The figure's foot turns about its middle, so that its ball goes round by 0.2 of its length.
    view = dodge(roller(TIME_S, drift_m), ROLL_EVENTS_S, "roll_dodge")
    motion = view.athlete
    heel, toe = motion.joint("left_heel"), motion.joint("left_toe")
    middle = 0.5 * (heel + toe)
    ahead = np.array([0.1, 0.0, 0.0])
    ball = middle  # the foot turned about its ball
    turned = Motion(
        time_s=motion.time_s, first_frame=0, joints_m=motion.joints_m.copy(),
        contact=motion.contact, landed=motion.landed, stature_m=motion.stature_m,
        arm_length_m=motion.arm_length_m,
    )  # fmt: skip
    turned.joint("left_heel")[:] = ball - dodging.BALL_FROM_HEEL * ahead
    turned.joint("left_toe")[:] = ball + (1 - dodging.BALL_FROM_HEEL) * ahead
    view = view_of(turned, ROLL_EVENTS_S, move="roll_dodge")
    reading = dodging.pivot_drift(view)
    # A place is a mean over 0.08 s, in which the foot goes a tenth of the way.
    assert reading.values[0] == pytest.approx(0.9 * drift_m, abs=0.01)


def test_a_pivot_foot_that_is_not_seen_to_stand_is_a_reason():
    view = dodge(roller(TIME_S), ROLL_EVENTS_S, "roll_dodge")
    view.athlete.contact[125:, 0] = False
    with pytest.raises(NotMeasured, match="not seen to stand"):
        dodging.pivot_drift(view)


def test_the_hitch_drops_to_a_share_of_the_approach():
    view = dodge(hesitator(TIME_S), HITCH_EVENTS_S, "hesitation_dodge")
    assert spacing.approach_speed(view).values[0] == pytest.approx(FAST_MPS)
    assert spacing.exit_speed(view).values[0] == pytest.approx(FAST_MPS, abs=0.02)
    assert spacing.speed_kept(view).values[0] == pytest.approx(1.0, abs=0.01)
    assert dodging.hitch_drop(view).values[0] == pytest.approx(SLOW_MPS / FAST_MPS, abs=0.01)


def test_the_hitch_lasts_while_the_hips_are_under_half_of_the_approach():
    # From 4 to 1.2 m/s in 0.35 s and back in 0.4 s: 2 m/s is passed 0.25 s after the plant, and
    # 0.114 s after the slow spell, which ends 0.55 s after it.
    view = dodge(hesitator(TIME_S), HITCH_EVENTS_S, "hesitation_dodge")
    expected_s = 0.55 + 0.4 * 0.8 / 2.8 - 0.35 * 2.0 / 2.8
    assert dodging.hitch_time(view).values[0] == pytest.approx(expected_s, abs=0.02)


def test_who_never_slows_to_half_has_a_hitch_of_no_time():
    view = hips_along(
        (0, 4, 0), (DODGE_S, 4, 0), (2.3, 2.5, 0), (2.6, 2.5, 0), (3, 4, 0), (9, 4, 0),
        events_s=HITCH_EVENTS_S,
    )  # fmt: skip
    assert dodging.hitch_time(view).values[0] == 0.0
    assert dodging.hitch_drop(view).values[0] == pytest.approx(2.5 / 4, abs=0.01)


def test_who_stops_for_good_has_no_exit():
    view = hips_along(
        (0, 4, 0), (DODGE_S, 4, 0), (2.3, 0, 0), (9, 0, 0), events_s=HITCH_EVENTS_S
    )  # fmt: skip
    with pytest.raises(NotMeasured, match="gather speed"):
        spacing.exit_speed(view)


def test_hidden_hips_have_no_hitch():
    view = dodge(hesitator(TIME_S), HITCH_EVENTS_S, "hesitation_dodge")
    view.athlete.joint("left_hip")[:, 140:150] = np.nan
    with pytest.raises(NotMeasured, match="not seen during the whole dodge"):
        dodging.hitch_time(view)


def test_no_hitch_without_a_run_up_or_at_the_edge_of_the_film():
    view = hips_along((0, 0.2, 0), (9, 0.2, 0), events_s=HITCH_EVENTS_S)
    for measure in (dodging.hitch_drop, dodging.hitch_time):
        with pytest.raises(NotMeasured, match="no run-up"):
            measure(view)
    late = hips_along(
        (0, 4, 0), (9, 4, 0), events_s={"dodge_start": 4.99, "slowest": 4.99, "plant": 4.99}
    )
    with pytest.raises(NotMeasured, match="film does not show"):
        spacing.exit_speed(late)
