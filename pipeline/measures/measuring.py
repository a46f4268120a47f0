"""Measures a rep: each measure of its move with draws, or the reason why not, and its sources."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np

from pipeline.core.messages import message
from pipeline.core.results import Measurement
from pipeline.core.types import FloatArray, Motion, Rep, Scene
from pipeline.measures import MEASURES, MeasureInfo, measures_of
from pipeline.measures.view import NotMeasured, RepView, measurement_from
from pipeline.scene.depth import Placed
from pipeline.scene.motion import motion_of
from pipeline.scene.uncertainty import ALL_SOURCES, SOURCE_NAMES, Sources, scene_drawn

N_WORKERS = 2
"""NumPy lets go of the interpreter while it works on draws, so two reps take the time of one."""

FEWEST_STANDING = 0.3
"""Heights are above the own foot only if it is seen to stand for so much of the rep."""

MARGIN_S = 0.4
MARGIN_OF_THROW_S = 0.2
"""Film before and after the rep that the measures may look at; a throw needs less of it."""


def measure_reps(
    reps: Sequence[Rep], measure: Callable[[Rep], dict[str, Measurement]]
) -> list[dict[str, Measurement]]:
    """Measure all reps of a clip, some side by side; each has draws of its own.

    Parameters
    ----------
    reps
        In the order of the clip.
    measure
        Measures one rep: `measure_rep` with all but the rep given.

    Returns
    -------
    list of dict
        By measure key, in the order of the reps.
    """
    with ThreadPoolExecutor(N_WORKERS) as pool:
        return list(pool.map(measure, reps))


def measure_rep(
    rep: Rep,
    *,
    athlete: Placed,
    defender: Placed | None,
    scene: Scene,
    time_s: FloatArray,
    seed: int,
    sources: Sources = ALL_SOURCES,
    keys: Sequence[str] | None = None,
) -> dict[str, Measurement]:
    """Measure one rep.

    Parameters
    ----------
    rep
        Window and events.
    athlete, defender
        The people, placed over the whole clip.
    scene
        The camera and its draws.
    time_s
        (n_frames,) times of the clip.
    seed
        Of the draws.
    sources
        Which sources of uncertainty are drawn; the others stay at the best estimate.
    keys
        What is measured, for a drill that was taught; None = the measures of the rep's move.

    Returns
    -------
    dict
        By measure key, in the order of the table.
    """
    view = rep_view(
        rep,
        athlete=athlete,
        defender=defender,
        scene=scene,
        time_s=time_s,
        seed=seed,
        sources=sources,
    )
    infos = measures_of(rep.move) if keys is None else [MEASURES[key] for key in keys]
    return {info.key: measure_one(info, view, scene.no_ground) for info in infos}


def rep_view(
    rep: Rep,
    *,
    athlete: Placed,
    defender: Placed | None,
    scene: Scene,
    time_s: FloatArray,
    seed: int,
    sources: Sources = ALL_SOURCES,
) -> RepView:
    """Draw the motion of everyone over the rep and the instants of its events."""
    scene = scene_drawn(scene, sources)
    margin_s = MARGIN_OF_THROW_S if "release" in rep.events else MARGIN_S
    start = int(np.searchsorted(time_s, rep.start_s - margin_s))
    stop = int(np.searchsorted(time_s, rep.stop_s + margin_s))
    generator = np.random.default_rng([seed, rep.index])
    event_s = {}
    for name, event in rep.events.items():
        noise = generator.standard_normal(scene.n_draws)
        instants = event.time_s + (event.u_s if sources.timing else 0.0) * noise
        instants[0] = event.time_s
        event_s[name] = instants

    def motion(person: Placed, number: int) -> Motion:
        return motion_of(
            person,
            time_s,
            scene,
            start,
            stop,
            n_draws=scene.n_draws,
            seed=(seed, rep.index, number),
            sources=sources,
        )

    return RepView(
        rep=rep,
        athlete=motion(athlete, 0),
        defender=None if defender is None else motion(defender, 1),
        event_s=event_s,
        grade=scene.grade,
        sources=sources,
        goal_m=scene.goal_m,
    )


def _require_no_ground(info: MeasureInfo, view: RepView, no_ground: str | None) -> None:
    """Raise `NotMeasured` for a measure that needs a ground."""
    if info.ground == "own_foot":
        if view.athlete.contact.any(axis=1).mean() < FEWEST_STANDING:
            raise NotMeasured("no_standing_feet")
    elif info.ground == "field":
        raise NotMeasured("without_ground", why=no_ground or message("reasons.no_ground"))


def measure_one(info: MeasureInfo, view: RepView, no_ground: str | None) -> Measurement:
    """One measure of one rep as it is seen; `no_ground` as in the scene."""
    try:
        if view.grade == "C":
            _require_no_ground(info, view, no_ground)
        with np.errstate(invalid="ignore"):
            reading = info.function(view)
    except NotMeasured as missing:
        return Measurement(key=info.key, unit=info.unit, reason=missing.reason)
    if abs(reading.values[0]) > info.greatest:
        reason = message(f"reasons.beyond_people_{info.unit_word}", number=info.greatest)
        return Measurement(key=info.key, unit=info.unit, reason=reason)
    return measurement_from(
        info.key, info.unit, reading, view.athlete.first_frame, is_count=info.is_count
    )


def without_times(measured: Mapping[str, Measurement], reason: str) -> dict[str, Measurement]:
    """Refuse everything that depends on times, because those of the film are not right."""
    return {
        key: Measurement(key=key, unit=MEASURES[key].unit, reason=reason)
        if MEASURES[key].depends_on_time
        else measurement
        for key, measurement in measured.items()
    }


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
