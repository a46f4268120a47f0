"""A team's layer: it learns what is taught, and leaves alone what is not like it."""

import numpy as np
import pytest

from models.moves.classifier import MoveClassifier, Network
from pipeline.teaching.team_classifier import (
    Lesson,
    TeamClassifier,
    fit_layer,
    hold_out,
    named,
    named_by,
    with_layer,
)

CLASSES = ("split_dodge", "roll_dodge", "other", "not_a_rep")
N = 6


def base():
    """A classifier whose class is the greatest of the first four features."""
    hidden = np.concatenate([np.eye(N), -np.eye(N)], axis=1).astype(np.float32)
    last = np.concatenate([np.eye(N), -np.eye(N)])[:, :4].astype(np.float32)
    network = Network(
        weights=(hidden, 2 * last), biases=(np.zeros(2 * N, np.float32), np.zeros(4, np.float32))
    )
    return MoveClassifier(
        classes=CLASSES, centre=np.zeros(N, np.float32), scale=np.ones(N, np.float32),
        naming=(network,), reaching=network, temperature=1.0,
    )  # fmt: skip


def moments(kind, odd, n, seed):
    """Moments of a class; the odd ones have the last feature high."""
    values = np.random.default_rng(seed).normal(0.0, 0.2, (n, N))
    values[:, kind] += 1.0
    values[:, -1] += 2.0 if odd else -0.5
    return values


def lessons(n_films=3):
    """The odd kind of what looks like a split is a roll, in each film twice."""
    return [
        Lesson(features=moments(0, True, 4, 10 * film + k), label="roll_dodge", clip=str(film))
        for film in range(n_films)
        for k in range(2)
    ]


def anchors(n_films=3):
    return [
        Lesson(
            features=np.concatenate([moments(kind, False, 20, film) for kind in range(4)]),
            label="",
            clip=str(film),
        )
        for film in range(n_films)
    ]


def test_what_was_corrected_is_named_so_in_other_films_and_the_rest_stays():
    shipped = base()
    taught = with_layer(shipped, fit_layer(shipped, lessons(), anchors()))
    fresh = moments(0, True, 30, 99)
    assert named(shipped, fresh) == "split_dodge"
    assert named(taught, fresh) == "roll_dodge"
    for kind, name in enumerate(CLASSES):
        assert named(taught, moments(kind, False, 30, 98)) == name
    assert np.allclose(taught.probabilities(fresh).sum(axis=1), 1.0)
    assert np.array_equal(taught.reaches_s(fresh), shipped.reaches_s(fresh))


def test_held_out_films_tell_before_and_after():
    result = hold_out(base(), lessons(), anchors())
    assert (result.n, result.n_films) == (6, 3)
    assert result.right_before == 0
    assert result.right_after == 6
    assert result.changed == pytest.approx(0.0, abs=0.02)


def test_one_film_cannot_be_held_out():
    result = hold_out(base(), lessons(1), anchors(1))
    assert (result.n, result.right_before, result.right_after) == (0, 0, 0)
    assert np.isnan(result.changed)


def test_confirming_what_is_right_changes_next_to_nothing():
    shipped = base()
    right = [Lesson(features=moments(1, False, 4, 5), label="roll_dodge", clip="a")]
    taught = with_layer(shipped, fit_layer(shipped, right, anchors()))
    fresh = np.concatenate([moments(kind, False, 20, 97) for kind in range(4)])
    assert np.allclose(taught.probabilities(fresh), shipped.probabilities(fresh), atol=0.1)


def test_an_analysis_says_that_it_was_named_by_what_was_learned():
    shipped = base()
    layer = fit_layer(shipped, lessons(), anchors())
    assert named_by(None) == named_by(shipped) == ()
    assert "version 4" in named_by(with_layer(shipped, layer, 4))[0]
    assert isinstance(with_layer(shipped, layer), TeamClassifier)
