"""Instants inside a rep, against players whose instants are known."""

from dataclasses import replace

import pytest

from pipeline.moves.events import (
    event_at,
    finish_frame,
    hands_high_frame,
    quiet_frames,
    start_frame,
)
from tests.fixtures.players import (
    LIFT_BEFORE_S,
    LIFTED_BEFORE_S,
    frames_s,
    jogger,
    shooter,
)

TIME_S = frames_s(3.5)


def test_an_event_knows_its_nearest_frame_and_is_no_surer_than_the_frames():
    signals = shooter(frames_s(2.0), ()).signals()
    event = event_at(signals, 1.012)
    assert (event.time_s, event.frame) == (1.012, 61)
    assert 0.25 / 60 < event.u_s < 1 / 60
    assert event_at(signals, 1.0, spread_s=0.1).u_s == pytest.approx(0.1, rel=0.02)
    coarse = shooter(frames_s(2.0, 30.0), ()).signals()
    assert event_at(coarse, 1.0).u_s == pytest.approx(2 * event_at(signals, 1.0).u_s)


def test_the_finish_comes_when_the_hands_have_slowed_down():
    signals = shooter(TIME_S, (2.0,)).signals()
    # Under a fifth of the peak: cos squared = 0.2 at 0.0705 s for a burst of 0.1 s.
    assert signals.time_s[finish_frame(signals, 120, 180)] == pytest.approx(2.0705, abs=0.02)
    assert finish_frame(signals, 120, 122) == 121


def test_quiet_is_where_neither_hips_nor_hands_go_anywhere():
    quiet = quiet_frames(shooter(TIME_S, (2.0,)).signals())
    assert quiet[: round(60 * (2.0 - LIFT_BEFORE_S))].all()
    assert not quiet[(TIME_S > 1.15) & (TIME_S < 1.25)].any()  # in the middle of the lift
    assert not quiet_frames(jogger(TIME_S).signals())[60:].any()


def test_a_rep_starts_when_the_quiet_ends():
    signals = shooter(TIME_S, (2.0,)).signals()
    start = signals.time_s[start_frame(signals, 75, 0)]
    assert start == pytest.approx(2.0 - LIFT_BEFORE_S, abs=0.15)
    assert start_frame(signals, 75, 80) == 80  # never before the last rep's finish


def test_without_a_rest_a_rep_starts_at_the_lowest_activity():
    signals = jogger(TIME_S).signals()
    slow = replace(signals, hips_mps=signals.hips_mps.copy(), hand_mps=signals.hand_mps + 1.0)
    slow.hips_mps[90:93] *= 0.5
    slow.hand_mps[90:93] = 0.6
    assert start_frame(slow, 150, 60) in (90, 91, 92)


@pytest.mark.parametrize("hand", ["left", "right"])
def test_the_hands_are_high_once_they_are_lifted(hand):
    signals = shooter(TIME_S, (2.0,), hand).signals()
    high_s = signals.time_s[hands_high_frame(signals, hand, 0, 114)]
    assert 2.0 - LIFTED_BEFORE_S - 0.1 <= high_s <= 1.9
