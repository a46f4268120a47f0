import math
from dataclasses import replace
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.core.results import Measurement, TargetRange
from pipeline.targets.verdicts import judge, judge_rep


def measured(value, u, key="hand_drop_m", unit="m", draws=None):
    return Measurement(key=key, unit=unit, value=value, u=u, draws=draws)


def not_measured(reason, key="hand_drop_m", unit="m"):
    return Measurement(key=key, unit=unit, reason=reason)


def between(low, high, key="hand_drop_m", unit="m"):
    return TargetRange(
        key=key, unit=unit, low=low, high=high, words="", set_by="a coach", why="a test"
    )


@pytest.mark.parametrize(
    ("value", "word", "side"),
    [
        (0.50, "in range", None),
        (0.41, "too close to call", None),
        (0.30, "out of range", "low"),
        (0.80, "out of range", "high"),
    ],
)
def test_word_and_side_follow_the_probability_inside(value, word, side):
    verdict = judge(measured(value, 0.02), between(0.40, 0.70))
    assert (verdict.word, verdict.side) == (word, side)


def test_a_range_open_on_one_side_has_no_wrong_on_that_side():
    assert judge(measured(9.0, 0.02), between(0.40, None)).word == "in range"
    assert judge(measured(-9.0, 0.02), between(None, 0.40)).word == "in range"


def test_the_levels_decide_at_their_own_value():
    # 1.645 standard uncertainties inside the bound: 95.0 %.
    verdict = judge(measured(0.40 + 1.645 * 0.02, 0.02), between(0.40, None))
    assert verdict.word == "in range"
    stricter = judge(measured(0.40 + 1.645 * 0.02, 0.02), between(0.40, None), inside_level=0.99)
    assert stricter.word == "too close to call"


def test_a_range_narrower_than_the_uncertainty_is_never_in_range():
    assert judge(measured(0.50, 0.10), between(0.48, 0.52)).word == "too close to call"


def test_what_was_not_measured_is_neither_in_nor_out():
    verdict = judge(not_measured("feet out of view"), between(0.4, 0.7))
    assert verdict.word == "not measured"
    assert verdict.probability_inside is None


def test_a_value_of_unknown_uncertainty_is_not_decided():
    verdict = judge(measured(0.5, None), between(0.4, 0.7))
    assert (verdict.word, verdict.probability_inside) == ("too close to call", None)


def test_an_exact_value_is_decided_by_comparison():
    assert judge(measured(0.4, 0.0), between(0.4, 0.7)).word == "in range"
    assert judge(measured(0.39, 0.0), between(0.4, 0.7)).word == "out of range"


def test_skewed_draws_decide_rather_than_a_normal_distribution():
    draws = np.concatenate([np.full(97, 0.45), np.full(3, 2.0)])
    u = float(draws.std())
    by_draws = judge(measured(0.45, u, draws=draws), between(0.40, 0.70))
    by_normal = judge(measured(0.45, u), between(0.40, 0.70))
    assert by_draws.probability_inside == pytest.approx(0.97)
    assert by_draws.word == "in range"
    assert by_normal.word == "too close to call"


def test_few_or_missing_draws_fall_back_to_the_normal_distribution():
    few = measured(0.5, 0.02, draws=np.full(20, 9.0))
    missing = measured(0.5, 0.02, draws=np.full(200, np.nan))
    assert judge(few, between(0.4, 0.7)).word == "in range"
    assert judge(missing, between(0.4, 0.7)).word == "in range"


@pytest.mark.parametrize(
    ("value", "u", "word"),
    [(1.0, 0.1, "in range"), (2.0, 0.1, "out of range"), (1.0, 0.6, "too close to call")],
)
def test_exactly_one_step_holds_all_that_rounds_to_one(value, u, word):
    steps = {"key": "steps_back", "unit": "1"}
    assert judge(measured(value, u, **steps), between(1.0, 1.0, **steps)).word == word


@pytest.mark.parametrize("side", ["low", "high"])
def test_an_unsure_bound_makes_a_verdict_less_sure(side):
    sign = 1 if side == "low" else -1
    value = sign * 0.08
    draws = np.array([value + 0.04 * NormalDist().inv_cdf((k + 0.5) / 400) for k in range(400)])
    target = between(*((0.0, None) if side == "low" else (None, 0.0)))
    unsure = replace(target, **{f"u_{side}": 0.03})
    for known in (None, draws):
        sure = judge(measured(value, 0.04, draws=known), target).probability_inside
        less = judge(measured(value, 0.04, draws=known), unsure).probability_inside
        assert sure == pytest.approx(NormalDist().cdf(2.0), abs=2e-3)
        assert less == pytest.approx(NormalDist().cdf(1.6), abs=2e-3)
    exact = judge(measured(value, 0.0), unsure).probability_inside
    assert exact == pytest.approx(NormalDist().cdf(0.08 / 0.03))


def test_a_range_for_something_else_is_refused():
    with pytest.raises(ValueError, match="cannot be compared with"):
        judge(measured(0.5, 0.02), between(10, 20, unit="deg"))
    with pytest.raises(ValueError, match="no range"):
        judge(measured(0.5, 0.02), None)


def test_a_rep_gets_a_verdict_for_each_range_and_each_gap():
    measurements = {
        "hand_drop_m": measured(0.5, 0.02),
        "release_height_m": measured(1.0, 0.02, key="release_height_m"),
        "separation_deg": not_measured("limb hidden", key="separation_deg", unit="deg"),
    }
    verdicts = judge_rep(measurements, {"hand_drop_m": between(0.4, 0.7)})
    assert [(v.key, v.word) for v in verdicts] == [
        ("hand_drop_m", "in range"),
        ("separation_deg", "not measured"),
    ]


@given(
    value=st.floats(-3, 3),
    u=st.floats(1e-3, 2),
    low=st.floats(-2, 2),
    width=st.floats(0, 2),
)
def test_probability_is_one_and_mirrors_with_the_sign(value, u, low, width):
    verdict = judge(measured(value, u), between(low, low + width))
    mirrored = judge(measured(-value, u), between(-low - width, -low))
    assert 0.0 <= verdict.probability_inside <= 1.0
    assert math.isclose(verdict.probability_inside, mirrored.probability_inside, abs_tol=1e-9)
