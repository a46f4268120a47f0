"""Say where each uncertainty comes from: measure a rep anew with one source drawn at a time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from pipeline.core.results import Measurement
from pipeline.core.types import FloatArray, Rep, Scene
from pipeline.measures.measuring import measure_rep
from pipeline.scene.depth import Placed
from pipeline.scene.uncertainty import SOURCE_NAMES, Sources


def explained_rep(
    rep: Rep,
    *,
    athlete: Placed,
    defender: Placed | None,
    scene: Scene,
    time_s: FloatArray,
    seed: int,
    keys: Sequence[str] | None = None,
) -> dict[str, Measurement]:
    """Measure one rep as `measure_rep` does, and add to each value what each source alone makes.

    One source is drawn at a time, from the same seeds, while all others stay at the best estimate
    (draw 0). The parts need not add up to the whole: `root_sum_of_squares`.

    Parameters
    ----------
    rep, athlete, defender, scene, time_s, seed, keys
        As for `measure_rep`.

    Returns
    -------
    dict
        By measure key; the numbers are those of `measure_rep`, with `sources` beside them.
    """

    def measured(sources: Sources) -> dict[str, Measurement]:
        return measure_rep(
            rep,
            athlete=athlete,
            defender=defender,
            scene=scene,
            time_s=time_s,
            seed=seed,
            sources=sources,
            keys=keys,
        )

    whole = measured(Sources())
    alone = {name: measured(Sources.only(name)) for name in SOURCE_NAMES}
    return {
        key: measurement
        if measurement.value is None
        else replace(
            measurement,
            sources={name: _spread(results[key]) for name, results in alone.items()},
        )
        for key, measurement in whole.items()
    }


def _spread(measurement: Measurement) -> float:
    """Give the standard uncertainty; exactly 0 when all draws are the same, NaN when unknown."""
    if measurement.u is None or measurement.draws is None:
        return float("nan")
    # The mean of equal numbers of single precision is off by a hair, and so is their spread.
    return 0.0 if np.ptp(measurement.draws) == 0.0 else measurement.u
