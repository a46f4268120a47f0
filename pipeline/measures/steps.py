"""Steps of a throwback: how far back, how many, how long."""

from __future__ import annotations

import numpy as np

from pipeline.feet import foot_middle
from pipeline.measures.view import NotMeasured, Reading, RepView, sample
from pipeline.types import FloatArray

RUN_IN_S = 0.5
"""The direction of the run-in is that of the hips over this time up to the plant."""

SLOWEST_RUN_IN_MPS = 0.8


def mid_foot_m(view: RepView, instant_s: FloatArray) -> FloatArray:
    """(n_draws, 2) point on the ground half way between the middles of both feet."""
    feet = foot_middle(view.athlete.joints_m).mean(axis=2)
    return sample(feet, view.athlete.time_s, instant_s)[:, :2]


def _run_in_direction(view: RepView) -> FloatArray:
    """(n_draws, 2) unit direction of the run-in on the ground."""
    plant = view.instant("plant")
    hips = view.athlete.middle("hip")
    run = sample(hips, view.athlete.time_s, plant) - sample(
        hips, view.athlete.time_s, plant - RUN_IN_S
    )
    length_m = np.linalg.norm(run[:, :2], axis=-1, keepdims=True)
    if length_m[0, 0] < SLOWEST_RUN_IN_MPS * RUN_IN_S:
        raise NotMeasured("there was no run-in to step back from")
    return run[:, :2] / length_m


def _step(view: RepView) -> FloatArray:
    return mid_foot_m(view, view.instant("last_contact")) - mid_foot_m(view, view.instant("plant"))


def _step_frames(view: RepView) -> slice:
    return view.between(float(view.instant("plant")[0]), float(view.instant("last_contact")[0]))


def step_back(view: RepView) -> Reading:
    """Ground distance against the run-in, mid-foot at plant to mid-foot at last contact."""
    return Reading(-np.sum(_step(view) * _run_in_direction(view), axis=-1), _step_frames(view))


def step_back_sideways(view: RepView) -> Reading:
    """Sideways part of the step back, without sign."""
    step, run = _step(view), _run_in_direction(view)
    return Reading(np.abs(step[:, 0] * run[:, 1] - step[:, 1] * run[:, 0]), _step_frames(view))


def plant_to_release(view: RepView) -> Reading:
    """Time from the plant to the release."""
    return Reading(view.instant("release") - view.instant("plant"), None)
