import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.feedback.session_summary import SHARED_AT_LEAST, mean_of, move_summaries, summarise
from tests.fixtures.sessions import measured, not_measured, rep_of, reps_of, with_draws

KEY = "step_back_m"
VALUES = st.lists(
    st.floats(0.1, 3.0).map(lambda value: round(value, 3)), min_size=1, max_size=14
)  # fmt: skip


def summary(values, u=0.02):
    return summarise(KEY, [measured(KEY, value, u) for value in values])


def test_a_session_in_numbers_known_by_hand():
    told = summary([0.5, 0.6, 0.7, 0.6], u=0.03)
    assert told.n_measured == 4
    assert told.mean == pytest.approx(0.6)
    assert told.spread == pytest.approx(math.sqrt(0.02 / 3))
    assert told.u_mean == pytest.approx(0.03 * math.sqrt(0.6 + 0.4 / 4))
    assert told.noise == pytest.approx(0.03 * math.sqrt(0.4))
    assert told.own_spread == pytest.approx(math.sqrt(0.02 / 3 - 0.4 * 0.0009))
    assert told.smallest_real_change == pytest.approx(1.96 * math.sqrt(2) * told.spread)
    assert told.trend is None


def test_a_spread_that_the_measuring_explains_is_not_called_the_players_own():
    told = summary([0.60, 0.61, 0.62], u=0.03)
    assert told.spread == pytest.approx(0.01)
    assert told.own_spread is None


def test_without_a_known_uncertainty_no_noise_is_taken_off():
    told = summary([0.5, 0.6, 0.7], u=None)
    assert (told.u_mean, told.noise, told.own_spread) == (None, None, None)
    assert told.spread == pytest.approx(0.1)


def test_two_reps_have_a_mean_and_no_spread():
    told = summary([0.5, 0.7])
    assert told.mean == pytest.approx(0.6)
    assert (told.spread, told.typical_error, told.smallest_real_change) == (None, None, None)


def test_what_was_measured_in_no_rep_is_left_out():
    assert summarise(KEY, [not_measured(KEY)] * 3) is None
    assert summary([0.5]).n_measured == 1


def test_what_all_reps_share_stays_in_the_mean_and_drops_out_of_the_spread():
    told = summarise(KEY, with_draws([0.5, 0.6, 0.7, 0.6, 0.5, 0.7], own_u=0.02, shared_u=0.05))
    assert told.noise == pytest.approx(0.02, rel=0.1)
    assert told.u_mean == pytest.approx(math.hypot(0.05, 0.02 / math.sqrt(6)), rel=0.1)


def test_more_is_shared_than_the_draws_know():
    mean, u = mean_of(with_draws([0.5, 0.6, 0.7, 0.6], own_u=0.04, shared_u=0.0))
    assert mean == pytest.approx(0.6)
    assert u == pytest.approx(0.04 * math.sqrt(SHARED_AT_LEAST + (1 - SHARED_AT_LEAST) / 4))


def test_draws_that_do_not_stand_side_by_side_are_not_compared():
    whole = with_draws([0.5, 0.6, 0.7], own_u=0.02, shared_u=0.05)
    fewer = [replace(whole[0], draws=whole[0].draws[:-7]), *whole[1:]]
    u = math.hypot(0.02, 0.05)
    told = summarise(KEY, fewer)
    assert told.u_mean == pytest.approx(u * math.sqrt(0.6 + 0.4 / 3))
    assert told.noise == pytest.approx(u * math.sqrt(0.4))


@pytest.mark.parametrize(
    ("values", "word"),
    [
        ([0.70, 0.72, 0.71, 0.62, 0.60, 0.61, 0.50, 0.52, 0.51], "fell"),
        ([0.50, 0.52, 0.51, 0.62, 0.60, 0.61, 0.70, 0.72, 0.71], "rose"),
        ([0.70, 0.50, 0.61, 0.52, 0.72, 0.60, 0.51, 0.71, 0.62], "no clear change"),
        ([0.60] * 6, "no clear change"),
    ],
)
def test_the_last_third_against_the_first(values, word):
    trend = summary(values, u=0.01).trend
    third = len(values) // 3
    assert trend.n_third == third
    assert trend.early == pytest.approx(np.mean(values[:third]))
    assert trend.late == pytest.approx(np.mean(values[-third:]))
    assert trend.word == word
    assert (trend.probability_by_chance < 0.05) == (word != "no clear change")


