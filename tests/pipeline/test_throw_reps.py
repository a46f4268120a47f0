"""Reps that end in a throw: all found, none extra, with their events in order."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from pipeline.pass_events import find_throwback_reps
from pipeline.release import LATER_S
from pipeline.shot_events import find_high_to_low_reps as find_shot_reps
from tests.fixtures.players import (
    LAST_CONTACT_S,
    PLANT_S,
    THROWBACK_RELEASE_S,
    frames_s,
    jogger,
    passer,
    shooter,
)

TIME_S = frames_s(9.0)
RELEASES_S = (2.0, 4.5, 7.3)


def test_every_shot_is_a_rep_with_its_events():
    reps = find_shot_reps(shooter(TIME_S, RELEASES_S).signals(), None)
    assert [rep.index for rep in reps] == [1, 2, 3]
    for rep, release_s in zip(reps, RELEASES_S, strict=True):
        times = {name: event.time_s for name, event in rep.events.items()}
        assert list(times) == ["start", "hands_high", "release", "finish"]
        assert list(times.values()) == sorted(times.values())
        assert times["release"] == pytest.approx(release_s + LATER_S, abs=0.005)
        assert rep.start_s < release_s - 0.8
        assert (rep.move, rep.stick_hand) == ("high_to_low_shot", "right")
        assert TIME_S[rep.start_frame] == rep.start_s
        assert TIME_S[rep.stop_frame - 1] == rep.stop_s


def test_reps_do_not_overlap():
    reps = find_shot_reps(shooter(TIME_S, (2.0, 3.4, 4.8)).signals(), None)
    assert len(reps) == 3
    for before, after in pairwise(reps):
        assert before.stop_s <= after.start_s


def test_a_clip_that_ends_with_the_release_still_gives_its_rep():
    reps = find_shot_reps(shooter(frames_s(2.08), (2.0,)).signals(), None)
    assert len(reps) == 1
    assert reps[0].events["release"].time_s == pytest.approx(2.0 + LATER_S, abs=0.02)


def test_a_throwback_has_its_plant_and_its_last_contact():
    (rep,) = find_throwback_reps(passer(frames_s(6.5)).signals(), None)
    times = {name: event.time_s for name, event in rep.events.items()}
    assert list(times) == ["start", "plant", "last_contact", "release", "finish"]
    assert times["plant"] == pytest.approx(PLANT_S, abs=0.02)
    assert times["last_contact"] == pytest.approx(LAST_CONTACT_S, abs=0.02)
    assert times["release"] == pytest.approx(THROWBACK_RELEASE_S + LATER_S, abs=0.02)
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
    assert {rep.stick_hand for rep in find_shot_reps(signals, None, "left")} == {"left"}


@pytest.mark.parametrize("swing", [0.08, 0.12, 0.15])
def test_a_jog_with_a_swinging_stick_alone_gives_no_rep(swing):
    signals = jogger(frames_s(8.0), swing=swing).signals()
    assert find_shot_reps(signals, None) == []
    assert find_throwback_reps(signals, None) == []


def test_no_throw_gives_no_rep():
    assert find_shot_reps(shooter(frames_s(3.0), ()).signals(), None) == []
    assert find_throwback_reps(shooter(frames_s(3.0), ()).signals(), None) == []


@pytest.mark.parametrize("find_reps", [find_shot_reps, find_throwback_reps])
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
