"""The landing that takes a cut is found by the turn, the push and the foot, or left untold."""

from dataclasses import replace

import numpy as np
import pytest

from pipeline.moves.cuts import cut_frame
from tests.fixtures.players import CUT_S, dodger, frames_s, jogger, path_m

TIME_S = frames_s(5.0)
SIGNALS = dodger(TIME_S).signals()
SPAN_S = (CUT_S - 0.7, CUT_S + 0.4)


def landed_at(*landings):
    landed = np.zeros((TIME_S.size, 2), dtype=bool)
    for time_s, foot in landings:
        landed[int(np.argmin(np.abs(TIME_S - time_s))), foot] = True
    return replace(SIGNALS, landed=landed)


def test_the_landing_before_the_turn_takes_the_cut():
    found = cut_frame(SIGNALS, *SPAN_S)
    assert found is not None
    assert TIME_S[found] == pytest.approx(CUT_S, abs=0.03)


def test_a_mirrored_run_has_its_cut_at_the_same_landing():
    mirror = np.array([1.0, -1.0])
    mirrored = replace(
        SIGNALS,
        hips_m=SIGNALS.hips_m * mirror,
        hips_mps=SIGNALS.hips_mps * mirror,
        landed=SIGNALS.landed[:, ::-1],
    )
    assert cut_frame(mirrored, *SPAN_S) == cut_frame(SIGNALS, *SPAN_S)


def test_later_film_gives_the_same_landing():
    later = replace(SIGNALS, time_s=SIGNALS.time_s + 7.0)
    assert cut_frame(later, SPAN_S[0] + 7.0, SPAN_S[1] + 7.0) == cut_frame(SIGNALS, *SPAN_S)


def test_a_hidden_landing_is_not_made_up_and_the_one_before_not_taken_for_it():
    left, right = 0, 1
    seen = landed_at((1.4, right), (1.7, left), (2.0, right), (2.3, left))
    assert cut_frame(seen, *SPAN_S) is not None
    hidden = landed_at((1.4, right), (1.7, left), (2.3, left))
    assert cut_frame(hidden, *SPAN_S) is None


def test_two_landings_that_explain_the_turn_alike_leave_it_untold():
    right = 1
    assert cut_frame(landed_at((CUT_S - 0.04, right), (CUT_S + 0.04, right)), *SPAN_S) is None


def test_a_straight_run_has_no_cut():
    straight = jogger(TIME_S).signals()
    assert cut_frame(straight, *SPAN_S) is None


def test_without_landings_there_is_no_cut():
    assert cut_frame(landed_at(), *SPAN_S) is None


def test_the_first_change_of_direction_counts_though_the_one_back_to_the_line_is_harder():
    left, right = 0, 1
    hips_m = path_m(
        TIME_S, (-4.0, 9.0),
        (0.0, 0.0, 0.0), (1.0, 4.0, 0.0), (2.0, 4.0, 0.0), (2.2, 2.6, 3.0), (2.4, 2.6, 3.0),
        (2.6, 3.6, -2.4), (4.0, 3.6, -2.4),
    )  # fmt: skip
    run = landed_at((1.4, right), (1.7, left), (2.0, right), (2.3, left), (2.6, right))
    run = replace(run, hips_m=hips_m, hips_mps=np.gradient(hips_m, TIME_S, axis=0))
    found = cut_frame(run, 1.2, 2.5)
    assert found is not None
    assert TIME_S[found] == pytest.approx(2.0, abs=0.02)
