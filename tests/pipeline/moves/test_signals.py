"""Signals over a clip: speeds, facing, the top hand, touchdowns."""

from dataclasses import replace

import numpy as np
import pytest

from pipeline.core.types import JOINTS
from pipeline.moves.signals import local_peaks, signals_of, top_hand, touchdowns
from tests.fixtures.players import frames_s, jogger, passer, shooter, without
from tests.fixtures.views import motion_from
from tests.fixtures.walker import SPEED_MPS, STATURE_M, feet_under, walker_joints_m, walker_root_m

TIME_S = frames_s(3.0)


def walk(direction_deg=0.0):
    contact = feet_under(TIME_S, walker_root_m(TIME_S, direction_deg), direction_deg)[1]
    joints_m = walker_joints_m(TIME_S, direction_deg)
    return signals_of(motion_from(TIME_S, joints_m, contact=contact))


@pytest.mark.parametrize("direction_deg", [0.0, 60.0, 180.0, -100.0])
def test_speed_and_facing_of_a_walker(direction_deg):
    signals = walk(direction_deg)
    angle = np.radians(direction_deg)
    ahead = np.array([np.cos(angle), np.sin(angle)])
    assert np.allclose(signals.hips_mps[20:-20], SPEED_MPS * ahead, atol=0.02)
    assert np.allclose(signals.facing, ahead, atol=0.01)
    assert signals.stature_m == STATURE_M
    assert signals.known.all()


def test_hands_that_go_along_with_the_body_have_no_speed():
    assert walk().hand_mps.max() < 0.01


def test_the_speed_of_a_hand_against_the_hips_peaks_at_the_release():
    signals = shooter(frames_s(3.0), (2.0,), peak_mps=9.0).signals()
    assert np.nanargmax(signals.hand_mps[:, 1]) == 120
    # Part of it goes in depth, which is hardly seen: never more than the true speed.
    assert 5.0 < signals.hand_mps[:, 1].max() < 9.0


def test_a_hidden_hand_is_stood_in_for_by_the_other():
    player = shooter(TIME_S, (2.0,))
    hidden = (TIME_S > 1.0) & (TIME_S < 1.5)
    signals = without(player, hidden, "left_hand").signals()
    assert np.isfinite(signals.hand_height_m).all()
    assert np.allclose(signals.hand_height_m[hidden, 0], signals.hand_height_m[hidden, 1])
    both = without(player, hidden, "left_hand", "right_hand").signals()
    assert np.isnan(both.hand_height_m[hidden]).all()


@pytest.mark.parametrize(("lost_s", "bridged"), [(0.4, True), (1.0, False)])
def test_the_path_goes_on_through_short_gaps_only(lost_s, bridged):
    player = jogger(TIME_S)
    lost = (TIME_S > 1.0) & (1.0 + lost_s > TIME_S)
    signals = without(player, lost, *JOINTS).signals()
    assert np.isfinite(signals.hips_m[lost]).all() == bridged
    assert np.isnan(signals.hips_m[lost]).all() != bridged
    assert (signals.known == ~lost).all()
    whole = player.signals()
    if bridged:
        assert np.allclose(signals.hips_m[lost], whole.hips_m[lost], atol=0.05)
    assert np.isfinite(signals.hips_m[~lost]).all()


@pytest.mark.parametrize("hand", ["left", "right"])
def test_the_top_hand_is_the_higher_one_in_the_wind_up(hand):
    signals = shooter(TIME_S, (2.0,), hand).signals()
    assert top_hand(signals, 60, 110) == hand


def test_heights_that_hardly_differ_leave_it_to_the_usual_hand():
    signals = shooter(TIME_S, (2.0,)).signals()
    alike = replace(signals, hand_height_m=1.0 + np.tile([0.0, 0.05], (TIME_S.size, 1)))
    assert top_hand(alike, 0, 60) == "right"
    assert top_hand(alike, 0, 60, "left") == "left"
    assert top_hand(replace(signals, hand_height_m=alike.hand_height_m * np.nan), 0, 60) is None


def test_peaks_are_found_once_also_on_a_flat_top_and_not_where_unknown():
    assert local_peaks(np.array([0.0, 2.0, 1.0, 3.0, 3.0, 0.0, np.nan, 1.0])) == [1, 3]
    assert local_peaks(np.arange(5.0)) == []


def test_touchdowns_are_those_of_the_feet():
    player = passer(frames_s(3.5))
    landings = [(first, foot) for first, _, foot in touchdowns(player.signals()) if first >= 115]
    assert landings == [(120, 1), (150, 0)]


def test_turning_the_scene_about_the_vertical_changes_no_speed_that_is_seen_square():
    # A scene turned by half a turn: all depth changes sign, nothing else.
    player = passer(frames_s(4.0))
    turned = replace(player, joints_m=player.joints_m * [-1.0, -1.0, 1.0])
    assert np.allclose(turned.signals().hand_mps, player.signals().hand_mps)
    assert np.allclose(turned.signals().hips_mps, -player.signals().hips_mps)
