"""Splits, angle cuts, rolls and hesitations: found and timed, with and without a defender."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from pipeline.core.types import JOINTS
from pipeline.moves.events import Burst
from pipeline.moves.finders import FINDERS
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
from tests.fixtures.players import Player, frames_s, jogger, without

FIGURES: dict[str, Callable[..., Player]] = {
    "split_dodge": splitter,
    "angle_cut_dodge": angle_cutter,
    "roll_dodge": roller,
    "hesitation_dodge": hesitator,
}
OWN = {"split_dodge": "hands_switched", "roll_dodge": "roll_end", "hesitation_dodge": "slowest"}
TIME_S = frames_s(9.0)
PLAYERS = {move: figure(TIME_S) for move, figure in FIGURES.items()}
SWAPPED = [
    JOINTS.index(name.replace("left", "?").replace("right", "left").replace("?", "right"))
    for name in JOINTS
]


def found(move, player, defender=None, hand=None):
    return FINDERS[move].find_reps(
        player.signals(), None if defender is None else defender.signals(), hand
    )


def times(rep):
    return {name: event.time_s for name, event in rep.events.items()}


def mirrored(player):
    return Player(
        time_s=player.time_s,
        joints_m=player.joints_m[:, SWAPPED] * [-1.0, 1.0, 1.0],
        contact=player.contact[:, ::-1],
    )


@pytest.mark.parametrize("guarded", [True, False])
@pytest.mark.parametrize("rate_hz", [30.0, 60.0])
@pytest.mark.parametrize("move", FIGURES)
def test_the_dodge_is_found_with_its_plant_and_the_jog_home_is_not(move, rate_hz, guarded):
    time_s = frames_s(9.0, rate_hz)
    reps = found(move, FIGURES[move](time_s), guard(time_s) if guarded else None)
    assert len(reps) == 1
    events = times(reps[0])
    own = [OWN[move]] if move in OWN else []
    assert list(events) == ["start", "dodge_start", "plant", *own, "finish"]
    assert events["plant"] == events["dodge_start"] == pytest.approx(DODGE_S, abs=1.1 / rate_hz)
    assert events["start"] == pytest.approx(0.55, abs=0.1)
    assert events["plant"] < events["finish"] <= 4.0
    assert (reps[0].move, reps[0].stick_hand, reps[0].index) == (move, "right", 1)


def test_the_hands_have_switched_when_half_of_their_later_distance_is_reached():
    (rep,) = found("split_dodge", PLAYERS["split_dodge"])
    # They pass each other at an even pace within 0.3 s: three quarters of that.
    assert times(rep)["hands_switched"] == pytest.approx(SWITCHED_S + 0.075, abs=0.02)


def test_a_single_frame_with_the_hands_taken_for_one_another_is_no_switch():
    player = PLAYERS["angle_cut_dodge"]
    joints_m = player.joints_m.copy()
    hands = [JOINTS.index("left_hand"), JOINTS.index("right_hand")]
    joints_m[130:132, hands] = joints_m[130:132, hands[::-1]]
    (rep,) = found("split_dodge", replace(player, joints_m=joints_m))
    assert "hands_switched" not in rep.events


def test_a_split_starts_with_the_hand_that_is_on_top_then_whatever_was_told():
    (rep,) = found("split_dodge", PLAYERS["split_dodge"], hand="left")
    assert rep.stick_hand == "right"
    hidden = without(PLAYERS["split_dodge"], np.ones(TIME_S.size, bool), "left_hand", "right_hand")
    (rep,) = found("split_dodge", hidden, hand="left")
    assert rep.stick_hand == "left"
    assert "hands_switched" not in rep.events


def test_the_hand_of_the_other_dodges_is_the_told_one():
    for move in ("angle_cut_dodge", "roll_dodge", "hesitation_dodge"):
        assert [rep.stick_hand for rep in found(move, PLAYERS[move], hand="left")] == ["left"]


def test_a_roll_ends_when_95_percent_of_it_are_turned():
    (rep,) = found("roll_dodge", PLAYERS["roll_dodge"])
    part = np.linspace(0.0, 1.0, 1001)
    turned = part - np.sin(2 * np.pi * part) / (2 * np.pi)
    end_s = DODGE_S + ROLL_S * np.interp(0.95, turned, part)
    assert times(rep)["roll_end"] == pytest.approx(end_s, abs=0.06)


def test_a_hesitation_is_slowest_in_the_middle_of_the_hitch():
    (rep,) = found("hesitation_dodge", PLAYERS["hesitation_dodge"])
    assert times(rep)["slowest"] == pytest.approx(SLOWEST_S, abs=0.03)


@pytest.mark.parametrize("move", FIGURES)
def test_the_mirrored_player_dodges_at_the_same_instants_with_the_other_hand(move):
    (rep,), (other,) = found(move, PLAYERS[move]), found(move, mirrored(PLAYERS[move]))
    assert times(other) == pytest.approx(times(rep))
    assert (rep.stick_hand, other.stick_hand) == ("right", "left")


@pytest.mark.parametrize("off_s", [-0.3, 0.0, 0.3])
@pytest.mark.parametrize("move", FIGURES)
def test_a_burst_need_not_be_told_exactly(move, off_s):
    (expected,) = found(move, PLAYERS[move])
    about_s = {"hesitation_dodge": SLOWEST_S, "roll_dodge": DODGE_S + 0.4}.get(move, 2.15) + off_s
    burst = Burst(frame=round(60 * about_s), earliest=0, latest=TIME_S.size, hand=None)
    rep = FINDERS[move].rep_of(PLAYERS[move].signals(), None, burst)
    assert times(rep) == pytest.approx(times(expected), abs=1e-6)


@pytest.mark.parametrize("move", FIGURES)
def test_no_event_lies_outside_the_burst(move):
    burst = Burst(frame=128, earliest=125, latest=131, hand=None)
    rep = FINDERS[move].rep_of(PLAYERS[move].signals(), None, burst)
    assert all(125 <= event.frame <= 131 for event in rep.events.values())


@pytest.mark.parametrize("move", FIGURES)
def test_a_rep_of_another_motion_has_no_events_of_its_own(move):
    burst = Burst(frame=120, earliest=0, latest=210, hand=None)
    rep = FINDERS[move].rep_of(jogger(frames_s(3.5)).signals(), None, burst)
    assert set(rep.events) == {"start", "finish"}


@pytest.mark.parametrize("move", FIGURES)
def test_a_straight_run_is_no_dodge(move):
    assert found(move, jogger(frames_s(3.5))) == []


@pytest.mark.parametrize("move", FIGURES)
def test_a_defender_far_away_is_not_dodged(move):
    away = guard(TIME_S)
    far = replace(away, joints_m=away.joints_m + np.array([0.0, 9.0, 0.0]))
    assert found(move, PLAYERS[move], far) == []


@pytest.mark.parametrize("move", ["split_dodge", "angle_cut_dodge", "hesitation_dodge"])
def test_without_feet_the_plant_is_left_out_and_not_guessed(move):
    player = PLAYERS[move]
    signals = player.signals()
    blind = replace(signals, landed=np.zeros_like(signals.landed))
    (rep,) = FINDERS[move].find_reps(blind, None, None)
    assert not {"dodge_start", "plant"} & set(rep.events)


def test_a_split_without_hands_in_view_is_still_found():
    hidden = without(PLAYERS["split_dodge"], np.ones(TIME_S.size, bool), "left_hand", "right_hand")
    assert len(found("split_dodge", hidden)) == 1
