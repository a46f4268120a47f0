"""Dodges at a defender: both found, the jogs back past him not."""

from dataclasses import replace

import numpy as np
import pytest

from pipeline.moves.close_gap import _Run, _without_ways_back, distance_m, find_dodge_reps
from tests.fixtures.players import (
    CUT_S,
    SECOND_CUT_S,
    defender,
    dodger,
    frames_s,
    jogger,
    shooter,
)

TIME_S = frames_s(14.0)
ATTACKER, DEFENDER = dodger(TIME_S), defender(TIME_S)


@pytest.mark.parametrize("rate_hz", [30.0, 60.0])
def test_both_dodges_are_found_with_their_cuts_and_no_jog_back(rate_hz):
    time_s = frames_s(14.0, rate_hz)
    reps = find_dodge_reps(dodger(time_s).signals(), defender(time_s).signals())
    cuts = [rep.events["dodge_start"].time_s for rep in reps]
    assert cuts == pytest.approx([CUT_S, SECOND_CUT_S], abs=1.1 / rate_hz)
    for rep in reps:
        times = {name: event.time_s for name, event in rep.events.items()}
        assert list(times) == ["start", "dodge_start", "plant", "finish"]
        assert times["start"] < times["plant"] == times["dodge_start"] < times["finish"]
        assert (rep.move, rep.stick_hand) == ("close_gap_dodge", "right")
    assert reps[0].stop_s <= reps[1].start_s


def test_a_run_past_that_does_not_turn_has_no_cut():
    # The defender stands beside the straight way of a jogger and faces him.
    runner = jogger(frames_s(3.5))
    quick = replace(runner, time_s=runner.time_s / 1.6)
    other = defender(quick.time_s)
    reps = find_dodge_reps(quick.signals(), other.signals())
    assert all("dodge_start" not in rep.events for rep in reps)


def test_one_who_jogs_by_from_behind_is_no_dodger():
    middle_m = DEFENDER.joints_m.mean(axis=(0, 1)) * [1.0, 1.0, 0.0]
    turned_m = middle_m + (DEFENDER.joints_m - middle_m) * [-1.0, -1.0, 1.0]
    back = replace(DEFENDER, joints_m=turned_m)
    assert find_dodge_reps(ATTACKER.signals(), back.signals()) == []


def test_a_defender_too_far_away_is_not_dodged():
    far = replace(DEFENDER, joints_m=DEFENDER.joints_m + np.array([0.0, 9.0, 0.0]))
    assert find_dodge_reps(ATTACKER.signals(), far.signals()) == []


def test_without_a_defender_in_view_the_fast_runs_with_a_cut_are_found():
    reps = find_dodge_reps(ATTACKER.signals(), None)
    cuts = [rep.events["dodge_start"].time_s for rep in reps if "dodge_start" in rep.events]
    assert cuts == pytest.approx([CUT_S, SECOND_CUT_S], abs=0.02)


def test_one_cut_over_several_quick_steps_is_one_dodge():
    signals = ATTACKER.signals()
    landed = signals.landed.copy()
    landed[::6] = True  # a landing in every tenth of a second
    assert len(find_dodge_reps(replace(signals, landed=landed), None)) == 2


def test_standing_players_do_not_dodge():
    stands = shooter(TIME_S, ())
    assert find_dodge_reps(stands.signals(), DEFENDER.signals()) == []


def test_without_feet_the_cut_is_left_out_and_not_guessed():
    signals = ATTACKER.signals()
    blind = replace(signals, landed=np.zeros_like(signals.landed))
    reps = find_dodge_reps(blind, DEFENDER.signals())
    assert len(reps) == 2
    assert all(set(rep.events) == {"start", "finish"} for rep in reps)


def test_a_hand_that_was_told_is_kept():
    reps = find_dodge_reps(ATTACKER.signals(), DEFENDER.signals(), "left")
    assert [rep.stick_hand for rep in reps] == ["left", "left"]


def test_distance_is_that_along_the_ground():
    gap = distance_m(ATTACKER.signals(), DEFENDER.signals())
    assert gap[0] == pytest.approx(6.4, abs=0.02)
    assert gap.min() > 0.5


@pytest.mark.parametrize("seen", [True, False])
def test_a_fast_run_the_other_way_counts_only_where_it_was_seen_well(seen):
    there, back = np.array([3.0, 0.5]), np.array([-3.0, -0.5])
    runs_at_him = [
        _Run(near=100, from_front=True, way_mps=there, well_seen=True),
        _Run(near=300, from_front=True, way_mps=back, well_seen=seen),
        _Run(near=500, from_front=True, way_mps=there, well_seen=False),
    ]
    kept = _without_ways_back(runs_at_him, TIME_S)
    assert kept == ([100, 300, 500] if seen else [100, 500])


@pytest.mark.parametrize("share", [0.35, 0.5, 0.7])
def test_a_dodge_at_a_walk_is_found_as_one_at_a_run(share):
    time_s = frames_s(14.0) / share
    slow = replace(dodger(frames_s(14.0)), time_s=time_s)
    other = replace(defender(frames_s(14.0)), time_s=time_s)
    reps = find_dodge_reps(slow.signals(), other.signals())
    assert len(reps) == 2
