"""Angles of joints, trunk, hips and shoulders, and how fast hips and trunk turn into a throw.

References
----------
.. [1] C. A. Putnam, "Sequential motions of body segments in striking and throwing skills:
   descriptions and explanations", *Journal of Biomechanics* 26, supplement 1, 1993, 125-135: in
   overhand throws the segments reach their greatest speeds one after the other, those nearer to the
   ground first.
"""

from __future__ import annotations

import numpy as np

from pipeline.core.move_table import ALL_MOVES, DODGES, PASSES, SHOTS, THROWS
from pipeline.core.types import FloatArray
from pipeline.measures.advice import advice_rule, turns_faster
from pipeline.measures.registry import HIPS, SHOULDERS, TRUNK, measure
from pipeline.measures.view import DrawnValue, NotMeasured, RepView, middle_at, sample

TWIST_SEEN_SHARE = 0.7
TWIST_SPREAD = 0.35
"""The pose model shows this share of a twist between hips and shoulders; standard deviation of its
logarithm. On 138 rendered shots from high to low it showed 0.47 of it, on the first of other shots
about 0.95; as with turn speeds (`turns`), between the two and wide enough for either."""

LANDS_NEAR_S = 0.15
"""The foot that plants is the one seen to land this near to the plant."""


def included_angle_deg(a: FloatArray, vertex: FloatArray, c: FloatArray) -> FloatArray:
    """Angle at `vertex` between the lines to `a` and to `c`; 180 = straight.

    Parameters
    ----------
    a, vertex, c
        ``S + (3,)``.

    Returns
    -------
    numpy.ndarray
        ``S`` in deg.
    """
    first, second = a - vertex, c - vertex
    cosine = np.sum(first * second, axis=-1) / (
        np.linalg.norm(first, axis=-1) * np.linalg.norm(second, axis=-1)
    )
    return np.asarray(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))


def heading_deg(left: FloatArray, right: FloatArray) -> FloatArray:
    """Direction of the line from the left to the right joint, about the vertical.

    Parameters
    ----------
    left, right
        ``S + (3,)`` in the field frame.

    Returns
    -------
    numpy.ndarray
        ``S`` in deg, anticlockwise from x seen from above.
    """
    line = right - left
    return np.asarray(np.degrees(np.arctan2(line[..., 1], line[..., 0])))


def wrapped_deg(angle_deg: FloatArray) -> FloatArray:
    """Angle brought into -180 to 180 deg."""
    return np.asarray((angle_deg + 180.0) % 360.0 - 180.0)


@measure(
    "elbow_at_release_deg",
    moves=THROWS,
    ground="none",
    read_from="release",
    body_lines=((("{top}_shoulder",), ("{top}_elbow",), ("{top}_wrist",)),),
    falls_when_tired=True,
)
def elbow_at_release(view: RepView) -> DrawnValue:
    """Included angle of the elbow of the top arm at the release; 180 is straight."""
    instant, time_s, side = view.instant("release"), view.athlete.time_s, view.top
    shoulder, elbow, wrist = (
        sample(view.athlete.joint(f"{side}_{part}"), time_s, instant)
        for part in ("shoulder", "elbow", "wrist")
    )
    return DrawnValue(included_angle_deg(shoulder, elbow, wrist), view.at("release"))


def planting_side(view: RepView) -> str:
    """Side of the foot that plants: the one seen to land nearest to the plant.

    Raises
    ------
    NotMeasured
        When there is no plant, or no foot was seen to land about it.
    """
    instant, time_s = view.instant("plant"), view.athlete.time_s
    landed = np.abs(time_s - instant[0]) <= LANDS_NEAR_S
    near = np.where(view.athlete.landed & landed[:, None], time_s[:, None] - instant[0], np.inf)
    feet = np.abs(near).min(axis=0)
    if not np.isfinite(feet).any():
        raise NotMeasured("no_planting_foot")
    return "left" if feet[0] <= feet[1] else "right"


@measure(
    "front_knee_at_plant_deg",
    moves=(*PASSES, "on_the_run_shot", "step_down_shot", *DODGES),
    low=advice_rule(not_beside=("knee_in",)),
)
def front_knee_at_plant(view: RepView) -> DrawnValue:
    """Included angle of the knee of the foot that plants, at the plant; 180 is straight."""
    side = planting_side(view)
    instant, time_s = view.instant("plant"), view.athlete.time_s
    hip, knee, ankle = (
        sample(view.athlete.joint(f"{side}_{part}"), time_s, instant)
        for part in ("hip", "knee", "ankle")
    )
    return DrawnValue(included_angle_deg(hip, knee, ankle), view.at("plant"))


