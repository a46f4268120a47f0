"""The scores of found and named reps, worked out by hand."""

import math
from dataclasses import replace

import pytest

from tests.bench.naming_scores import (
    UNKNOWN,
    Film,
    Segment,
    confusion,
    confusion_words,
    f1,
    segmental_counts,
    summed_up,
    taught_f1,
)
from tests.bench.segment_scores import expected_calibration_error


def segment(start_s, stop_s, move="a", probability=1.0):
    return Segment(start_s=start_s, stop_s=stop_s, move=move, probability=probability)


FILM = Film(
    name="film",
    duration_s=60.0,
    true=[segment(0, 2), segment(10, 12, "b"), segment(20, 22, "unknown")],
    found=[
        segment(0, 2, "a", 0.9), segment(0.5, 2, "a", 0.8), segment(10, 13, "a", 0.6),
        segment(30, 31, "b", 0.5),
    ],
)  # fmt: skip


def test_a_rep_that_is_found_twice_counts_once():
    assert segmental_counts(FILM, 0.5) == (1, 3, 2)
    assert segmental_counts(FILM, 0.5, by_move=False) == (2, 2, 1)
    assert f1([FILM], 0.5) == pytest.approx(2 * 1 / (2 + 3 + 2))
    assert f1([FILM], 0.9, by_move=False) == pytest.approx(2 * 1 / (2 + 3 + 2))


def test_the_confusion_holds_what_was_missed_and_what_was_false():
    counts = confusion([FILM])
    assert counts == {
        "a": {"a": 1}, "b": {"a": 1}, "unknown": {"none": 1}, "none": {"a": 1, "b": 1},
    }  # fmt: skip
    assert "| b | 1 |" in confusion_words(counts)


def test_figures_of_a_film():
    figures = summed_up([FILM])
    assert figures["false_in_10_minutes"] == pytest.approx(20.0)
    assert figures["named_right_of_found"] == pytest.approx(0.5)
    assert figures["foreign_not_named"] == 1.0
    assert figures["foreign_found_unknown"] == 0.0


def test_calibration_error_of_two_bins():
    assert expected_calibration_error(
        [0.95, 0.95, 0.15, 0.15], [True, True, True, False]
    ) == pytest.approx(0.5 * 0.05 + 0.5 * 0.35)
    assert math.isnan(expected_calibration_error([], []))


@pytest.mark.slow
def test_reps_of_moves_that_were_never_taught_are_neither_missed_nor_false():
    true = [segment(0.0, 1.0, "roll_dodge"), segment(2.0, 3.0, UNKNOWN), segment(4.0, 5.0, UNKNOWN)]
    found = [segment(0.1, 1.0, "split_dodge"), segment(2.0, 3.1, UNKNOWN)]
    film = Film(name="a", duration_s=10.0, true=true, found=found)
    assert taught_f1([film], 0.5) == 1.0
    false = replace(film, found=[*found, segment(7.0, 8.0, "roll_dodge")])
    assert taught_f1([false], 0.5) == pytest.approx(2 / 3)
    assert taught_f1([replace(film, found=[])], 0.5) == 0.0
