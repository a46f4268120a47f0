"""The move classifier: the file that was shipped, probabilities, no code inside the weights."""

import hashlib
import subprocess
import sys
import zipfile

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.moves.classifier import (
    CHECKSUMS,
    WEIGHTS,
    MoveClassifier,
    Network,
    move_classifier,
    read_classifier,
    write_classifier,
)
from models.training.film import CLASSES
from pipeline.core.errors import ModelError
from pipeline.moves.naming.features import N_FEATURES


def test_the_shipped_weights_are_the_listed_ones_and_fit_the_features():
    digest, name = CHECKSUMS.read_text(encoding="ascii").split()
    assert (name, digest) == (WEIGHTS.name, hashlib.sha256(WEIGHTS.read_bytes()).hexdigest())
    classifier = move_classifier()
    assert classifier.classes == CLASSES
    assert classifier.centre.shape == classifier.scale.shape == (N_FEATURES,)
    assert (classifier.scale > 0).all()


def test_the_weights_hold_plain_arrays_only():
    with zipfile.ZipFile(WEIGHTS) as archive:
        assert all(name.endswith(".npy") for name in archive.namelist())
    with np.load(WEIGHTS, allow_pickle=False) as kept:  # raises on anything else
        assert all(kept[name].dtype.kind in "fU" for name in kept.files)


@given(seed=st.integers(0, 2**31), spread=st.floats(0.0, 1e4), lost=st.floats(0.0, 1.0))
@settings(max_examples=10, deadline=None, derandomize=True)
def test_probabilities_sum_to_one_whatever_was_seen(seed, spread, lost):
    chance = np.random.default_rng(seed)
    features = spread * chance.standard_normal((5, N_FEATURES))
    features[chance.random(features.shape) < lost] = np.nan
    likely = move_classifier().probabilities(features)
    assert likely.shape == (5, len(CLASSES))
    assert (likely >= 0.0).all()
    assert likely.sum(axis=1) == pytest.approx(1.0)
    assert np.isfinite(move_classifier().reaches_s(features)).all()


def small_classifier():
    def network(n_outputs):
        return Network(
            weights=(np.eye(3, 4, dtype=np.float32), np.ones((4, n_outputs), np.float32)),
            biases=(np.zeros(4, np.float32), np.arange(n_outputs, dtype=np.float32)),
        )

    return MoveClassifier(
        classes=("a", "b"), centre=np.zeros(3, np.float32), scale=np.ones(3, np.float32),
        naming=(network(2),), reaching=network(2), temperature=2.0,
    )  # fmt: skip


def test_a_small_network_gives_what_is_worked_out_by_hand(tmp_path):
    path, sums = tmp_path / "small.npz", tmp_path / "SHA256SUMS"
    write_classifier(small_classifier(), path, sums)
    kept = read_classifier(path, sums)
    # max(0, (1, -2, 3)) sums to 4 for both classes; the biases 0 and 1 are halved.
    likely = kept.probabilities(np.array([[1.0, -2.0, 3.0]]))
    assert likely[0, 1] == pytest.approx(1.0 / (1.0 + np.exp(-0.5)))
    assert kept.probabilities(np.array([[np.nan] * 3]))[0, 1] == pytest.approx(likely[0, 1])


def test_changed_weights_are_refused(tmp_path):
    path, sums = tmp_path / "small.npz", tmp_path / "SHA256SUMS"
    write_classifier(small_classifier(), path, sums)
    path.write_bytes(path.read_bytes() + b" ")
    with pytest.raises(ModelError, match=r"small\.npz.*checksum"):
        read_classifier(path, sums)
    path.unlink()
    with pytest.raises(ModelError, match=r"small\.npz.*cannot be read"):
        read_classifier(path, sums)


def test_naming_moves_needs_no_training_library():
    code = (
        "import sys; from models.moves.classifier import move_classifier; move_classifier();"
        "import pipeline.moves.naming.find_all;"
        "assert not [m for m in sys.modules if m.split('.')[0] == 'sklearn'], 'sklearn'"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
