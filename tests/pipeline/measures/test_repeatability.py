import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import array_shapes, arrays

from pipeline.measures.repeatability import (
    mean_squares,
    reliability,
    smallest_real_change,
    typical_error,
)

TABLES = arrays(
    float,
    array_shapes(min_dims=2, max_dims=2, min_side=2, max_side=6),
    elements=st.floats(-50, 50).map(lambda value: round(value, 2)),
)


def test_occasions_that_agree_have_no_typical_error():
    figures = reliability([[1.0, 1.0], [2.0, 2.0], [4.0, 4.0]])
    assert all(icc == pytest.approx(1.0) for icc in figures.icc.values())
    assert figures.sem_consistency == pytest.approx(0.0)
    assert figures.smallest_real_change == pytest.approx(0.0)


def test_a_shift_between_days_counts_for_agreement_alone():
    figures = reliability([[1.0, 1.5], [2.0, 2.5], [4.0, 4.5]])
    assert figures.icc["3,1"] == pytest.approx(1.0)
    assert figures.icc["2,1"] < 0.97
    assert figures.sem_consistency == pytest.approx(0.0)
    assert figures.sem_agreement == pytest.approx(0.5 / math.sqrt(2.0))


def test_values_that_are_all_the_same_have_no_correlation():
    assert all(math.isnan(icc) for icc in reliability(np.ones((3, 2))).icc.values())


@pytest.mark.parametrize(
    ("table", "says"),
    [([[1.0, 2.0]], "2 targets"), ([1.0, 2.0], "2 targets"), ([[1, 2], [np.nan, 3]], "missing")],
)
def test_a_table_that_cannot_be_used_is_refused(table, says):
    with pytest.raises(ValueError, match=says):
        mean_squares(table)


def test_impossible_inputs_of_the_typical_error_are_refused():
    with pytest.raises(ValueError, match="at most 1"):
        typical_error(1.0, 1.1)
    with pytest.raises(ValueError, match="at least 0"):
        typical_error(-1.0, 0.5)


def test_a_mean_of_four_reps_can_tell_half_as_small_a_change():
    assert smallest_real_change(0.3, 4) == pytest.approx(0.5 * smallest_real_change(0.3))


@pytest.mark.slow
@given(TABLES)
def test_the_parts_add_up_to_the_whole(table):
    squares = mean_squares(table)
    parts = squares.sum_between + squares.sum_occasions + squares.sum_error
    assert parts == pytest.approx(squares.sum_total, rel=1e-9, abs=1e-6)


@pytest.mark.slow
@given(TABLES, st.floats(0.1, 10), st.floats(-20, 20))
def test_another_unit_and_origin_change_no_correlation(table, factor, shift):
    before, after = reliability(table), reliability(table * factor + shift)
    assert after.sem_consistency == pytest.approx(factor * before.sem_consistency, abs=1e-4)
    assert after.sem_agreement == pytest.approx(factor * before.sem_agreement, abs=1e-4)
    if before.squares.sum_between > 1.0 and before.squares.sum_error > 1.0:
        for form, icc in before.icc.items():
            # Where what is divided by is next to nothing, the quotient says nothing.
            if abs(icc) < 100:
                assert after.icc[form] == pytest.approx(icc, rel=1e-5, abs=1e-5)
