"""Makes the move classifier anew: simulates films, trains, calibrates, writes weights and figures.

Run as ``python -m models.training.train``; it needs scikit-learn and takes some minutes. Features
are made by the program's own code, so that what is trained on is what is seen later.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path

import numpy as np

from models.moves.classifier import (
    CHECKSUMS,
    FURTHEST,
    NOT_A_REP,
    WEIGHTS,
    MoveClassifier,
    Network,
    softmax,
    write_classifier,
)
from models.training.film import CLASSES
from models.training.samples import Samples, draw_samples, joined_samples
from pipeline.core.types import FloatArray

SEED, HELD_OUT_SEED = 1, 2
HIDDEN = (128, 64)
N_SETS, N_NETWORKS = 4, 3
"""So many sets of films, and so many networks trained on each: those that have seen different films
err differently, and less together."""
N_EPOCHS = 6
BATCH = 512
N_COMPONENTS = 200
"""The networks see this many principal components, which become part of their first layer."""
BLUR = 0.4
"""In each epoch features are blurred by this much of their spread, so that no small difference of
one kind of film decides."""

LogLine = Callable[[str], None]
Draw = Callable[[int], Samples]


def standardised(features: FloatArray, centre: FloatArray, scale: FloatArray) -> FloatArray:
    """Features as the networks take them."""
    values = np.nan_to_num((features - centre) / scale, nan=0.0)
    return np.asarray(np.clip(values, -FURTHEST, FURTHEST), dtype=np.float32)


def trained(draw: Draw, held_out: Samples, *, log_line: LogLine) -> MoveClassifier:
    """Train and calibrate a classifier.

    Parameters
    ----------
    draw
        Gives the samples of each set of films to train on, by its number.
    held_out
        Of other simulated bodies: for the temperature.
    log_line
        Told how it goes.
    """
    naming: list[Network] = []
    for number in range(N_SETS):
        samples = draw(number)
        if not naming:
            centre, scale = _centre_and_scale(samples.features)
        inputs = standardised(samples.features, centre, scale)
        components = principal_components(inputs)
        inputs = inputs @ components
        other = standardised(held_out.features, centre, scale) @ components
        for seed in range(N_NETWORKS):
            network = _naming(
                inputs, samples.labels, other, held_out.labels, (number, seed), log_line
            )
            naming.append(_from_features(network, components))
        if number == 0:
            reaching = _from_features(
                _reaching(inputs, samples, other, held_out, log_line), components
            )
    unseen = standardised(held_out.features, centre, scale)
    temperature = best_temperature([each.outputs(unseen) for each in naming], held_out.labels)
    log_line(f"temperature {temperature:.2f}")
    return MoveClassifier(
        classes=CLASSES,
        centre=centre,
        scale=scale,
        naming=tuple(naming),
        reaching=reaching,
        temperature=temperature,
    )


def _centre_and_scale(features: FloatArray) -> tuple[FloatArray, FloatArray]:
    centre = np.asarray(np.nanmean(features, axis=0, dtype=np.float64), np.float32)
    return centre, np.nanstd(features, axis=0, dtype=np.float64).astype(np.float32) + 1e-3


def principal_components(inputs: FloatArray) -> FloatArray:
    """(n_features, `N_COMPONENTS`) directions in which standardised features vary most."""
    spread = np.zeros((inputs.shape[1], inputs.shape[1]))
    for part in np.array_split(inputs, max(1, len(inputs) // 20_000)):
        spread += part.T.astype(float) @ part
    _, directions = np.linalg.eigh(spread)
    return np.asarray(directions[:, : -N_COMPONENTS - 1 : -1], dtype=np.float32)


def _from_features(network: Network, components: FloatArray) -> Network:
    """Make the first layer take features instead of components."""
    return Network(
        weights=(components @ network.weights[0], *network.weights[1:]), biases=network.biases
    )


def best_temperature(outputs: list[FloatArray], labels: np.ndarray) -> float:
    """Temperature under which the held-out labels are likeliest."""
    rows = np.arange(labels.size)

    def loss(temperature: float) -> float:
        mean = np.mean([softmax(each / temperature) for each in outputs], axis=0)
        return float(-np.log(mean[rows, labels] + 1e-9).mean())

    tried = [float(value) for value in np.arange(0.5, 4.0, 0.05)]
    return min(tried, key=loss)


def _naming(
    inputs: FloatArray, labels: np.ndarray, other: FloatArray, other_labels: np.ndarray,
    seed: tuple[int, int], log_line: LogLine,
) -> Network:  # fmt: skip
    from sklearn.neural_network import MLPClassifier

    chance = np.random.default_rng([SEED, *seed])
    model = MLPClassifier(HIDDEN, alpha=1e-3, batch_size=BATCH, random_state=10 * seed[0] + seed[1],
                          learning_rate_init=2e-3)  # fmt: skip
    for epoch in range(N_EPOCHS):
        if epoch:
            rate = 2e-3 * (1.0 - epoch / N_EPOCHS) + 5e-5
            model._optimizer.learning_rate_init = rate
        order = chance.permutation(labels.size)
        model.partial_fit(
            _blurred(inputs[order], chance), labels[order], classes=np.arange(len(CLASSES))
        )
        likely = model.predict_proba(other)
        right = likely.argmax(axis=1) == other_labels
        in_rep = other_labels != CLASSES.index(NOT_A_REP)
        loss = -np.log(likely[np.arange(right.size), other_labels] + 1e-9).mean()
        log_line(f"naming {seed[0]}.{seed[1]}, epoch {epoch}: right {right.mean():.4f}, "
            f"in reps {right[in_rep].mean():.4f}, loss {loss:.4f}")  # fmt: skip
    return _kept(model)


def _reaching(
    inputs: FloatArray, samples: Samples, other: FloatArray, held_out: Samples, log_line: LogLine
) -> Network:
    from sklearn.neural_network import MLPRegressor

    chance = np.random.default_rng([SEED, 99])
    rows = np.isfinite(samples.reaches_s).all(axis=1)
    wanted = np.log(np.clip(samples.reaches_s[rows], 0.05, 6.0))
    model = MLPRegressor(hidden_layer_sizes=(64, 32), alpha=1e-2, batch_size=BATCH, random_state=0,
                         learning_rate_init=2e-3)  # fmt: skip
    for epoch in range(2 * N_EPOCHS):
        if epoch:
            model._optimizer.learning_rate_init = 2e-3 * (1.0 - 0.5 * epoch / N_EPOCHS) + 5e-5
        order = chance.permutation(len(wanted))
        model.partial_fit(_blurred(inputs[rows][order], chance), wanted[order])
    network = _kept(model)
    rows = np.isfinite(held_out.reaches_s).all(axis=1)
    off = np.abs(np.exp(network.outputs(other[rows])) - held_out.reaches_s[rows])
    log_line(f"reach: median errors {np.median(off, axis=0).round(3)} s, "
        f"90th {np.percentile(off, 90, axis=0).round(3)} s")  # fmt: skip
    return network


def _blurred(inputs: FloatArray, chance: np.random.Generator) -> FloatArray:
    noise = chance.standard_normal(inputs.shape, dtype=np.float32)
    return np.asarray(inputs + np.float32(BLUR) * noise)


def _kept(model: object) -> Network:
    return Network(
        weights=tuple(np.asarray(w, np.float32) for w in model.coefs_),  # type: ignore[attr-defined]
        biases=tuple(np.asarray(b, np.float32) for b in model.intercepts_),  # type: ignore[attr-defined]
    )


def main() -> int:
    """Simulate, train, write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--films", type=int, default=900, help="in each set")
    parser.add_argument("--held-out", type=int, default=60)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--out", type=Path, default=WEIGHTS)
    options = parser.parse_args()
    held_out = _drawn(HELD_OUT_SEED, 0, options.held_out, options.workers)
    classifier = trained(
        lambda number: _drawn(SEED, number * options.films, options.films, options.workers),
        held_out,
        log_line=print,
    )
    write_classifier(classifier, options.out, options.out.with_name(CHECKSUMS.name))
    return 0


def _drawn(seed: int, first: int, n_films: int, n_workers: int) -> Samples:
    """Draw samples by several processes; the result is the same for any number of them."""
    from concurrent.futures import ProcessPoolExecutor

    size = 20
    starts = list(range(0, n_films, size))
    with ProcessPoolExecutor(n_workers) as pool:
        parts = pool.map(
            draw_samples,
            [seed] * len(starts),
            [min(size, n_films - start) for start in starts],
            [first + start for start in starts],
        )
        return joined_samples(list(parts))


if __name__ == "__main__":
    raise SystemExit(main())
