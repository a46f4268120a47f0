"""Reps of a drill: the hand and the events of the examples, those of the move it is like."""

from dataclasses import replace

import pytest

from pipeline.teaching.drill_reps import events_like, find_drill_reps
from tests.fixtures.drilling import RELEASES_S, WINDOWS_S, drill_of, drill_player, frame_of

FRAME, SIGNALS = frame_of(drill_player())
DRILL = drill_of(FRAME)


def reps_in(drill=DRILL, hand="right", given_hand=None):
    frame, signals = frame_of(drill_player(hand))
    return find_drill_reps(drill, frame, signals, None, given_hand)


@pytest.mark.parametrize("hand", ["left", "right"])
def test_reps_have_the_drills_name_its_hand_and_its_events(hand):
    reps = reps_in(hand=hand)
    assert [rep.index for rep in reps] == [1, 2, 3, 4]
    assert {(rep.move, rep.move_by, rep.stick_hand) for rep in reps} == {
        ("lift_and_throw", "told", hand)
    }
    for rep, release_s in zip(reps, RELEASES_S, strict=True):
        assert list(rep.events) == ["start", "release", "finish"]
        assert rep.events["release"].time_s == pytest.approx(release_s, abs=0.06)
        assert rep.events["release"].u_s >= DRILL.event_u_s["release"]
        assert rep.start_frame < rep.events["release"].frame < rep.stop_frame


def test_a_hand_that_was_told_is_believed():
    assert {rep.stick_hand for rep in reps_in(given_hand="left")} == {"left"}


def test_without_a_hand_in_the_examples_the_higher_one_is_taken():
    assert {rep.stick_hand for rep in reps_in(replace(DRILL, hand=None))} == {"right"}


def test_events_of_the_move_it_is_like_come_along_and_marked_ones_win():
    reps = reps_in(replace(DRILL, like="high_to_low_shot"))
    assert all("hands_high" in rep.events for rep in reps)
    alone = reps_in()
    for rep, other in zip(reps, alone, strict=True):
        assert rep.events["release"] == other.events["release"]


@pytest.mark.parametrize("key", ["high_to_low_shot", "split_dodge"])
def test_where_the_moves_own_rules_find_nothing_the_busiest_moment_is_taken(key):
    events = events_like(key, WINDOWS_S[0], SIGNALS, None, "right", [])
    assert all(WINDOWS_S[0][0] <= event.time_s <= WINDOWS_S[0][1] for event in events.values())
    if key == "high_to_low_shot":
        assert events["release"].time_s == pytest.approx(RELEASES_S[0], abs=0.1)
