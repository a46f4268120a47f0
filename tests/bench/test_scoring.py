import math

import pytest

from tests.bench.scoring import (
    Reading,
    match_reps,
    overlap_over_union,
    score,
    scores_by_difficulty,
)


def test_reps_are_matched_once_and_by_the_best_overlap():
    truths = [(0.0, 2.0), (3.0, 5.0), (6.0, 8.0)]
    found = [(0.2, 2.2), (2.9, 8.2), (9.0, 10.0)]
    # One long window covers two true reps: it can stand for one of them only.
    assert match_reps(truths, found) in ([(0, 0), (1, 1)], [(0, 0), (2, 1)])


def test_less_than_half_covered_is_no_match():
    assert match_reps([(0.0, 2.0)], [(1.1, 3.0)]) == []
    assert match_reps([(0.0, 2.0)], [(0.9, 3.0)]) == [(0, 0)]


def test_overlap_over_union():
    assert overlap_over_union((0, 2), (1, 3)) == pytest.approx(1 / 3)
    assert overlap_over_union((0, 1), (2, 3)) == 0


def test_score_counts_what_was_not_measured_and_leaves_it_out_of_the_errors():
    readings = [
        Reading(name="x", where="a", truth=1.0, value=1.1, interval95=(0.9, 1.3)),
        Reading(name="x", where="b", truth=1.0, value=0.7, interval95=(0.6, 0.8)),
        Reading(name="x", where="c", truth=1.0, value=None, reason="hidden"),
    ]
    result = score(readings)
    assert (result.n_truths, result.n_measured) == (3, 2)
    assert result.bias == pytest.approx(-0.1)
    assert result.median_error == pytest.approx(0.2)
    assert result.share_inside == 0.5
    assert result.reasons == {"hidden": 1}


def test_score_of_nothing_is_not_a_number():
    result = score([Reading(name="x", where="a", truth=1.0, value=None, reason="hidden")])
    assert math.isnan(result.bias)
    assert math.isnan(result.share_inside)


def test_a_value_far_outside_its_interval_is_counted_and_widths_are_told():
    near = Reading(name="x", where="a", truth=1.0, value=1.2, interval95=(0.9, 1.5))
    far = Reading(name="x", where="b", truth=1.0, value=1.5, interval95=(1.4, 1.6))
    result = score([near, far])
    assert result.half_width == pytest.approx(0.2)
    assert result.share_far_off == 0.5


def test_readings_are_summed_up_by_what_makes_their_clips_hard():
    easy = Reading(name="x", where="a", truth=1.0, value=1.0, interval95=(0.9, 1.1))
    hard = Reading(name="y", where="b", truth=1.0, value=None, reason="dark", difficulty="dark")
    found = scores_by_difficulty([easy, hard])
    assert found[""]["share_inside"] == 1.0
    assert (found["dark"]["n_truths"], found["dark"]["n_measured"]) == (1, 0)
