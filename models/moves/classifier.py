"""Tells which move a moment of a motion is, or none: a small network evaluated by NumPy alone."""

from __future__ import annotations

import hashlib
import io
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

from pipeline.errors import ModelError
from pipeline.types import FloatArray

WEIGHTS = Path(__file__).parent / "classifier.npz"
CHECKSUMS = Path(__file__).parent / "SHA256SUMS"

FURTHEST = 5.0
"""Standardised features are cut off here: what lies further off tells no more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveClassifier:
    """Weights of the network, and what its outputs mean.

    Attributes
    ----------
    classes
        Moves by their keys, then ``other`` (a rep of a move that is not taught) and ``not_a_rep``.
    centre, scale
        (n_features,) by which features are standardised; a missing feature lies at the centre.
    weights, biases
        Of each layer.
    temperature
        By which the last layer's outputs are divided, set on simulated films that were held out.
    """

    classes: tuple[str, ...]
    centre: FloatArray
    scale: FloatArray
    weights: tuple[FloatArray, ...]
    biases: tuple[FloatArray, ...]
    temperature: float

    def probabilities(self, features: FloatArray) -> FloatArray:
        """Probability of each class.

        Parameters
        ----------
        features
            (m, n_features) as from `pipeline.move_features`; NaN where not seen.

        Returns
        -------
        numpy.ndarray
            (m, n_classes), rows sum to 1.
        """
        outputs = self.outputs(features) / self.temperature
        outputs -= outputs.max(axis=1, keepdims=True)
        likely = np.exp(outputs)
        return np.asarray(likely / likely.sum(axis=1, keepdims=True))

    def outputs(self, features: FloatArray) -> FloatArray:
        """(m, n_classes) outputs of the last layer."""
        layer = (np.asarray(features, np.float32) - self.centre) / self.scale
        layer = np.clip(np.nan_to_num(layer, nan=0.0), -FURTHEST, FURTHEST)
        for number, (weight, bias) in enumerate(zip(self.weights, self.biases, strict=True)):
            layer = layer @ weight + bias
            if number + 1 < len(self.weights):
                layer = np.maximum(layer, 0.0)
        return np.asarray(layer, dtype=float)


@lru_cache(maxsize=1)
def move_classifier() -> MoveClassifier:
    """Load the classifier that comes with the program.

    Raises
    ------
    ModelError
        If its file is missing, or not the one that was shipped.
    """
    return read_classifier(WEIGHTS, CHECKSUMS)


def read_classifier(path: Path, checksums: Path) -> MoveClassifier:
    """Load a classifier whose checksum is listed.

    Parameters
    ----------
    path
        The weights.
    checksums
        File of lines ``SHA-256  name``.

    Raises
    ------
    ModelError
        If a file is missing, or the weights are not the ones that are listed.
    """
    try:
        content = path.read_bytes()
        lines = checksums.read_text(encoding="ascii").splitlines()
    except OSError as error:
        raise ModelError(
            f"{path.name}: the move classifier cannot be read.",
            what_to_do="Install the program again.",
        ) from error
    listed = {name: digest for digest, name in (line.split() for line in lines if line)}
    if hashlib.sha256(content).hexdigest() != listed.get(path.name):
        raise ModelError(
            f"{path.name}: this move classifier is not the one that was shipped: its checksum "
            "differs.",
            what_to_do="Install the program again.",
        )
    with np.load(io.BytesIO(content), allow_pickle=False) as kept:
        n_layers = sum(name.startswith("weight_") for name in kept.files)
        return MoveClassifier(
            classes=tuple(str(name) for name in kept["classes"]),
            centre=kept["centre"],
            scale=kept["scale"],
            weights=tuple(kept[f"weight_{i}"].astype(np.float32) for i in range(n_layers)),
            biases=tuple(kept[f"bias_{i}"].astype(np.float32) for i in range(n_layers)),
            temperature=float(kept["temperature"]),
        )


def write_classifier(classifier: MoveClassifier, path: Path, checksums: Path) -> None:
    """Keep a classifier, weights in half precision, and list its checksum."""
    arrays = {f"weight_{i}": w.astype(np.float16) for i, w in enumerate(classifier.weights)}
    arrays |= {f"bias_{i}": b.astype(np.float32) for i, b in enumerate(classifier.biases)}
    with path.open("wb") as file:
        np.savez_compressed(
            file,
            classes=np.array(classifier.classes),
            centre=classifier.centre.astype(np.float32),
            scale=classifier.scale.astype(np.float32),
            temperature=np.array(classifier.temperature),
            **arrays,
        )
    digest = hashlib.sha256(path.read_bytes()).hexdigest()
    checksums.write_text(f"{digest}  {path.name}\n", encoding="ascii")
