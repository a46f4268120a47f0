"""Loads of days: what is not known is not 0, and what is not defined has a reason."""

import math
from datetime import date

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.log.load import (
    Figure,
    acute_and_chronic,
    by_day,
    change,
    days_in_a_row,
    monotony,
    session_load,
    strain,
    weekly_load,
    weighted_means,
)

REST = [0.0] * 7


def test_a_week_without_load_has_no_monotony():
    assert weekly_load(REST).value == 0
    assert monotony(REST).reason == strain(REST).reason == "no_load"


@pytest.mark.parametrize("load", [300.0, 0.1, 1e9])
def test_equal_loads_have_no_monotony_and_never_an_infinite_one(load):
    assert monotony([load] * 7).reason == "equal_loads"
    assert strain([load] * 7).reason == "equal_loads"


def test_one_day_of_load_has_the_monotony_of_one_day():
    # Mean L / 7 and deviation L / sqrt(7), whatever the load is.
    assert monotony([0, 0, 500, 0, 0, 0, 0]).value == pytest.approx(1 / math.sqrt(7))


def test_a_day_of_unknown_load_is_not_a_day_off():
    week = [100.0, math.nan, *[0.0] * 5]
    for figure in (weekly_load(week), monotony(week), strain(week)):
        assert figure == Figure(reason="no_exertion")
    assert session_load(None, 40).reason == session_load(5, None).reason == "no_exertion"
    assert session_load(0, 40).value == 0


@settings(deadline=None)
@given(st.lists(st.floats(1, 1e3), min_size=7, max_size=7), st.floats(0.1, 100))
def test_monotony_does_not_depend_on_the_unit_of_load(loads, factor):
    one, other = monotony(loads), monotony(np.asarray(loads) * factor)
    if one.value is None or other.value is None:
        assert np.ptp(loads) < 1e-3
    else:
        assert one.value == pytest.approx(other.value, rel=1e-6)


@settings(deadline=None)
@given(st.floats(0, 1e5), st.integers(28, 120))
def test_a_steady_load_is_its_own_mean(load, n):
    found = acute_and_chronic([load] * n)
    assert found.acute.value == pytest.approx(load)
    assert found.ratio == Figure(reason="no_load") or found.ratio.value == pytest.approx(1)


def test_fewer_than_28_days_tell_no_ratio():
    assert acute_and_chronic([100.0] * 27).ratio.reason == "few_days"
    assert acute_and_chronic([]).acute.reason == "few_days"
    assert acute_and_chronic([100.0] * 27 + [math.nan]).ratio.reason == "no_exertion"


def test_a_mean_starts_with_the_first_day():
    assert weighted_means([], 7).size == 0
    assert weighted_means([80.0], 7).tolist() == [80.0]


def test_change_after_a_week_of_nothing_is_not_defined():
    assert change(150, 100).value == pytest.approx(0.5)
    assert change(0, 100).value == -1
    assert change(150, 0).reason == "nothing_before"


def test_days_are_days_also_where_the_clock_is_changed():
    first, last = date(2026, 3, 28), date(2026, 3, 30)
    entries = [(date(2026, 3, 28), 10.0), (date(2026, 3, 29), 5.0), (date(2026, 3, 29), 6.0),
               (date(2026, 4, 1), 99.0)]  # fmt: skip
    assert by_day(first, last, entries).tolist() == [10, 11, 0]
    assert by_day(date(2026, 10, 24), date(2026, 10, 26), []).tolist() == [0, 0, 0]
    assert by_day(last, first, entries).size == 0


def days(*numbers):
    return {date(2026, 9, number) for number in numbers}


@pytest.mark.parametrize(
    ("trained", "expected"),
    [
        (days(), 0),
        (days(10), 1),
        (days(9), 1),  # today is not over
        (days(8), 0),
        (days(6, 7, 8, 9, 10), 5),
        (days(6, 7, 9, 10), 2),
    ],
)
def test_days_in_a_row_end_with_a_day_off(trained, expected):
    assert days_in_a_row(trained, date(2026, 9, 10)) == expected


def test_a_figure_has_a_value_or_a_reason():
    for wrong in ({}, {"value": 1.0, "reason": "no_load"}):
        with pytest.raises(ValueError, match="either"):
            Figure(**wrong)


def test_a_week_has_seven_days():
    with pytest.raises(ValueError, match="7 days"):
        monotony([1.0, 2.0])
