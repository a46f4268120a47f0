"""Training load against published definitions.

Foster et al. 2001, J Strength Cond Res 15:109-115: session load, monotony and strain (formulas,
from texts that quote them; results computed from made-up weeks).
Williams et al. 2017, Br J Sports Med 51:209-210: exponentially weighted loads, lambda = 2/(N + 1),
read in the text; the closed form of a step in load is worked out from that formula.
Lolli et al. 2019, Br J Sports Med 53:921-922: a ratio of coupled loads is 4 at most.
Jayanthi et al. 2015, Am J Sports Med 43:794-801: more hours a week than years of age.
Shrout & Fleiss 1979, Psychological Bulletin 86:420: the correlation by which a measure of an
athlete is said to repeat over sessions.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.log.load import (
    acute_and_chronic,
    monotony,
    session_load,
    strain,
    weekly_load,
    weighted_means,
)
from pipeline.log.watch_list import hours_are_many
from pipeline.measures.repeatability import reliability

WEEK = [240, 360, 120, 480, 300, 450, 0]
"""Loads of seven days, exertion times minutes; the last is a day off."""

STEP = [100.0] * 28 + [200.0] * 7


def test_load_of_a_session_by_foster():
    assert session_load(6, 40).value == 240


def test_week_of_foster_with_the_deviation_of_a_sample():
    assert weekly_load(WEEK).value == 1950
    assert np.mean(WEEK) == pytest.approx(278.571, abs=5e-4)
    assert np.std(WEEK, ddof=1) == pytest.approx(173.823, abs=5e-4)
    assert monotony(WEEK).value == pytest.approx(1.6026, abs=5e-5)
    assert strain(WEEK).value == pytest.approx(3125.1, abs=0.05)


def test_the_deviation_of_a_population_would_be_another_figure():
    other = np.mean(WEEK) / np.std(WEEK)
    assert other == pytest.approx(1.7310, abs=5e-5)
    assert other * 1950 == pytest.approx(3375.5, abs=0.05)
    assert other / monotony(WEEK).value == pytest.approx(np.sqrt(7 / 6))


@pytest.mark.parametrize(("n_days", "weight"), [(7, 0.25), (28, 0.068966)])
def test_weights_of_williams(n_days, weight):
    assert weighted_means([0.0, 1.0], n_days)[-1] == pytest.approx(weight, abs=5e-7)


def test_a_step_in_load_by_the_formula_of_williams():
    found = acute_and_chronic(STEP)
    assert found.acute.value == pytest.approx(186.6516, abs=5e-5)
    assert found.chronic.value == pytest.approx(139.3598, abs=5e-5)
    assert found.ratio.value == pytest.approx(1.33935, abs=5e-6)
    assert found.acute.value == pytest.approx(200 - 100 * 0.75**7)
    assert found.chronic.value == pytest.approx(200 - 100 * (1 - 2 / 29) ** 7)


def test_weighted_means_tell_apart_what_rolling_means_do_not():
    early, late = ([*STEP[:28], *week] for week in ([700.0, *[0.0] * 6], [*[0.0] * 6, 700.0]))
    assert sum(early) == sum(late)
    assert acute_and_chronic(early).acute.value < acute_and_chronic(late).acute.value


@pytest.mark.slow
@settings(deadline=None)
@given(st.lists(st.floats(0, 1e4), min_size=28, max_size=90))
def test_a_coupled_ratio_has_a_greatest_value(loads):
    """Of rolling sums it is 4 (Lolli); of weighted means the ratio of the two weights."""
    ratio = acute_and_chronic(loads).ratio
    assert ratio.value is None or 0 <= ratio.value <= 0.25 / (2 / 29) + 1e-9


@pytest.mark.parametrize(("age", "hours", "many"), [(12, 12.0, False), (12, 12.1, True)])
def test_hours_of_jayanthi(age, hours, many):
    assert hours_are_many(hours, age) is many


def test_a_measure_of_six_athletes_on_four_days_repeats_as_in_shrout_and_fleiss():
    days = [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]]
    found = reliability(days)
    assert found.icc["3,1"] == pytest.approx(0.7148, abs=5e-5)
    assert found.icc["2,1"] == pytest.approx(0.2898, abs=5e-5)
    assert found.smallest_real_change == pytest.approx(2.7987, abs=5e-5)
