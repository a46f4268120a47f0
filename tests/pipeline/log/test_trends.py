"""A change is reported when it is more than chance, and only then."""

import numpy as np
import pytest

from pipeline.log.queries import Series
from pipeline.log.trends import change_between, find_drifts, student


def series(sessions, key="step_back_m", move="throwback_pass", u=0.02):
    """Values by session, e.g. ``{1: [0.6, 0.7]}``."""
    return Series(
        move=move,
        key=key,
        session=np.concatenate([[number] * len(values) for number, values in sessions.items()]),
        value=np.concatenate([np.asarray(values, float) for values in sessions.values()]),
        u=np.full(sum(map(len, sessions.values())), u),
    )


def made(rng, n_sessions, n_reps, *, mean=0.6, within=0.04, between=0.0, first=1, drift=0.0):
    return {
        first + s: mean
        + between * rng.standard_normal()
        + drift * np.linspace(-0.5, 0.5, n_reps)
        + within * rng.standard_normal(n_reps)
        for s in range(n_sessions)
    }


def test_student_is_student():
    assert student(0.95, 1) == pytest.approx(12.706, abs=5e-4)
    assert student(0.95, 10_000) == pytest.approx(1.96, abs=5e-3)


def test_means_and_spreads_are_those_of_the_reps():
    early, late = {1: [0.60, 0.64], 2: [0.62, 0.66]}, {3: [0.50, 0.54], 4: [0.52, 0.56]}
    found = change_between(series(early), series(late))
    assert (found.early, found.late) == (pytest.approx(0.63), pytest.approx(0.53))
    assert (found.n_early, found.sessions_late, found.has_session_spread) == (4, 2, True)
    assert found.typical_error == pytest.approx(np.sqrt(0.0008))
    # Session means 0.62, 0.64 and 0.52, 0.54: variance 0.0002, of a mean of two 0.0001; that of the
    # reps, 0.0008 over 4, is greater. Two degrees of freedom.
    assert found.smallest_real_change == pytest.approx(4.303 * np.sqrt(0.0004), rel=1e-3)
    assert found.of_single_reps == pytest.approx(1.96 * np.sqrt(2 * 0.0008))
    assert found.word == "fell"


def test_what_did_not_change_is_told_to_have_changed_once_in_twenty_times():
    rng = np.random.default_rng(3)
    n_reported = 0
    for _ in range(400):
        early, late = (series(made(rng, 5, 8, between=0.03, first=first)) for first in (1, 100))
        n_reported += change_between(early, late).word != "no clear change"
    assert n_reported / 400 < 0.075


def test_a_change_is_found():
    rng = np.random.default_rng(4)
    early = series(made(rng, 6, 10, between=0.02))
    late = series(made(rng, 6, 10, mean=0.5, between=0.02, first=50))
    assert change_between(early, late).word == "fell"
    assert change_between(late, early).word == "rose"


def test_one_session_each_adds_what_the_measuring_leaves_open():
    early, late = {1: [0.60, 0.61, 0.62]}, {2: [0.63, 0.64, 0.65]}
    sure = change_between(series(early, u=0.0), series(late, u=0.0))
    assert (sure.word, sure.has_session_spread) == ("rose", False)
    assert change_between(series(early, u=0.05), series(late, u=0.05)).word == "no clear change"
    assert change_between(series(early, u=np.nan), series(late, u=np.nan)).word == "rose"


def test_too_few_reps_tell_nothing():
    assert change_between(series({1: [0.6, 0.7]}), series({2: [0.5] * 9})) is None
    # One rep in each session leaves only the spread between sessions.
    single = [series({s: [0.6 + 0.01 * s] for s in range(k, k + 3)}) for k in (1, 50)]
    assert change_between(*single).word == "rose"


def test_equal_values_are_no_change():
    same = change_between(
        series({1: [0.6] * 3, 2: [0.6] * 3}), series({3: [0.6] * 3, 4: [0.6] * 3})
    )
    assert same.word == "no clear change"


def test_a_drift_late_in_sessions_is_found():
    rng = np.random.default_rng(5)
    steady = series(made(rng, 6, 30), key="release_height_m")
    drifting = series(made(rng, 6, 30, drift=-0.12))
    (found,) = find_drifts([steady, drifting])
    assert found.key == "step_back_m"
    assert found.late < found.early
    assert found.n_sessions == 6


def test_steady_measures_are_told_to_drift_once_in_twenty_athletes():
    rng = np.random.default_rng(6)
    n_reported = sum(
        bool(
            find_drifts(
                [
                    series(made(rng, 5, 12, between=0.05), key=key)
                    for key in ("step_back_m", "release_height_m", "trunk_lean_deg")
                ]
            )
        )
        for _ in range(300)
    )
    assert n_reported / 300 < 0.08


def test_drifts_need_three_sessions_and_two_reps_in_a_third():
    rng = np.random.default_rng(7)
    assert find_drifts([series(made(rng, 2, 30, drift=-0.5))]) == []
    assert find_drifts([series(made(rng, 6, 5, drift=-0.5))]) == []
    arm = series(made(rng, 6, 30, drift=-0.5), key="defender_arm_length_m")
    assert find_drifts([arm]) == []