def test_a_change_smaller_than_the_measuring_can_tell_is_no_clear_change():
    values = [0.60, 0.60, 0.60, 0.615, 0.615, 0.615, 0.63, 0.63, 0.63]
    assert summary(values, u=0.001).trend.word == "rose"
    assert summary(values, u=0.03).trend.word == "no clear change"


@pytest.mark.parametrize("n", [5, 6, 7, 8, 9])
def test_thirds_are_of_the_same_size_and_need_six_reps(n):
    trend = summary(np.linspace(0.5, 0.9, n)).trend
    assert (trend is None) == (n < 6)
    if trend is not None:
        assert trend.n_third == n // 3


def test_by_chance_a_change_is_told_one_time_in_twenty():
    generator = np.random.default_rng(3)
    told = [
        summary(generator.normal(0.6, 0.05, 9), u=0.01).trend.word != "no clear change"
        for _ in range(1000)
    ]
    assert np.mean(told) == pytest.approx(0.05, abs=0.02)


def test_moves_are_summed_up_apart_in_the_order_in_which_they_come():
    reps = [
        rep_of(1, "throwback_pass", measured(KEY, 0.5)),
        rep_of(2, "high_to_low_shot", measured("hand_drop_m", 0.6)),
        rep_of(3, "throwback_pass", measured(KEY, 0.2), not_measured("turn_away_deg")),
    ]
    first, second = move_summaries(reps)
    assert (first.move, first.n_reps) == ("throwback_pass", 2)
    assert (second.move, second.n_reps) == ("high_to_low_shot", 1)
    (step,) = first.measures
    assert (step.n_in, step.n_low, step.n_high, step.n_close) == (1, 1, 0, 0)


def test_a_move_of_which_nothing_is_measured_is_still_counted():
    (told,) = move_summaries([rep_of(1, "unknown")])
    assert (told.n_reps, told.measures) == (1, ())


@pytest.mark.slow
@given(VALUES, st.randoms())
def test_the_order_of_the_reps_changes_no_mean_and_no_spread(values, random):
    shuffled = list(values)
    random.shuffle(shuffled)
    before, after = summary(values), summary(shuffled)
    for name in ("mean", "u_mean", "spread", "noise"):
        assert getattr(after, name) == pytest.approx(getattr(before, name), abs=1e-12)


@pytest.mark.slow
@given(VALUES, st.floats(0.5, 3.0))
def test_another_unit_scales_everything(values, factor):
    before = summary(values, u=0.03)
    after = summarise(KEY, [measured(KEY, factor * value, factor * 0.03) for value in values])
    for name in ("mean", "u_mean", "spread", "noise", "typical_error", "smallest_real_change"):
        expected = getattr(before, name)
        expected = None if expected is None else factor * expected
        assert getattr(after, name) == pytest.approx(expected, abs=1e-9)
    if before.trend is not None:
        change, least = before.trend.late - before.trend.early, before.trend.smallest_real_change
        assert after.trend.smallest_real_change == pytest.approx(factor * least, abs=1e-9)
        if abs(abs(change) - least) > 1e-6:
            assert after.trend.word == before.trend.word


@given(VALUES, st.floats(-2.0, 2.0))
def test_a_shift_moves_the_mean_alone(values, shift):
    before, after = summary(values), summary([value + shift for value in values])
    assert after.mean == pytest.approx(before.mean + shift)
    for name in ("u_mean", "spread", "noise", "typical_error"):
        assert getattr(after, name) == pytest.approx(getattr(before, name), abs=1e-9)


@pytest.mark.slow
@given(VALUES.filter(lambda values: len(values) >= 6))
def test_the_session_played_backwards_turns_the_trend_around(values):
    forth, back = summary(values).trend, summary(values[::-1]).trend
    assert back.early == pytest.approx(forth.late)
    assert back.u_change == pytest.approx(forth.u_change)
    turned = {"rose": "fell", "fell": "rose"}
    if abs(abs(forth.late - forth.early) - forth.smallest_real_change) > 1e-6:
        assert back.word == turned.get(forth.word, forth.word)


def test_a_count_is_never_surer_than_its_rounding():
    steps = [measured("steps_back", value, 0.0) for value in (1, 1, 1, 1, 1, 1)]
    assert summarise("steps_back", steps).trend.smallest_real_change > 0.5


def test_reps_of_one_move_keep_their_verdicts():
    (told,) = move_summaries(reps_of("throwback_pass", KEY, [0.2, 0.41, 0.6, 1.5]))
    (step,) = told.measures
    assert (step.n_in, step.n_low, step.n_high, step.n_close) == (1, 1, 1, 1)