@measure(
    "trunk_lean_deg",
    moves=ALL_MOVES,
    body_lines=(TRUNK,),
    low=advice_rule(not_beside=("trunk_over_plant",)),
)
def trunk_lean(view: RepView) -> DrawnValue:
    """Angle of the trunk from plumb at the release of a throw or the start of a dodge."""
    event = "release" if "release" in view.event_s else "dodge_start"
    instant = view.instant(event)
    trunk = middle_at(view.athlete, "shoulder", instant) - middle_at(view.athlete, "hip", instant)
    lean = np.degrees(np.arctan2(np.linalg.norm(trunk[:, :2], axis=-1), trunk[:, 2]))
    return DrawnValue(lean, view.at(event))


@measure(
    "separation_deg", moves=SHOTS, ground="none", body_lines=(SHOULDERS, HIPS), low=turns_faster()
)
def separation(view: RepView) -> DrawnValue:
    """Greatest angle between hip line and shoulder line seen from above, last 0.8 s to release."""
    release_s = float(view.instant("release")[0])
    frames = view.between(max(view.rep.start_s, release_s - 0.8), release_s)
    hips = heading_deg(
        view.athlete.joint("left_hip")[:, frames], view.athlete.joint("right_hip")[:, frames]
    )
    shoulders = heading_deg(
        view.athlete.joint("left_shoulder")[:, frames],
        view.athlete.joint("right_shoulder")[:, frames],
    )
    seen = np.abs(wrapped_deg(shoulders - hips)).max(axis=1)
    # Added as a share of the best estimate: noise makes the greatest of many angles greater.
    unsure = np.expm1(TWIST_SPREAD * view.own_noise((seen.size - 1,)))
    twist = seen / TWIST_SEEN_SHARE
    twist[1:] += twist[0] * unsure
    return DrawnValue(twist, frames)


@measure(
    "turn_away_deg",
    moves=PASSES,
    ground="none",
    body_lines=(SHOULDERS,),
    high=advice_rule(("separation_deg", "low")),
)
def turn_away(view: RepView) -> DrawnValue:
    """Greatest turn of the chest away from its facing at the plant, up to the release."""
    plant, release = view.instant("plant"), view.instant("release")
    frames = view.between(float(plant[0]), float(release[0]))
    left, right = view.athlete.joint("left_shoulder"), view.athlete.joint("right_shoulder")
    at_plant = heading_deg(
        sample(left, view.athlete.time_s, plant), sample(right, view.athlete.time_s, plant)
    )
    turn = wrapped_deg(heading_deg(left[:, frames], right[:, frames]) - at_plant[:, None])
    return DrawnValue(np.abs(turn).max(axis=1), frames)


BEFORE_S = 0.6
"""Hips and trunk turn into the throw within this time before the release."""

AFTER_S = 0.1
"""A peak of the turn may come so long after that of the hand."""

SEEN_SHARE = 0.7
SPREAD = 0.35
"""Hips and trunk are seen to turn at this share of their true speed, for the pose model hardly
follows a twist and the low-pass takes the top off; standard deviation of its logarithm. Between the
share on 66 rendered shots from high to low, 0.59 for both, and that on the first of other shots,
about 0.95; wide enough for either."""

ORDER_SPREAD_S = 0.05
"""Standard deviation that a delay between hips and trunk has on top of what the draws show; set so
that intervals hold the truth on those shots: the model lets the trunk turn hips along."""

SLOWEST_TURN_DPS = 80.0
"""Hips or a trunk that turn slower than this have no peak that stands out from noise."""


@measure(
    "pelvis_turn_speed_dps", moves=SHOTS, ground="none", body_lines=(HIPS,), low=turns_faster()
)
def pelvis_turn_speed(view: RepView) -> DrawnValue:
    """Greatest turn speed of the hip line about the vertical, the way of the throw, to release."""
    return _greatest_to_release(view, "hip", "hips")


@measure(
    "trunk_turn_speed_dps", moves=SHOTS, ground="none", body_lines=(SHOULDERS,), low=turns_faster()
)
def trunk_turn_speed(view: RepView) -> DrawnValue:
    """Greatest turn speed of the shoulder line about the vertical, as that of the hip line."""
    return _greatest_to_release(view, "shoulder", "trunk")


