"""Samples to train and to judge the classifier on: moments of simulated films with their labels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from models.moves.classifier import NOT_A_REP
from models.training.film import CLASSES, SimulatedFilm, TrueRep, simulate_film
from pipeline.core.types import FloatArray
from pipeline.moves.body_frame import body_frame
from pipeline.moves.naming.candidates import busy_rows
from pipeline.moves.naming.features import features_at, right_on_top
from pipeline.moves.naming.grid import move_grid
from pipeline.moves.signals import signals_of

AT_KEY_S = 0.12
"""Moments this near to the key instant have the rep's label."""

NEAR_KEY_S = 0.35
"""Moments this near, but no nearer than that, have none."""

NEGATIVES_PER_POSITIVE = 4

N_KINDS = 2
"""Films of even numbers show limbs as far as they go, those of odd ones as far as the pose model
follows them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Samples:
    """Moments of films.

    Attributes
    ----------
    features
        (m, n_features).
    labels
        (m,) class indices.
    reaches_s
        (m, 2) how far the rep reaches before and after the moment; NaN where missing.
    films
        (m,) number of the film that each is from.
    """

    features: FloatArray
    labels: np.ndarray
    reaches_s: FloatArray
    films: np.ndarray


def labels_at(time_s: FloatArray, reps: Sequence[TrueRep]) -> np.ndarray:
    """(n,) class index of each instant; -1 where none is sure."""
    labels = np.full(time_s.size, CLASSES.index(NOT_A_REP))
    for rep in reps:
        off_s = np.abs(time_s - rep.key_s)
        labels[(off_s < NEAR_KEY_S) & (labels == CLASSES.index(NOT_A_REP))] = -1
        labels[off_s <= AT_KEY_S] = CLASSES.index(rep.label)
    return labels


def reaches_at(time_s: FloatArray, reps: Sequence[TrueRep]) -> FloatArray:
    """(n, 2) how far the rep whose key instant is near reaches before and after each instant."""
    reaches_s = np.full((time_s.size, 2), np.nan)
    for rep in reps:
        near = np.abs(time_s - rep.key_s) <= AT_KEY_S
        reaches_s[near, 0] = time_s[near] - rep.start_s
        reaches_s[near, 1] = rep.stop_s - time_s[near]
    return reaches_s


def film_samples(film: SimulatedFilm, number: int, chance: np.random.Generator) -> Samples:
    """Draw moments of a film, all those of its reps and some of the rest.

    Parameters
    ----------
    film
        As simulated.
    number
        Of the film.
    chance
        For the choice.
    """
    athlete = signals_of(film.athlete)
    defender = None if film.defender is None else signals_of(film.defender)
    grid = move_grid(body_frame(film.athlete, athlete), athlete, defender)
    rows = busy_rows(grid)
    labels = labels_at(grid.time_s, film.reps)[rows]
    positive = np.flatnonzero((labels >= 0) & (labels != CLASSES.index(NOT_A_REP)))
    negative = np.flatnonzero(labels == CLASSES.index(NOT_A_REP))
    wanted = min(negative.size, NEGATIVES_PER_POSITIVE * max(positive.size, 10))
    chosen = np.concatenate([positive, chance.choice(negative, wanted, replace=False)])
    rows, labels = rows[chosen], labels[chosen]
    reaches_s = reaches_at(grid.time_s, film.reps)[rows]
    features = features_at(grid, rows, right_on_top(grid, rows))
    return Samples(features=features, labels=labels, reaches_s=reaches_s,
                   films=np.full(rows.size, number))  # fmt: skip


def draw_samples(seed: int, n_films: int, first: int = 0) -> Samples:
    """Simulate films and draw moments of them.

    Parameters
    ----------
    seed
        Of all of it; each film has its own stream, so that films can be added.
    n_films, first
        How many, from which number on.
    """
    parts = []
    for number in range(first, first + n_films):
        chance = np.random.default_rng([seed, number])
        film = simulate_film(chance, short=bool(number % N_KINDS))
        parts.append(film_samples(film, number, chance))
    return joined_samples(parts)


def joined_samples(parts: Sequence[Samples]) -> Samples:
    """Put samples together."""
    return Samples(
        features=np.concatenate([part.features for part in parts]),
        labels=np.concatenate([part.labels for part in parts]),
        reaches_s=np.concatenate([part.reaches_s for part in parts]),
        films=np.concatenate([part.films for part in parts]),
    )
