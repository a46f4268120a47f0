"""What moves are told from: the same for every camera, size, side and frame rate."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.training.film import CLASSES
from pipeline.moves.body_frame import body_frame
from pipeline.moves.naming.features import N_FEATURES, features_at, right_on_top
from pipeline.moves.naming.grid import STEP_S, mirrored_grid, move_grid
from pipeline.moves.signals import signals_of
from tests.fixtures.simulated import film_of, mirrored_motion, scaled, turned

MOVES = CLASSES[:-2]


def grid_of(athlete, defender=None):
    signals = signals_of(athlete)
    other = None if defender is None else signals_of(defender)
    return move_grid(body_frame(athlete, signals), signals, other)


def features_of(athlete, defender=None, at_s=None):
    grid = grid_of(athlete, defender)
    rows = np.arange(40, grid.time_s.size - 40, 7)
    if at_s is not None:
        rows = np.searchsorted(grid.time_s, np.asarray(at_s) - 1e-6)
    return features_at(grid, rows, right_on_top(grid, rows))


@pytest.mark.slow
@given(
    seed=st.integers(0, 10_000),
    move=st.sampled_from(MOVES),
    angle=st.floats(-3.1, 3.1),
    shift_m=st.tuples(st.floats(-20, 20), st.floats(-20, 20)),
    factor=st.floats(0.6, 1.5),
)
@settings(max_examples=4, deadline=None, derandomize=True)
def test_where_one_stands_and_how_tall_one_is_makes_no_difference(
    seed, move, angle, shift_m, factor
):
    film = film_of(seed, move)
    people = [p for p in (film.athlete, film.defender) if p is not None]
    as_it_is = features_of(*people)
    assert as_it_is.shape[1] == N_FEATURES
    otherwise = features_of(*[scaled(turned(p, angle, shift_m), factor) for p in people])
    assert otherwise == pytest.approx(as_it_is, abs=2e-3, nan_ok=True)


@pytest.mark.slow
@given(seed=st.integers(0, 10_000), move=st.sampled_from(MOVES))
@settings(max_examples=4, deadline=None, derandomize=True)
def test_a_left_hander_has_the_features_of_his_mirror_image(seed, move):
    film = film_of(seed, move)
    people = [p for p in (film.athlete, film.defender) if p is not None]
    grid = grid_of(*people)
    rows = np.arange(40, grid.time_s.size - 40, 7)
    right = right_on_top(grid, rows)
    other = grid_of(*[mirrored_motion(p) for p in people])
    higher = grid.body[:, 5] - grid.body[:, 2]
    clear = np.abs(higher[rows]) > 1e-6
    assert np.array_equal(right_on_top(other, rows)[clear], ~right[clear])
    assert features_at(other, rows, ~right) == pytest.approx(
        features_at(grid, rows, right), abs=1e-4, nan_ok=True
    )


@pytest.mark.parametrize("rate_hz", [60.0, 240.0])
def test_the_frame_rate_makes_hardly_a_difference(rate_hz):
    slow, fast = (film_of(5, "throwback_pass", rate_hz=rate) for rate in (30.0, rate_hz))
    at_s = [slow.reps[0].key_s - 0.3, slow.reps[0].key_s]
    one, other = (features_of(film.athlete, film.defender, at_s) for film in (slow, fast))
    assert np.median(np.abs(one - other)) < 0.01
    assert np.percentile(np.abs(one - other), 95) < 0.2


def test_the_mirror_image_of_a_mirror_image_is_the_motion_itself():
    film = film_of(1, "split_dodge")
    grid = grid_of(film.athlete)
    twice = mirrored_grid(mirrored_grid(grid))
    assert np.array_equal(twice.body, grid.body, equal_nan=True)
    assert np.array_equal(twice.path, grid.path)


def test_what_was_not_seen_for_long_stays_unknown_and_short_gaps_are_bridged():
    film = film_of(2, "step_down_shot")
    joints_m = film.athlete.joints_m.copy()
    joints_m[:, 30:36] = np.nan
    joints_m[:, 90:120] = np.nan
    from dataclasses import replace

    grid = grid_of(replace(film.athlete, joints_m=joints_m))
    times = film.athlete.time_s
    short = round(float(times[33]) / STEP_S)
    long = round(float(times[105]) / STEP_S)
    assert np.isfinite(grid.body[short]).all()
    assert np.isnan(grid.body[long, :8]).all()
    assert grid.known[long] < 0.5


def test_a_told_hand_decides_only_where_the_hands_are_alike():
    grid = grid_of(film_of(3, "high_to_low_shot").athlete)
    rows = np.arange(20, grid.time_s.size, 5)
    alone = right_on_top(grid, rows)
    told = right_on_top(grid, rows, "left" if alone.mean() > 0.5 else "right")
    assert 0.5 < (told == alone).mean() <= 1.0
