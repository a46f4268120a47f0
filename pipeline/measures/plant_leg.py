"""How the body stands over the leg that takes a cut: prompts to look, and never a diagnosis."""

from __future__ import annotations

import numpy as np

from pipeline.core.move_table import DODGES
from pipeline.core.types import FloatArray
from pipeline.measures.angles import included_angle_deg, planting_side
from pipeline.measures.registry import TRUNK, measure
from pipeline.measures.view import DrawnValue, NotMeasured, RepView, middle_at, sample

BENDS_WITHIN_S = 0.25
"""The knee is at its deepest at most this long after the foot has landed."""

SQUARE_DEG = 30.0
"""The camera faces the cut where it looks at the pelvis from the front or from behind, off by no
more than this: turned further, a bent knee looks like one that drifts in."""

KNEE_IN_SPREAD_DEG, LEAN_SPREAD_DEG = 5.0, 5.0
"""Standard deviations of what a single camera cannot see of a knee and a trunk; set so that
intervals hold the truth on rendered clips."""


@measure("knee_in_deg", moves=DODGES, prompt="knee_in")
def knee_in(view: RepView) -> DrawnValue:
    """Frontal-plane angle of the knee of the plant leg at its deepest bend; plus = knee inwards.

    The frontal plane projection angle [1]_: hip, knee and ankle seen in the frontal plane, 180 deg
    less the angle at the knee, with a plus where the knee lies on the inner side of the line from
    hip to ankle (valgus), a minus where it lies on the outer side. Read where the knee is bent most
    after the contact.

    It is an angle in the picture, as it is in the source: only where the camera looks at the pelvis
    from the front or from behind the picture shows the frontal plane. It does not show turns
    of the thigh and the shank from a knee that gives way, and is no diagnosis.

    References
    ----------
    .. [1] A. Munro, L. Herrington, M. Carolan, "Reliability of 2-dimensional video assessment of
       frontal-plane dynamic knee valgus during common athletic screening tasks", *Journal of Sport
       Rehabilitation* 21(1), 2012, 7-11.
    """
    side = planting_side(view)
    instant = _deepest(view, side)
    toward_plant = _across_view(view, _toward_plant_leg(view, side, instant)[0], instant)
    hip, knee, ankle = (
        _in_frontal_plane(
            sample(view.athlete.joint(f"{side}_{part}"), view.athlete.time_s, instant),
            toward_plant,
        )
        for part in ("hip", "knee", "ankle")
    )
    shank, thigh = knee - ankle, hip - knee
    # Both go up: a knee on the inner side of their line turns the thigh outwards.
    turn = np.degrees(
        np.arctan2(
            shank[:, 1] * thigh[:, 0] - shank[:, 0] * thigh[:, 1], np.sum(shank * thigh, axis=-1)
        )
    )
    turn[1:] += KNEE_IN_SPREAD_DEG * view.own_noise((turn.size - 1,))
    instant_s = float(instant[0])
    return DrawnValue(turn, view.between(instant_s - 0.02, instant_s + 0.02))


@measure("trunk_over_plant_deg", moves=DODGES, body_lines=(TRUNK,), prompt="trunk_over_plant")
def trunk_over_plant(view: RepView) -> DrawnValue:
    """Sideways lean of the trunk at the plant: plus = towards the leg that plants.

    Angle against plumb of the line from mid-hip to mid-shoulder in the frontal plane of the pelvis.
    A lean over the plant leg goes with a greater load on the knee in a cut [1]_.

    References
    ----------
    .. [1] A. R. Dempsey et al., "The effect of technique change on knee loads during sidestep
       cutting", *Medicine & Science in Sports & Exercise* 39(10), 2007, 1765-1773.
    """
    side, instant = planting_side(view), view.instant("dodge_start")
    toward_plant = _toward_plant_leg(view, side, instant)
    hips = middle_at(view.athlete, "hip", instant)
    trunk = _in_frontal_plane(middle_at(view.athlete, "shoulder", instant) - hips, toward_plant)
    lean = np.degrees(np.arctan2(trunk[:, 0], trunk[:, 1]))
    lean[1:] += LEAN_SPREAD_DEG * view.own_noise((lean.size - 1,))
    return DrawnValue(lean, view.at("dodge_start"))


def _deepest(view: RepView, side: str) -> FloatArray:
    """(n_draws,) instant at which the knee of the plant leg is bent most, by the best estimate."""
    plant = view.instant("dodge_start")
    frames = view.between(float(plant[0]), float(plant[0]) + BENDS_WITHIN_S)
    bend = included_angle_deg(
        *(view.athlete.joint(f"{side}_{part}")[0, frames] for part in ("hip", "knee", "ankle"))
    )
    if np.isnan(bend).any():
        raise NotMeasured("leg_hidden")
    deepest_s = view.athlete.time_s[frames.start + int(np.argmin(bend))]
    return np.asarray(plant + (deepest_s - plant[0]))


def _toward_plant_leg(view: RepView, side: str, instant: FloatArray) -> FloatArray:
    """(n_draws, 2) unit direction along the ground from mid-hip to the hip of the plant leg."""
    other = "left" if side == "right" else "right"
    own, opposite = (
        sample(view.athlete.joint(f"{each}_hip"), view.athlete.time_s, instant)[:, :2]
        for each in (side, other)
    )
    line = own - opposite
    return np.asarray(line / np.maximum(np.linalg.norm(line, axis=-1, keepdims=True), 1e-9))


def _in_frontal_plane(points_m: FloatArray, toward_plant: FloatArray) -> FloatArray:
    """(n_draws, 2) of points (n_draws, 3): towards the plant leg's side, and up."""
    sideways = np.sum(points_m[:, :2] * toward_plant, axis=-1)
    return np.stack([sideways, points_m[:, 2]], axis=-1)


def _across_view(view: RepView, toward_plant: FloatArray, instant: FloatArray) -> FloatArray:
    """(n_draws, 2) unit direction across the view, towards the side of the plant leg.

    The camera is over the origin of the field. Raises `NotMeasured` unless it looks square at the
    pelvis.
    """
    hips = middle_at(view.athlete, "hip", instant)[:, :2]
    if np.isnan(hips[0]).any() or np.isnan(toward_plant).any():
        raise NotMeasured("hips_hidden_at_plant")
    sight = hips / np.maximum(np.linalg.norm(hips, axis=-1, keepdims=True), 1e-9)
    if abs(float(sight[0] @ toward_plant)) > np.sin(np.radians(SQUARE_DEG)):
        raise NotMeasured("cut_from_side")
    across = np.stack([-sight[:, 1], sight[:, 0]], axis=-1)
    return np.asarray(across * np.sign(float(across[0] @ toward_plant)))
