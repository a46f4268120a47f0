"""Simulated films: bodies hold together, reps lie where it is said, chance can be repeated."""

import numpy as np
import pytest

from models.training.film import CLASSES, TAUGHT, simulate_film
from models.training.samples import film_samples, labels_at
from models.training.script import mirrored_script
from models.training.style import draw_style
from pipeline.core.types import JOINTS
from pipeline.moves.signals import signals_of
from tests.fixtures.simulated import film_of


@pytest.mark.slow
def test_the_same_seed_gives_the_same_film():
    one, other = (simulate_film(np.random.default_rng(4), n_reps=2) for _ in range(2))
    assert np.array_equal(one.athlete.joints_m, other.athlete.joints_m, equal_nan=True)
    assert one.reps == other.reps


@pytest.mark.slow
@pytest.mark.parametrize("move", TAUGHT)
def test_limbs_keep_their_lengths_and_the_rep_lies_about_its_key(move):
    film = film_of(21, move)
    joints = film.athlete.joints_m[0]
    assert np.isfinite(joints).all()
    for side in ("left", "right"):
        for a, b in (("shoulder", "elbow"), ("hip", "knee"), ("knee", "ankle")):
            first, second = (joints[:, JOINTS.index(f"{side}_{part}")] for part in (a, b))
            assert np.ptp(np.linalg.norm(first - second, axis=1)) < 0.02 * 2
    (rep,) = film.reps
    assert (rep.label, rep.start_s < rep.key_s < rep.stop_s) == (move, True)


@pytest.mark.parametrize("move", [m for m in TAUGHT if m.endswith(("shot", "pass"))])
def test_the_key_of_a_throw_is_a_burst_of_the_hand(move):
    film = film_of(22, move)
    signals = signals_of(film.athlete)
    hands = np.gradient(signals.hand_m, signals.time_s, axis=0)
    speed = np.linalg.norm(hands, axis=-1).max(axis=1) / signals.stature_m
    near = np.abs(signals.time_s - film.reps[0].key_s) < 0.15
    assert speed[near].max() > 1.2


def test_a_mirrored_script_mirrored_is_itself():
    chance = np.random.default_rng(0)
    script = TAUGHT["split_dodge"](draw_style(chance), chance)
    twice = mirrored_script(mirrored_script(script))
    assert np.allclose(twice.controls, script.controls)
    assert twice.right_on_top == script.right_on_top


def test_samples_carry_the_labels_of_their_reps():
    film = film_of(23, "roll_dodge", "other", noise=1.0)
    samples = film_samples(film, 7, np.random.default_rng(0))
    assert samples.features.shape[0] == samples.labels.size == samples.films.size
    assert {CLASSES[label] for label in samples.labels} == {"roll_dodge", "other", "not_a_rep"}
    in_rep = np.isfinite(samples.reaches_s).all(axis=1)
    assert np.array_equal(in_rep, samples.labels != CLASSES.index("not_a_rep"))
    labels = labels_at(np.array([film.reps[0].key_s, film.reps[0].key_s + 0.25]), film.reps)
    assert [CLASSES[labels[0]], labels[1]] == ["roll_dodge", -1]
