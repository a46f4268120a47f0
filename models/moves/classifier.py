"""Tells which move a moment of a motion is, or none: small networks evaluated by NumPy alone."""

from __future__ import annotations

import hashlib
import io
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from pipeline.core.errors import ModelError
from pipeline.core.types import FloatArray

WEIGHTS = Path(__file__).parent / "classifier.npz"
CHECKSUMS = Path(__file__).parent / "SHA256SUMS"

NOT_A_REP, OTHER = "not_a_rep", "other"
"""Classes beside the moves: no rep at all, and a rep of a move that is not taught."""

FURTHEST = 5.0
"""Standardised features are cut off here: what lies further off adds nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Network:
    """Layers of weights (inputs, outputs) and biases, with max(0, x) between them."""

    weights: tuple[FloatArray, ...]
    biases: tuple[FloatArray, ...]

    def outputs(self, inputs: FloatArray) -> FloatArray:
        """Give the last layer's outputs (m, n_outputs) for inputs (m, n_inputs)."""
        layer = self.hidden(inputs)
        return np.asarray(layer @ self.weights[-1] + self.biases[-1], dtype=float)

    def hidden(self, inputs: FloatArray) -> FloatArray:
        """Give what the last layer sees (m, n_hidden)."""
        layer = inputs
        for weight, bias in zip(self.weights[:-1], self.biases[:-1], strict=True):
            layer = np.maximum(layer @ weight + bias, 0.0)
        return layer


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveClassifier:
    """Networks, and what their outputs mean.

    Attributes
    ----------
    classes
        Moves by their keys, then ``other`` (a rep of a move that is not taught) and ``not_a_rep``.
    centre, scale
        (n_features,) by which features are standardised; a missing feature lies at the centre.
    naming
        Networks whose mean probability is the class's.
    reaching
        Gives the logarithms of how far the rep reaches before and after the moment, s.
    temperature
        By which the outputs of `naming` are divided, set on simulated films that were held out.
    """

    classes: tuple[str, ...]
    centre: FloatArray
    scale: FloatArray
    naming: tuple[Network, ...]
    reaching: Network
    temperature: float

    def probabilities(self, features: FloatArray) -> FloatArray:
        """Probability of each class.

        Parameters
        ----------
        features
            (m, n_features) as from `pipeline.moves.naming.features`; NaN where not seen.

        Returns
        -------
        numpy.ndarray
            (m, n_classes), rows sum to 1.
        """
        inputs = self._standard(features)
        return np.asarray(
            np.mean(
                [softmax(network.outputs(inputs) / self.temperature) for network in self.naming],
                axis=0,
            )
        )

    def taught(self, features: FloatArray, probabilities: FloatArray) -> FloatArray:
        """Give probabilities as they are after what was learned on top: nothing was, here.

        Parameters
        ----------
        features
            (m, n_features).
        probabilities
            (m, n_classes) of this classifier, limited by the definitions.
        """
        del features
        return probabilities

    def hidden(self, features: FloatArray) -> FloatArray:
        """(m, n_hidden) what the last layers of the naming networks see, side by side."""
        inputs = self._standard(features)
        hidden = [network.hidden(inputs) for network in self.naming]
        return np.concatenate(hidden, axis=1, dtype=float)

    def reaches_s(self, features: FloatArray) -> FloatArray:
        """(m, 2) how far a rep would reach before and after each moment, s."""
        outputs = self.reaching.outputs(self._standard(features))
        return np.asarray(np.exp(np.clip(outputs, np.log(SHORTEST_S), np.log(LONGEST_S))))

    def _standard(self, features: FloatArray) -> FloatArray:
        values = (np.asarray(features, np.float32) - self.centre) / self.scale
        return np.clip(np.nan_to_num(values, nan=0.0), -FURTHEST, FURTHEST)


SHORTEST_S, LONGEST_S = 0.05, 6.0
"""No rep reaches less far, or further, from its key moment."""


def softmax(outputs: FloatArray) -> FloatArray:
    """Probabilities from outputs (m, n)."""
    likely = np.exp(outputs - outputs.max(axis=1, keepdims=True))
    return np.asarray(likely / likely.sum(axis=1, keepdims=True))


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
        raise ModelError.of("unreadable_move_classifier", file=path.name) from error
    listed = {name: digest for digest, name in (line.split() for line in lines if line)}
    if hashlib.sha256(content).hexdigest() != listed.get(path.name):
        raise ModelError.of("altered_move_classifier", file=path.name)
    with np.load(io.BytesIO(content), allow_pickle=False) as kept:
        arrays = {name: kept[name] for name in kept.files}
    n_naming = len({name.split("_")[1] for name in arrays if name.startswith("naming")})
    return MoveClassifier(
        classes=tuple(str(name) for name in arrays["classes"]),
        centre=arrays["centre"],
        scale=arrays["scale"],
        naming=tuple(_network(arrays, f"naming_{i}") for i in range(n_naming)),
        reaching=_network(arrays, "reaching"),
        temperature=float(arrays["temperature"]),
    )


def _network(arrays: dict[str, FloatArray], name: str) -> Network:
    n_layers = sum(key.startswith(f"{name}_weight_") for key in arrays)

    def layers(part: str) -> tuple[FloatArray, ...]:
        return tuple(arrays[f"{name}_{part}_{i}"].astype(np.float32) for i in range(n_layers))

    return Network(weights=layers("weight"), biases=layers("bias"))


def write_classifier(classifier: MoveClassifier, path: Path, checksums: Path) -> None:
    """Keep a classifier, weights in half precision, and list its checksum."""
    arrays: dict[str, Any] = {}
    networks = {f"naming_{i}": network for i, network in enumerate(classifier.naming)}
    for name, network in {**networks, "reaching": classifier.reaching}.items():
        for i, (weight, bias) in enumerate(zip(network.weights, network.biases, strict=True)):
            arrays[f"{name}_weight_{i}"] = weight.astype(np.float16)
            arrays[f"{name}_bias_{i}"] = bias.astype(np.float32)
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