@measure("pelvis_to_trunk_s", moves=SHOTS, ground="none")
def pelvis_to_trunk(view: RepView) -> DrawnValue:
    """Time from the greatest turn speed of the hips to that of the trunk; plus is hips first.

    Positive where the hips come first, as published for overhand throwing [1]_.
    """
    hips_s, frames = _peak_s(view, "hip", "hips")
    trunk_s, _ = _peak_s(view, "shoulder", "trunk")
    delay_s = trunk_s - hips_s
    delay_s[1:] += ORDER_SPREAD_S * view.own_noise((delay_s.size - 1,))
    return DrawnValue(delay_s, frames)


@measure("trunk_to_hand_s", moves=SHOTS, ground="none", read_from="release")
def trunk_to_hand(view: RepView) -> DrawnValue:
    """Time from the trunk's greatest turn speed to the top hand's fastest; plus is trunk first.

    The latter is the release. Positive where the trunk comes first, as published for overhand
    throwing [1]_.
    """
    trunk_s, frames = _peak_s(view, "shoulder", "trunk")
    return DrawnValue(view.instant("release") - trunk_s, frames)


def _greatest_to_release(view: RepView, part: str, name: str) -> DrawnValue:
    speed, _, frames = _turn_speed_dps(view, part, 0.0)
    _refuse_no_turn(speed, name)
    unsure = np.exp(SPREAD * view.own_noise((speed.shape[0],)))
    unsure[0] = 1.0
    return DrawnValue(speed.max(axis=1) / SEEN_SHARE * unsure, frames)


def _peak_s(view: RepView, part: str, name: str) -> tuple[FloatArray, slice]:
    """(n_draws,) instants of the greatest turn speed, by a parabola through three samples."""
    speed, time_s, frames = _turn_speed_dps(view, part, AFTER_S)
    _refuse_no_turn(speed, name)
    draw, top = np.arange(speed.shape[0]), np.argmax(speed, axis=1)
    inner = np.clip(top, 1, time_s.size - 2)
    before, here, after = (speed[draw, inner + step] for step in (-1, 0, 1))
    bend = before - 2 * here + after
    with np.errstate(divide="ignore", invalid="ignore"):
        shift = np.where(bend < 0, 0.5 * (before - after) / bend, 0.0)
    shift = np.where(top == inner, np.clip(shift, -0.5, 0.5), 0.0)
    interval_s = 0.5 * (time_s[inner + 1] - time_s[inner - 1])
    return np.asarray(time_s[top] + shift * interval_s), frames


def _refuse_no_turn(speed: FloatArray, name: str) -> None:
    """Raise `NotMeasured` for a turn that is no more than noise."""
    if speed[0].max() < SLOWEST_TURN_DPS:
        raise NotMeasured(f"{name}_hardly_turned")


def _turn_speed_dps(
    view: RepView, part: str, after_s: float
) -> tuple[FloatArray, FloatArray, slice]:
    """(n_draws, n_frames) turn speed of a line about the vertical as seen, the throw's way."""
    release_s = float(view.instant("release")[0])
    first_s = max(view.rep.start_s, release_s - BEFORE_S)
    frames = view.between(first_s, release_s + after_s)
    time_s = view.athlete.time_s[frames]
    if time_s.size < 4:
        raise NotMeasured("few_frames")
    name = f"turn_speed_dps:{part}:{after_s}"
    if name not in view.shared:
        heading = _heading_deg(view, part, view.between(first_s, release_s + AFTER_S))
        # A throw with the right hand on top turns the body to the left: anticlockwise from above.
        way = 1.0 if view.top == "right" else -1.0
        view.shared[name] = way * np.gradient(heading[:, : time_s.size], time_s, axis=1)
    return view.shared[name], time_s, frames


def _heading_deg(view: RepView, part: str, frames: slice) -> FloatArray:
    """(n_draws, n_frames) direction of a line about the vertical, unwound; made once a part."""
    name = f"heading_deg:{part}"
    if name not in view.shared:
        left, right = (
            view.athlete.joint(f"{side}_{part}")[:, frames] for side in ("left", "right")
        )
        view.shared[name] = np.unwrap(heading_deg(left, right), period=360.0, axis=1)
    return view.shared[name]
