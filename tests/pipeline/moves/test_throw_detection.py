"""All throws found and none extra: not the wind-up, the way back, a walk or a jog."""

from dataclasses import replace

import numpy as np
import pytest

from pipeline.moves.signals import signals_of
from pipeline.moves.throw_detection import find_throws, throwing_speed
from tests.fixtures.players import Player, frames_s, jogger, passer, shooter
from tests.fixtures.views import motion_from
from tests.fixtures.walker import walker_joints_m

TIME_S = frames_s(9.0)
RELEASES_S = (2.0, 4.5, 7.3)


def found_s(signals, **told):
    return [float(signals.time_s[throw.frame]) for throw in find_throws(signals, **told)]


@pytest.mark.parametrize("rate_hz", [30.0, 60.0, 120.0])
@pytest.mark.parametrize("hand", ["left", "right"])
def test_every_throw_is_found_with_its_hand_and_none_extra(rate_hz, hand):
    signals = shooter(frames_s(9.0, rate_hz), RELEASES_S, hand).signals()
    throws = find_throws(signals)
    assert [throw.hand for throw in throws] == [hand] * 3
    assert np.allclose(found_s(signals), RELEASES_S, atol=1.1 / rate_hz)


@pytest.mark.parametrize("peak_mps", [5.0, 12.0, 18.0])
def test_slow_and_fast_throws_are_throws(peak_mps):
    signals = shooter(TIME_S, RELEASES_S, peak_mps=peak_mps).signals()
    assert np.allclose(found_s(signals), RELEASES_S, atol=0.02)


def test_the_way_of_the_hands_back_is_no_throw():
    # One throw, and the return of the hands that follows, as quick as a lift.
    signals = shooter(TIME_S, (4.5,)).signals()
    assert len(find_throws(signals)) == 1


def test_two_bursts_nearer_than_a_player_can_throw_twice_are_one_throw():
    assert len(find_throws(shooter(frames_s(5.0), (2.0, 2.9)).signals())) == 1
    assert len(find_throws(shooter(frames_s(5.0), (2.0, 3.5)).signals())) == 2


def test_standing_and_walking_with_a_carried_stick_are_no_throws():
    assert find_throws(shooter(TIME_S, ()).signals()) == []
    time_s = frames_s(3.0)
    assert find_throws(signals_of(motion_from(time_s, walker_joints_m(time_s)))) == []


def test_a_jog_back_with_a_swinging_stick_after_a_shot_is_no_throw():
    shot, jog = shooter(frames_s(3.6), (2.0,)), jogger(frames_s(5.0), swing=0.08)
    both = Player(
        time_s=frames_s(8.6),
        joints_m=np.concatenate([shot.joints_m, jog.joints_m]),
        contact=np.concatenate([shot.contact, jog.contact]),
    )
    throws = find_throws(both.signals())
    assert [throw.frame for throw in throws] == [120]


def test_a_pass_after_a_step_back_is_found_among_the_run_in_and_the_jog_back():
    signals = passer(frames_s(6.5)).signals()
    assert found_s(signals, standing=True) == pytest.approx([2.9], abs=0.02)


def test_a_throw_by_a_still_body_scores_higher_than_one_on_the_run_where_a_stop_is_due():
    still = shooter(frames_s(3.0), (2.0,))
    way_m = np.zeros((still.time_s.size, 1, 3))
    way_m[:, 0, 0] = 3.0 * still.time_s
    running = replace(still, joints_m=still.joints_m + way_m)
    (stood,), (ran,) = (find_throws(player.signals(), standing=True) for player in (still, running))
    assert ran.score < 0.3 * stood.score


def test_a_hand_that_was_told_is_taken():
    signals = shooter(TIME_S, RELEASES_S, "right").signals()
    assert {throw.hand for throw in find_throws(signals, "left")} <= {"left"}
    assert [throw.hand for throw in find_throws(signals, "right")] == ["right"] * 3


def test_the_speed_of_a_throw_is_that_to_the_front_and_down_alone():
    player = shooter(frames_s(3.0), (2.0,))
    backwards = replace(player, joints_m=player.joints_m[::-1].copy())
    forth = throwing_speed(player.signals())[:, 1].max()
    back = throwing_speed(backwards.signals())[:, 1].max()
    assert forth > 4.0  # statures a second
    assert back < 0.6 * forth
    assert throwing_speed(player.signals()).min() == 0.0


@pytest.mark.parametrize("turn_deg", [90.0, 180.0, 245.0])
def test_throws_are_found_whichever_way_the_scene_is_turned(turn_deg):
    player = shooter(TIME_S, RELEASES_S)
    angle = np.radians(turn_deg)
    turn = np.array(
        [[np.cos(angle), -np.sin(angle), 0], [np.sin(angle), np.cos(angle), 0], [0, 0, 1]]
    )
    turned = replace(player, joints_m=player.joints_m @ turn.T)
    assert found_s(turned.signals()) == pytest.approx(RELEASES_S, abs=0.02)


def test_frames_in_which_nobody_was_found_hide_only_the_throw_in_them():
    player = shooter(TIME_S, RELEASES_S)
    joints_m = player.joints_m.copy()
    joints_m[(TIME_S > 3.4) & (TIME_S < 5.6)] = np.nan
    signals = replace(player, joints_m=joints_m).signals()
    assert found_s(signals) == pytest.approx([2.0, 7.3], abs=0.02)


def test_nobody_throws_where_nobody_is():
    player = shooter(frames_s(2.0), (1.5,))
    nobody = replace(player, joints_m=np.full_like(player.joints_m, np.nan))
    assert find_throws(nobody.signals()) == []
