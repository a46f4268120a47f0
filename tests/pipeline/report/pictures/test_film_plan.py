"""The parts of an overlay: which frames, in which order, and when each is shown."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.report.pictures.film_plan import (
    AROUND_REP_S,
    MOST_PER_S,
    SLOW_AROUND_S,
    SLOWER,
    plan_film,
    thinned,
)
from tests.fixtures.filmed import rep_at

TIME_S = np.arange(600) / 30.0


def plan(*reps, time_s=TIME_S, whole=False):
    results = [rep_at(i, *times, time_s) for i, times in enumerate(reps, 1)]
    return plan_film(time_s, results, whole=whole)


def test_a_rep_is_shown_with_what_lies_about_it_and_then_its_key_event_slowly():
    true, slow = plan((5.0, 7.0, 6.0))
    assert not true.slow
    assert TIME_S[true.frames[[0, -1]]] == pytest.approx(
        [5.0 - AROUND_REP_S, 7.0 + AROUND_REP_S], abs=1 / 30
    )
    assert np.diff(true.shown_s) == pytest.approx(np.diff(TIME_S[true.frames]))
    assert slow.slow
    assert TIME_S[slow.frames[[0, -1]]] == pytest.approx(
        [6.0 - SLOW_AROUND_S, 6.0 + SLOW_AROUND_S], abs=1 / 30
    )
    assert np.diff(slow.shown_s) == pytest.approx(SLOWER * np.diff(TIME_S[slow.frames]))
    assert slow.shown_s[0] == pytest.approx(true.shown_s[-1] + 1 / 30)


def test_what_lies_between_two_near_reps_is_shown_once():
    parts = plan((5.0, 7.0, 6.0), (8.0, 9.0, 8.5))
    true = np.concatenate([part.frames for part in parts if not part.slow])
    assert np.array_equal(true, np.arange(true[0], true[-1] + 1))
    assert [part.slow for part in parts] == [False, True, False, True]


def test_nothing_is_left_out_of_the_whole_film():
    parts = plan((5.0, 7.0, 6.0), (12.0, 13.0, 12.5), whole=True)
    true = np.concatenate([part.frames for part in parts if not part.slow])
    assert np.array_equal(true, np.arange(TIME_S.size))
    assert parts[-1].result is None


def test_without_reps_there_is_a_film_only_if_all_was_asked_for():
    assert plan() == []
    (part,) = plan(whole=True)
    assert part.frames.size == TIME_S.size


@pytest.mark.slow
@settings(max_examples=40)
@given(
    steps=st.lists(st.floats(0.002, 0.2), min_size=30, max_size=120),
    reps=st.lists(st.tuples(st.floats(0, 1), st.floats(0, 1), st.floats(0, 1)), max_size=4),
    whole=st.booleans(),
)
def test_the_clock_of_the_film_always_goes_on_and_true_speed_is_true(steps, reps, whole):
    time_s = np.cumsum(steps) - steps[0]
    spans = sorted(tuple(sorted(rep)) for rep in reps)
    times = [tuple(time_s[-1] * x for x in (start, stop, key)) for start, key, stop in spans]
    parts = plan(*times, time_s=time_s, whole=whole)
    shown_s = np.concatenate([part.shown_s for part in parts] or [np.zeros(0)])
    assert np.all(np.diff(shown_s) > 0)
    for part in parts:
        speed = SLOWER if part.slow else 1
        assert np.diff(part.shown_s) == pytest.approx(speed * np.diff(time_s[part.frames]))
    true = [frame for part in parts if not part.slow for frame in part.frames]
    assert true == sorted(set(true))


@pytest.mark.parametrize("rate_hz", [24, 29.97, 30, 59.94, 60, 120, 240])
def test_film_of_a_high_rate_is_thinned_evenly_and_other_film_is_not(rate_hz):
    time_s = np.arange(480) / rate_hz + np.random.default_rng(3).normal(0, 3e-4, 480)
    kept = thinned(time_s, np.arange(480), MOST_PER_S)
    expected = max(1, round(rate_hz / MOST_PER_S))
    assert set(np.diff(kept)) == {expected}
