"""Axes: where a value lies, and round numbers beside it."""

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.report.axes import Axis, round_ticks, whole_ticks

SPANS = st.tuples(st.floats(-1e4, 1e4, allow_nan=False), st.floats(1e-3, 1e4, allow_nan=False))


@pytest.mark.parametrize(
    ("value", "place"), [(1.0, 142.0), (2.0, 75.0), (3.0, 8.0), (5.0, 8.0), (-1.0, 142.0)]
)
def test_a_value_lies_in_proportion_and_never_outside(value, place):
    assert Axis(low=1.0, high=3.0, start=142.0, stop=8.0).at(value) == place


@pytest.mark.parametrize(
    ("low", "high", "most", "ticks"),
    [
        (0.0, 1.0, 6, [0.0, 0.2, 0.4, 0.6, 0.8, 1.0]),
        (1.55, 2.31, 5, [1.6, 1.8, 2.0, 2.2]),
        (-35.0, 4.0, 5, [-30.0, -20.0, -10.0, 0.0]),
    ],
)
def test_ticks_are_round(low, high, most, ticks):
    assert round_ticks(low, high, most) == pytest.approx(ticks)


@given(SPANS, st.integers(2, 12))
def test_ticks_are_few_evenly_spaced_and_inside(span, most):
    low, width = span
    ticks = round_ticks(low, low + width, most)
    assert 1 <= len(ticks) <= most
    slack = 1e-6 * (abs(low) + width)
    assert all(low - slack <= tick <= low + width + slack for tick in ticks)
    steps = [after - before for before, after in pairwise(ticks)]
    assert all(math.isclose(step, steps[0], rel_tol=1e-4, abs_tol=1e-9) for step in steps)


def test_what_is_counted_has_whole_ticks():
    assert round_ticks(0.2, 1.8, 5, least_step=1.0) == [1.0]
    assert round_ticks(-0.8, 3.4, 5, least_step=1.0) == [0.0, 1.0, 2.0, 3.0]


@given(st.integers(1, 5000), st.integers(2, 20))
def test_the_first_thing_in_a_row_has_a_label_and_there_are_few(count, most):
    ticks = whole_ticks(count, most)
    assert ticks[0] == 0
    assert ticks[-1] < count
    assert len(ticks) <= 2 * most
