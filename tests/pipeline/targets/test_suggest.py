"""Quantiles of good reps, and limits that hold the true ones as often as they say."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.targets.suggest import quantile_limits, reps_needed, suggest


def test_quantiles_are_those_of_the_sample():
    suggestion = suggest([0.1 * k for k in range(1, 21)], [0.0] * 20)
    # Definition 8 puts the k-th of n at (k - 1/3) / (n + 1/3).
    position = 0.1 * (20 + 1 / 3) + 1 / 3
    assert suggestion.low.value == pytest.approx(0.1 * position)
    assert suggestion.high.value == pytest.approx(2.1 - 0.1 * position)
    assert suggestion.spread == pytest.approx(0.1 * math.sqrt(20 * 21 / 12))


def test_few_reps_give_one_limit_and_say_how_many_give_both():
    few, enough = ([float(k) for k in range(n)] for n in (12, 36))
    low = suggest(few, [0.0] * 12).low
    assert (low.low, low.enough_reps) == (None, 36)
    assert low.high is not None
    both = suggest(enough, [0.0] * 36)
    assert None not in (both.low.low, both.low.high, both.high.low, both.high.high)


def test_too_few_reps_are_refused():
    with pytest.raises(ValueError, match="too few"):
        suggest([0.1] * 9, [0.0] * 9)
    with pytest.raises(ValueError, match="too few"):
        suggest([0.1] * 12, [0.0] * 12, 0.05, 0.95)


@pytest.mark.parametrize("tail", [0.1, 0.05, 0.02, 0.01])
def test_no_quantile_lies_beyond_the_outermost_reps(tail):
    n = reps_needed(tail, 1 - tail)
    assert tail * (n + 1 / 3) + 1 / 3 >= 1 - 1e-9


def test_an_unsure_film_moves_the_limits_and_not_the_range():
    values = [0.1 * k for k in range(40)]
    sure, unsure = suggest(values, [0.0] * 40), suggest(values, [0.3] * 40)
    assert unsure.low.value == sure.low.value
    assert unsure.low.low == pytest.approx(
        sure.low.value - math.hypot(sure.low.value - sure.low.low, 1.96 * 0.3)
    )
    assert unsure.high.high > sure.high.high
    assert (sure.is_mostly_noise, suggest(values, [2.0] * 40).is_mostly_noise) == (False, True)


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9])
@pytest.mark.parametrize("n", [10, 20, 40])
def test_limits_hold_the_true_quantile_as_often_as_they_say(n, share):
    samples = np.sort(np.random.default_rng([n, int(10 * share)]).exponential(size=(4000, n)))
    truth = -math.log(1 - share)
    low, high = quantile_limits(n, share)
    above = np.ones(4000, bool) if low is None else samples[:, low - 1] <= truth
    below = np.ones(4000, bool) if high is None else samples[:, high - 1] >= truth
    assert np.mean(above & below) > 0.94
    # Not wider than need be: the next rep further in would not do.
    if high is not None and high > 1:
        assert np.mean(samples[:, high - 2] >= truth) < 0.98


@pytest.mark.slow
@given(
    values=st.lists(st.floats(-5, 5), min_size=10, max_size=40),
    u=st.floats(0, 1),
    scale=st.floats(0.1, 10),
)
def test_a_suggestion_scales_and_mirrors_with_its_unit(values, u, scale):
    plain = suggest(values, [u] * len(values))
    mirrored = suggest([-scale * v for v in values], [scale * u] * len(values))

    def close(a, b):
        return (a is None) == (b is None) and (a is None or math.isclose(a, b, abs_tol=1e-6))

    assert close(mirrored.high.value, -scale * plain.low.value)
    for one, other in (("low", "high"), ("high", "low")):
        bound = getattr(plain.low, one)
        assert close(getattr(mirrored.high, other), None if bound is None else -scale * bound)
