"""Steps of a throwback: how far back, how many, how long."""

from __future__ import annotations

import numpy as np

from pipeline.core.move_table import PASSES
from pipeline.core.spline import runs
from pipeline.core.types import FloatArray, Motion
from pipeline.measures.advice import advice_rule
from pipeline.measures.angles import planting_side
from pipeline.measures.registry import measure
from pipeline.measures.view import DrawnValue, NotMeasured, RepView, middle_at, sample
from pipeline.people.foot_contact import foot_middle

RUN_IN_S = 0.5
"""The direction of the run-in is that of the hips over this time up to the plant."""

SLOWEST_RUN_IN_MPS = 0.8

SHORTEST_STEP_S = 0.2
"""The other foot, if it seems to land sooner after the plant, is still in the air."""

NEW_GROUND_M = 0.15
"""A step goes back by more than this; our own convention."""


def mid_foot_m(motion: Motion, instant_s: FloatArray) -> FloatArray:
    """(n_draws, 2) point on the ground half way between the middles of a person's feet."""
    joints = sample(motion.joints_m, motion.time_s, instant_s)
    return np.asarray(foot_middle(joints).mean(axis=1)[:, :2])


def _run_in_direction(view: RepView) -> FloatArray:
    """(n_draws, 2) unit direction of the run-in on the ground."""
    plant = view.instant("plant")
    start_m, stop_m = (
        middle_at(view.athlete, "hip", instant_s) for instant_s in (plant - RUN_IN_S, plant)
    )
    run = stop_m - start_m
    length_m = np.linalg.norm(run[:, :2], axis=-1, keepdims=True)
    if np.isnan(length_m[0, 0]):
        raise NotMeasured("player_lost_in_run_in")
    if length_m[0, 0] < SLOWEST_RUN_IN_MPS * RUN_IN_S:
        raise NotMeasured("no_run_in")
    return np.asarray(run[:, :2] / length_m)


def _step_ends(view: RepView) -> tuple[FloatArray, FloatArray]:
    return (
        mid_foot_m(view.athlete, view.instant("plant")),
        mid_foot_m(view.athlete, view.instant("last_contact")),
    )


def _step(view: RepView) -> FloatArray:
    plant, last = _step_ends(view)
    return np.asarray(last - plant)


def _step_frames(view: RepView) -> slice:
    return view.between(float(view.instant("plant")[0]), float(view.instant("last_contact")[0]))


@measure(
    "step_back_m",
    moves=PASSES,
    read_from="run",
    line="step",
    low=advice_rule(("plant_to_release_s", "high")),
)
def step_back(view: RepView) -> DrawnValue:
    """Ground distance against the run-in, mid-foot at plant to mid-foot at last contact."""
    plant, last = _step_ends(view)
    ends_m = np.array([[*plant[0], 0.0], [*last[0], 0.0]])
    back_m = -np.sum((last - plant) * _run_in_direction(view), axis=-1)
    return DrawnValue(back_m, _step_frames(view), ends_m)


@measure("step_back_sideways_m", moves=PASSES, read_from="run")
def step_back_sideways(view: RepView) -> DrawnValue:
    """Part of the step back that goes across the run-in, without sign."""
    step, run = _step(view), _run_in_direction(view)
    return DrawnValue(np.abs(step[:, 0] * run[:, 1] - step[:, 1] * run[:, 0]), _step_frames(view))


@measure("steps_back", moves=PASSES, low=advice_rule(("plant_to_release_s", "high")))
def steps_back(view: RepView) -> DrawnValue:
    """Whole steps from plant to release away from the pressure; closing up is no new step.

    A touchdown counts when the foot lands further back than any foot stood before, by more than
    `NEW_GROUND_M`; the other foot closing up to stance width lands in front of it and does not.
    """
    plant_s, release_s = float(view.instant("plant")[0]), float(view.instant("release")[0])
    run = _run_in_direction(view)
    time_s = view.athlete.time_s
    landings = sorted(
        (start, stop, foot)
        for foot in (0, 1)
        for start, stop in runs(view.athlete.contact[:, foot])
        if plant_s - 0.5 / 30 <= time_s[start] <= release_s
    )
    count = np.zeros(run.shape[0])
    furthest: FloatArray | None = None
    for start, stop, foot in landings:
        if foot != landings[0][2] and time_s[start] < plant_s + SHORTEST_STEP_S:
            continue
        feet = foot_middle(view.athlete.joints_m[:, start : min(stop, start + 6)])
        landed = -np.einsum("dfj,dj->df", feet[:, :, foot, :2], run)
        if np.isnan(landed[0]).all():
            raise NotMeasured("no_foot_place")
        place = np.nanmedian(landed, axis=1)
        if furthest is not None:
            count += place > furthest + NEW_GROUND_M
        furthest = place if furthest is None else np.maximum(furthest, place)
    if furthest is None:
        raise NotMeasured("no_landing")
    return DrawnValue(count, _step_frames(view))


@measure("pivot_line_offset_m", moves=("pivot_throwback_pass",), read_from="run")
def pivot_line_offset(view: RepView) -> DrawnValue:
    """Distance of the pivot foot from the running line: how far it drifts off to the side.

    The line is that of the hips over the run-in. The foot is where it stands from the plant until
    it is lifted, or until the last contact before the release. Common practice, no source.
    """
    run = _run_in_direction(view)
    foot = 0 if planting_side(view) == "left" else 1
    plant_s = float(view.instant("plant")[0])
    frames = view.between(plant_s, float(view.instant("last_contact")[0]))
    stands = view.athlete.contact[frames, foot]
    standing = frames.start + np.flatnonzero(stands)
    if not standing.size:
        raise NotMeasured("no_pivot_foot")
    gaps = np.flatnonzero(np.diff(standing) > 1)
    standing = standing[: gaps[0] + 1] if gaps.size else standing
    place = foot_middle(view.athlete.joints_m[:, standing])[:, :, foot, :2].mean(axis=1)
    on_line = middle_at(view.athlete, "hip", view.instant("plant") - 0.5 * RUN_IN_S)[:, :2]
    offset = place - on_line
    sideways = offset[:, 0] * run[:, 1] - offset[:, 1] * run[:, 0]
    return DrawnValue(np.abs(sideways), slice(int(standing[0]), int(standing[-1]) + 1))


@measure("plant_to_release_s", moves=PASSES, read_from="release")
def plant_to_release(view: RepView) -> DrawnValue:
    """Time from the plant to the release."""
    return DrawnValue(view.instant("release") - view.instant("plant"), None)
