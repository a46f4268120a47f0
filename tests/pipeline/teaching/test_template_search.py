"""Stretches of a motion like an example: found at any tempo, none where nobody was seen."""

import numpy as np
import pytest

from pipeline.teaching.template_search import at_tempo, distance_between, stretches


def wave(n, seed=0):
    """A smooth random motion of four columns."""
    steps = np.random.default_rng(seed).standard_normal((n + 20, 4))
    window = np.hanning(20)
    return np.stack([np.convolve(column, window, "valid")[:n] for column in steps.T], 1)


EXAMPLE = wave(40, 1)


def hidden_in(example, start=100, n=300):
    """A motion in which an example lies from `start` on."""
    values = wave(n, 2)
    values[start : start + len(example)] = example
    return values


@pytest.mark.parametrize("length", [33, 40, 48])
def test_an_example_is_found_at_other_tempos(length):
    values = hidden_in(at_tempo(EXAMPLE, length))
    best = stretches([EXAMPLE], values, np.ones(len(values), bool))[0]
    assert best.start == pytest.approx(100, abs=3)
    assert best.stop == pytest.approx(100 + length, abs=3)
    others = stretches([EXAMPLE], values, np.ones(len(values), bool))[1:]
    assert best.distance < 0.5 * min(other.distance for other in others)


def test_the_example_that_fits_is_named():
    values = hidden_in(EXAMPLE)
    best = stretches([wave(40, 3), EXAMPLE], values, np.ones(len(values), bool))[0]
    assert (best.example, best.start, best.stop) == (1, 100, 140)
    assert best.distance == pytest.approx(0.0, abs=1e-9)


def test_where_nobody_was_seen_nothing_is_found():
    values = hidden_in(EXAMPLE)
    known = np.ones(len(values), bool)
    known[105:135] = False
    found = stretches([EXAMPLE], values, known)
    assert all(stretch.distance > 0.1 for stretch in found)


def test_what_is_out_of_reach_is_left_out():
    values = hidden_in(EXAMPLE)
    assert len(stretches([EXAMPLE], values, np.ones(len(values), bool), reach=1e-6)) == 1


def test_a_motion_shorter_than_the_example_has_no_stretch():
    assert stretches([EXAMPLE], wave(10), np.ones(10, bool)) == []


def test_distance_is_symmetric_and_zero_for_the_same_motion_at_another_tempo():
    slower = at_tempo(EXAMPLE, 60)
    assert distance_between(EXAMPLE, slower) == pytest.approx(distance_between(slower, EXAMPLE))
    assert distance_between(EXAMPLE, slower) < 0.1 * distance_between(EXAMPLE, wave(40, 5))
