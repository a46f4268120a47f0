"""Of all moments that may be reps, one is taken for each rep."""

import numpy as np
import pytest

from models.moves.classifier import NOT_A_REP, OTHER
from models.training.film import CLASSES
from pipeline.moves.naming.candidates import Judged, chosen

STEP_S = 0.05


def judged(*reps, reach_s=1.0):
    """Moments of ten seconds; about each (time, move, probability) that move is seen."""
    time_s = np.arange(0.0, 10.0, STEP_S)
    probabilities = np.zeros((time_s.size, len(CLASSES)))
    probabilities[:, CLASSES.index(NOT_A_REP)] = 1.0
    for at_s, move, probability in reps:
        near = np.abs(time_s - at_s) < 0.3
        probabilities[near] = 0.0
        probabilities[near, CLASSES.index(move)] = probability
        probabilities[near, CLASSES.index(NOT_A_REP)] = 1.0 - probability
    return Judged(
        time_s=time_s,
        probabilities=probabilities,
        reaches_s=np.full((time_s.size, 2), reach_s),
        right=np.ones(time_s.size, dtype=bool),
        classes=CLASSES,
    )


@pytest.mark.parametrize(
    ("first", "second", "apart_s", "found"),
    [
        ("high_to_low_shot", "high_to_low_shot", 1.0, 1),
        ("high_to_low_shot", "high_to_low_shot", 1.5, 2),
        ("roll_dodge", "roll_dodge", 1.6, 1),  # a double roll
        ("angle_cut_dodge", "roll_dodge", 1.6, 1),
        (OTHER, "angle_cut_dodge", 1.6, 1),
        ("roll_dodge", "roll_dodge", 2.4, 2),
        ("split_dodge", "on_the_run_shot", 1.6, 2),  # a dodge, and then a shot
    ],
)
def test_moments_near_each_other_are_one_rep(first, second, apart_s, found):
    assert len(chosen(judged((3.0, first, 0.9), (3.0 + apart_s, second, 0.95)))) == found


def test_the_turn_that_a_throwback_is_passed_out_of_is_no_dodge():
    turn, throw = (3.0, "angle_cut_dodge", 0.8), (4.4, "pivot_throwback_pass", 0.95)
    (one,) = chosen(judged(turn, throw, reach_s=1.6))
    assert one.move == "pivot_throwback_pass"
    # One that lies before all that the pass reaches back to is a rep of its own.
    assert [each.move for each in chosen(judged(turn, throw, reach_s=1.2))] == [turn[1], throw[1]]


def test_of_two_moments_of_a_rep_the_likelier_one_is_taken():
    (one,) = chosen(judged((3.0, "roll_dodge", 0.7), (4.0, "angle_cut_dodge", 0.9)))
    assert one.move == "angle_cut_dodge"
