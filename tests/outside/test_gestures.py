"""Template matching and rep finding on hand gestures that were tracked in film of two people.

Data: GunPoint (Ratanamahatana and Keogh 2005, "Three myths about dynamic time warping data mining",
SIAM Data Mining), 50 + 150 gestures as the package aeon ships them: the sideways place of a hand
that draws or points, one gesture per series of 150 samples, z-normalised. The published accuracy of
the nearest neighbour under dynamic time warping without a window is that of the UCR archive (Dau et
al. 2019, "The UCR time series archive", IEEE/CAA J. Autom. Sinica 6(6)): error 0.0933, quoted from
memory, so that the library's own distances are computed here and decide.
"""

import warnings
from dataclasses import dataclass

import numpy as np
import pytest

from pipeline.teaching.template_search import distance_between, stretches, warped_distance
from tests.bench.segment_scores import Segment, segmental_f1

pytestmark = pytest.mark.slow

QUOTED_ACCURACY = 1 - 0.0933
SERIES = 150


@dataclass(frozen=True)
class Gestures:
    """Gestures to learn from and others to try, with the label of each."""

    train: np.ndarray
    train_labels: np.ndarray
    test: np.ndarray
    test_labels: np.ndarray

    def accuracy(self, distances):
        nearest = np.argmin(distances, axis=1)
        return float((self.train_labels[nearest] == self.test_labels).mean())


@pytest.fixture(scope="module")
def gestures():
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of the package itself, when it is imported
        from aeon.datasets import load_gunpoint

    parts = []
    for split in ("train", "test"):
        values, labels = load_gunpoint(split=split)
        parts += [np.ascontiguousarray(values[:, 0], dtype=float), labels]
    return Gestures(*parts)


def test_distances_and_accuracy_are_those_of_the_reference_library(gestures):
    ours = np.array([[warped_distance(a, b) for b in gestures.train] for a in gestures.test])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of the package and of its compiler
        from aeon.distances import dtw_pairwise_distance

        theirs = np.sqrt(dtw_pairwise_distance(gestures.test[:, None], gestures.train[:, None]))
    assert np.allclose(ours, theirs, atol=1e-9)
    assert gestures.accuracy(ours) == gestures.accuracy(theirs)
    assert gestures.accuracy(ours) == pytest.approx(QUOTED_ACCURACY, abs=0.0005)


def test_the_distance_by_which_drills_are_found_is_no_worse_a_neighbour(gestures):
    # It warps in a band, and for a price.
    apart = [
        [distance_between(a[:, None], b[:, None]) for b in gestures.train] for a in gestures.test
    ]
    assert gestures.accuracy(np.array(apart)) >= QUOTED_ACCURACY


def one_after_the_other(test, seed, n_gestures=30):
    """A row of gestures with rests of any length between them, and where each one is."""
    chance = np.random.default_rng(seed)
    row, truths, n = [], [], 0
    for number in chance.permutation(len(test))[:n_gestures]:
        rest = chance.integers(20, 200)
        last = row[-1][-1] if row else test[number][0]
        row.append(np.linspace(last, test[number][0], rest))
        row.append(test[number])
        truths.append(Segment(n + rest, n + rest + SERIES, "gesture"))
        n += rest + SERIES
    return np.concatenate(row), truths


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_each_gesture_of_a_long_row_is_found_once_from_four_examples(gestures, seed):
    values, truths = one_after_the_other(gestures.test, seed)
    examples = [gestures.train[i][:, None] for i in np.random.default_rng(seed).permutation(50)[:4]]
    known = np.ones(values.size, dtype=bool)
    taken = []
    for one in stretches(examples, values[:, None], known):
        overlaps = [min(one.stop, t.stop) - max(one.start, t.start) for t in taken]
        if all(shared < 0.25 * SERIES for shared in overlaps):
            taken.append(one)
    # As many as there are: how near is near enough is a matter of the examples, tested elsewhere.
    found = [Segment(one.start, one.stop, "gesture") for one in taken[: len(truths)]]
    assert segmental_f1(truths, found, 0.5).score >= 0.97
