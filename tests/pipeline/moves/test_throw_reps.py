"""Reps that end in a throw: all found, none extra, with their events in order."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from pipeline.core.move_table import MOVE_INFO
from pipeline.moves.events import Burst
from pipeline.moves.finders import FINDERS
from pipeline.moves.footwork import pace_mps
from pipeline.moves.shots import SHORTEST_AFTER_RUN_S
from pipeline.moves.throw_reps import LONGEST_RUN_IN_S, run_in_start
from tests.fixtures.players import (
    LAST_CONTACT_S,
    PLANT_S,
    RELEASE_WITHIN_S,
    THROWBACK_RELEASE_S,
    frames_s,
    jogger,
    passer,
    shooter,
)
from tests.fixtures.throwers import (
    DIP_BEFORE_S,
    STRIDE_BEFORE_S,
    low_to_high_shooter,
    running_shooter,
    stepping_shooter,
)

find_high_to_low_reps = FINDERS["high_to_low_shot"].find_reps
find_low_to_high_reps = FINDERS["low_to_high_shot"].find_reps
find_on_the_run_reps = FINDERS["on_the_run_shot"].find_reps
find_step_down_reps = FINDERS["step_down_shot"].find_reps
find_throwback_reps = FINDERS["throwback_pass"].find_reps
find_pivot_throwback_reps = FINDERS["pivot_throwback_pass"].find_reps

TIME_S = frames_s(9.0)
RELEASES_S = (2.0, 4.5, 7.3)


def test_every_shot_is_a_rep_with_its_events():
    reps = find_high_to_low_reps(shooter(TIME_S, RELEASES_S).signals(), None)
    assert [rep.index for rep in reps] == [1, 2, 3]
    for rep, release_s in zip(reps, RELEASES_S, strict=True):
        times = {name: event.time_s for name, event in rep.events.items()}
        assert list(times) == ["start", "hands_high", "release", "finish"]
        assert list(times.values()) == sorted(times.values())
        assert times["release"] == pytest.approx(release_s, abs=RELEASE_WITHIN_S)
        assert rep.start_s < release_s - 0.8
        assert (rep.move, rep.stick_hand) == ("high_to_low_shot", "right")
        assert TIME_S[rep.start_frame] == rep.start_s
        assert TIME_S[rep.stop_frame - 1] == rep.stop_s


def test_reps_do_not_overlap():
    reps = find_high_to_low_reps(shooter(TIME_S, (2.0, 3.4, 4.8)).signals(), None)
    assert len(reps) == 3
    for before, after in pairwise(reps):
        assert before.stop_s <= after.start_s


def test_a_clip_that_ends_with_the_release_still_gives_its_rep():
    reps = find_high_to_low_reps(shooter(frames_s(2.08), (2.0,)).signals(), None)
    assert len(reps) == 1
    # Nothing is seen of the end of the burst: the release is found 0.047 s late.
    assert reps[0].events["release"].time_s == pytest.approx(2.0, abs=0.05)


def test_a_throwback_has_its_plant_and_its_last_contact():
    (rep,) = find_throwback_reps(passer(frames_s(6.5)).signals(), None)
    times = {name: event.time_s for name, event in rep.events.items()}
    assert list(times) == ["start", "plant", "last_contact", "release", "finish"]
    assert times["plant"] == pytest.approx(PLANT_S, abs=0.02)
    assert times["last_contact"] == pytest.approx(LAST_CONTACT_S, abs=0.02)
    assert times["release"] == pytest.approx(THROWBACK_RELEASE_S, abs=RELEASE_WITHIN_S)
    assert 0.3 < times["start"] < 0.7  # he sets off at 0.4 s
    assert rep.move == "throwback_pass"


def test_without_feet_neither_plant_nor_last_contact_is_made_up():
    signals = passer(frames_s(6.5)).signals()
    nowhere = np.zeros_like(signals.contact)
    (rep,) = find_throwback_reps(replace(signals, contact=nowhere, landed=nowhere), None)
    assert "last_contact" not in rep.events
    assert "plant" not in rep.events


def test_a_plant_that_is_the_last_contact_of_a_foot_that_was_seen_stays_it():
    signals = passer(frames_s(6.5)).signals()
    contact = signals.contact.copy()
    contact[125:, 0] = False  # the foot that steps back is never seen to land
    (rep,) = find_throwback_reps(replace(signals, contact=contact), None)
    assert rep.events["last_contact"].time_s == pytest.approx(PLANT_S, abs=0.03)


def test_the_hand_that_was_told_is_the_stick_hand():
    signals = shooter(TIME_S, RELEASES_S, "left").signals()
    assert {rep.stick_hand for rep in find_high_to_low_reps(signals, None, "left")} == {"left"}


@pytest.mark.parametrize("swing", [0.08, 0.12, 0.15])
def test_a_jog_with_a_swinging_stick_alone_gives_no_rep(swing):
    signals = jogger(frames_s(8.0), swing=swing).signals()
    assert find_high_to_low_reps(signals, None) == []
    assert find_throwback_reps(signals, None) == []


def test_no_throw_gives_no_rep():
    assert find_high_to_low_reps(shooter(frames_s(3.0), ()).signals(), None) == []
    assert find_throwback_reps(shooter(frames_s(3.0), ()).signals(), None) == []


@pytest.mark.parametrize("find_reps", [find_high_to_low_reps, find_throwback_reps])
def test_shifting_time_shifts_the_events_and_keeps_the_durations(find_reps):
    player = passer(frames_s(6.5))
    later = replace(player, time_s=player.time_s + 17.0)
    reps, shifted = find_reps(player.signals(), None), find_reps(later.signals(), None)
    assert len(reps) == len(shifted)
    for plain, moved in zip(reps, shifted, strict=True):
        assert plain.stop_s - plain.start_s == pytest.approx(moved.stop_s - moved.start_s)
        for name, event in plain.events.items():
            assert moved.events[name].time_s == pytest.approx(event.time_s + 17.0, abs=0.002)
            assert moved.events[name].frame == event.frame


def test_a_throwback_whose_plant_was_hidden_is_a_rep_without_a_plant():
    time_s = frames_s(4.0)
    signals = passer(time_s).signals()
    landed = signals.landed.copy()
    landed[(time_s > PLANT_S - 0.35) & (time_s < LAST_CONTACT_S)] = False
    (rep,) = find_throwback_reps(replace(signals, landed=landed), None)
    assert "release" in rep.events
    assert "plant" not in rep.events


@pytest.mark.parametrize("hand", ["left", "right"])
def test_a_low_to_high_shot_has_its_dip_and_its_lift(hand):
    signals = low_to_high_shooter(TIME_S, RELEASES_S, hand).signals()
    reps = find_low_to_high_reps(signals, None)
    assert [rep.index for rep in reps] == [1, 2, 3]
    for rep, release_s in zip(reps, RELEASES_S, strict=True):
        times = {name: event.time_s for name, event in rep.events.items()}
        assert list(times) == ["start", "hands_low", "hands_high", "release", "finish"]
        assert list(times.values()) == sorted(times.values())
        assert times["hands_low"] == pytest.approx(release_s - DIP_BEFORE_S, abs=0.02)
        assert times["release"] == pytest.approx(release_s, abs=RELEASE_WITHIN_S)
        assert (rep.move, rep.stick_hand) == ("low_to_high_shot", hand)


def test_a_shot_without_a_dip_is_no_low_to_high_shot():
    lifted_first = stepping_shooter(frames_s(4.0), 2.6).signals()
    heights = np.maximum(lifted_first.hand_height_m, 0.68 * lifted_first.stature_m)
    assert find_low_to_high_reps(replace(lifted_first, hand_height_m=heights + 0.9), None) != []
    still_high = np.full_like(heights, 1.6)
    assert find_low_to_high_reps(replace(lifted_first, hand_height_m=still_high), None) == []


@pytest.mark.parametrize("hand", ["left", "right"])
def test_a_shot_on_the_run_is_taken_off_the_foot_that_landed_last(hand):
    (rep,) = find_on_the_run_reps(running_shooter(frames_s(4.5), 2.6, hand).signals(), None)
    times = {name: event.time_s for name, event in rep.events.items()}
    assert list(times) == ["start", "plant", "release", "finish"]
    assert times["plant"] == pytest.approx(2.5, abs=0.02)
    assert times["release"] == pytest.approx(2.6, abs=RELEASE_WITHIN_S)
    assert 0.4 < times["start"] < 0.8  # he sets off at 0.5 s
    assert rep.stick_hand == hand


def test_a_shot_from_a_stand_is_none_on_the_run_and_the_other_way_round():
    standing = stepping_shooter(frames_s(4.0), 2.6).signals()
    running = running_shooter(frames_s(4.5), 2.6).signals()
    assert find_on_the_run_reps(shooter(TIME_S, RELEASES_S).signals(), None) == []
    assert find_step_down_reps(running, None) == []
    assert len(find_step_down_reps(standing, None)) == 1


@pytest.mark.parametrize("hand", ["left", "right"])
def test_a_step_down_shot_plants_the_front_foot(hand):
    (rep,) = find_step_down_reps(stepping_shooter(frames_s(4.0), 2.6, hand).signals(), None)
    times = {name: event.time_s for name, event in rep.events.items()}
    assert list(times) == ["start", "plant", "release", "finish"]
    assert times["plant"] == pytest.approx(2.6 - STRIDE_BEFORE_S, abs=0.02)
    assert rep.stick_hand == hand


def test_set_feet_have_no_plant():
    for rep in find_step_down_reps(shooter(TIME_S, RELEASES_S).signals(), None):
        assert list(rep.events) == ["start", "release", "finish"]


def test_a_pivot_throwback_has_the_events_of_a_throwback_and_the_weak_hand_on_top():
    time_s = frames_s(6.5)
    before, after = (passer(time_s, hand, -120.0) for hand in ("right", "left"))
    # The hands change places in a split at 1.2 s.
    joints_m = np.where((time_s < 1.2)[:, None, None], before.joints_m, after.joints_m)
    (rep,) = find_pivot_throwback_reps(replace(before, joints_m=joints_m).signals(), None)
    times = {name: event.time_s for name, event in rep.events.items()}
    assert list(times) == ["start", "plant", "last_contact", "release", "finish"]
    assert times["plant"] == pytest.approx(PLANT_S, abs=0.02)
    assert times["last_contact"] == pytest.approx(LAST_CONTACT_S, abs=0.02)
    assert (rep.move, rep.stick_hand) == ("pivot_throwback_pass", "left")


@pytest.mark.parametrize("move", [key for key, info in MOVE_INFO.items() if info.throws])
@pytest.mark.parametrize("frame", [0, 3, 118, 239])
def test_any_burst_that_is_known_to_be_a_throw_makes_a_rep(move, frame):
    signals = shooter(frames_s(4.0), (2.0,)).signals()
    rep = FINDERS[move].rep_of(signals, None, Burst(frame=frame, earliest=0, latest=240))
    assert rep.move == move
    assert {"start", "release", "finish"} <= set(rep.events)
    assert 0 <= rep.start_frame < rep.stop_frame <= 240
    assert rep.start_s <= rep.stop_s


@pytest.mark.parametrize("move", [key for key, info in MOVE_INFO.items() if info.throws])
def test_a_throw_of_which_nothing_was_seen_is_still_a_rep(move):
    signals = shooter(frames_s(4.0), (2.0,)).signals()
    unknown = {
        name: np.full_like(getattr(signals, name), np.nan)
        for name in ("hand_m", "hand_mps", "hand_height_m", "hips_mps", "foot_m")
    }
    rep = FINDERS[move].rep_of(
        replace(signals, **unknown), None, Burst(frame=120, earliest=0, latest=240, hand="left")
    )
    assert rep.stick_hand == "left"


def test_a_jump_of_the_hips_on_the_step_back_is_not_taken_for_the_run():
    calm = passer(frames_s(3.6)).signals()
    (rep,) = find_throwback_reps(calm, None)
    release = rep.events["release"].frame
    # The place of the hips is lost for a moment, as when the legs hide each other.
    jump_m = 2.5 * np.exp(-(((calm.time_s - THROWBACK_RELEASE_S + 0.2) / 0.08) ** 2))
    jumping = replace(calm, hips_m=calm.hips_m - jump_m[:, None] * [1.0, 0.0])
    start = run_in_start(jumping, 0, release, LONGEST_RUN_IN_S, SHORTEST_AFTER_RUN_S)
    assert calm.time_s[start] == pytest.approx(rep.start_s, abs=0.05)
    # The fastest moment of all is that of the jump.
    pace = np.linalg.norm(pace_mps(jumping, 0, release + 1), axis=-1)
    assert calm.time_s[np.nanargmax(pace)] > THROWBACK_RELEASE_S - SHORTEST_AFTER_RUN_S
