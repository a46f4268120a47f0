"""Room between attacker and defender, speeds around the cut, and distance from the goal."""

from __future__ import annotations

import numpy as np

from calibration.anthropometry import arm_length_m
from pipeline.core.move_table import DODGES, SHOTS
from pipeline.core.types import FloatArray, Motion
from pipeline.measures.advice import advice_rule, loads_the_knee
from pipeline.measures.registry import measure
from pipeline.measures.steps import mid_foot_m
from pipeline.measures.view import DrawnValue, NotMeasured, RepView, middle_at

TRUNK_RADIUS_OF_STATURE = 0.09
"""Half thickness of a trunk on the ground plane, share of stature; our own convention."""

SPEED_BEFORE_S = 0.3
HALF_S = 0.1
"""A speed is the way from so long before an instant to so long after it."""

RUN_UP_S = (0.5, 0.2)
BURST_S = 0.7
LONGEST_HITCH_S = 1.0
"""Where the speeds before and after a hesitation are looked for."""

SLOWEST_RUN_UP_MPS = 0.5

VELOCITY_SPREAD_MPS = np.array([0.15, 0.4])
"""Standard deviation of a velocity of the hips across the view and in depth; set so that intervals
hold the truth on rendered clips."""

RUN_AT_DEFENDER = "close_gap_dodge"
WIDE_STANCE_SPREAD_M = 0.1
"""Standard deviation of a cushion by the wide plant of every other dodge: a foot far in front of or
behind the body is poorly placed in depth. Set in the same way."""

GAP_SPREAD_M = 0.06
"""Standard deviation of a gap between two trunks by their shape; set in the same way."""


def _defender(view: RepView) -> Motion:
    if view.defender is None:
        raise NotMeasured("no_defender")
    return view.defender


@measure(
    "cushion_m",
    moves=DODGES,
    read_from="defender",
    line="ground",
    arm_of="defender",
    low=advice_rule(("cushion_arm_ratio", "high")),
    high=advice_rule(("cushion_arm_ratio", "low")),
)
def cushion(view: RepView) -> DrawnValue:
    """Ground distance from the attacker's mid-foot to the defender's at the start of the dodge."""
    own, other = _mid_feet_m(view)
    ends_m = np.array([[*own[0], 0.0], [*other[0], 0.0]])
    return DrawnValue(_cushion_m(view), _frames(view), ends_m)


def _cushion_m(view: RepView) -> FloatArray:
    own, other = _mid_feet_m(view)
    apart = np.linalg.norm(own - other, axis=-1)
    if view.rep.move != RUN_AT_DEFENDER:
        apart[1:] += WIDE_STANCE_SPREAD_M * view.own_noise((apart.size - 1,))
    return np.asarray(apart)


def _mid_feet_m(view: RepView) -> tuple[FloatArray, FloatArray]:
    instant = view.instant("dodge_start")
    return mid_foot_m(view.athlete, instant), mid_foot_m(_defender(view), instant)


@measure(
    "cushion_gap_m",
    moves=DODGES,
    read_from="defender",
    arm_of="defender",
    low=advice_rule(("cushion_arm_ratio", "high"), ("cushion_m", "high")),
    high=advice_rule(("cushion_arm_ratio", "low"), ("cushion_m", "low")),
)
def cushion_gap(view: RepView) -> DrawnValue:
    """Smallest distance between the two trunks on the ground plane at the start of the dodge.

    A trunk is the line from mid-hip to mid-shoulder seen from above, thickened by
    `TRUNK_RADIUS_OF_STATURE`; bodies that touch have a gap of 0.
    """
    instant = view.instant("dodge_start")
    ends = []
    for motion in (view.athlete, _defender(view)):
        ends.append([middle_at(motion, part, instant)[:, :2] for part in ("hip", "shoulder")])
    radius_m = TRUNK_RADIUS_OF_STATURE * (view.athlete.stature_m + _defender(view).stature_m)
    gap = _segment_distance(*ends[0], *ends[1]) - radius_m
    gap[1:] += GAP_SPREAD_M * view.own_noise((gap.size - 1,))
    return DrawnValue(np.maximum(gap, 0.0), _frames(view))


def _segment_distance(a: FloatArray, b: FloatArray, c: FloatArray, d: FloatArray) -> FloatArray:
    """(n,) least distance between the segments ab and cd in the plane (crossing ones aside)."""

    def to_segment(point: FloatArray, start: FloatArray, stop: FloatArray) -> FloatArray:
        line = stop - start
        squared = np.maximum(np.sum(line * line, axis=-1), 1e-12)
        along = np.clip(np.sum((point - start) * line, axis=-1) / squared, 0.0, 1.0)
        return np.asarray(np.linalg.norm(point - start - along[:, None] * line, axis=-1))

    ends = [to_segment(a, c, d), to_segment(b, c, d), to_segment(c, a, b), to_segment(d, a, b)]
    return np.asarray(np.minimum.reduce(ends))


@measure("cushion_arm_ratio", moves=DODGES, read_from="defender", arm_of="defender")
def cushion_arm_ratio(view: RepView) -> DrawnValue:
    """Cushion over the defender's arm length, shoulder to finger tip."""
    return DrawnValue(_cushion_m(view) / _arm_length_m(view), _frames(view))


@measure(
    "defender_arm_length_m", moves=DODGES, read_from="defender", arm_of="nobody", once_per_clip=True
)
def defender_arm_length(view: RepView) -> DrawnValue:
    """Arm length of the defender, shoulder to finger tip."""
    return DrawnValue(_arm_length_m(view), None)


def _arm_length_m(view: RepView) -> FloatArray:
    """(n_draws,) by his own body; failing that, his stature times the published ratio."""
    defender = _defender(view)
    if np.isfinite(defender.arm_length_m[0]):
        return defender.arm_length_m
    arm = arm_length_m(1.0)
    ratio = arm.value_m + arm.u_m * view.own_noise((defender.stature_m.size,))
    ratio[0] = arm.value_m
    return np.asarray(defender.stature_m * ratio)


@measure(
    "approach_speed_mps",
    moves=DODGES,
    read_from="run",
    low=loads_the_knee(("cut_angle_deg", "low"), ("speed_kept_ratio", "low")),
)
def approach_speed(view: RepView) -> DrawnValue:
    """Speed of the hips along the ground 0.3 s before the plant.

    Of a hesitation, whose plant is in the middle of slowing down: their greatest speed within 0.5 s
    before the plant and 0.2 s after it.
    """
    return DrawnValue(approach_mps(view), None)


@measure("exit_speed_mps", moves=DODGES, read_from="run", low=loads_the_knee())
def exit_speed(view: RepView) -> DrawnValue:
    """Speed of the hips along the ground 0.3 s after the plant.

    Of a hesitation: their greatest speed in the 0.7 s from where they are again half as fast as in
    the approach.
    """
    return DrawnValue(_exit_mps(view), None)


@measure(
    "speed_kept_ratio", moves=DODGES, read_from="run", depends_on_time=True, low=loads_the_knee()
)
def speed_kept(view: RepView) -> DrawnValue:
    """Speed after the dodge over speed before it."""
    before = approach_mps(view)
    after = _exit_mps(view)
    if before[0] < SLOWEST_RUN_UP_MPS:
        raise NotMeasured("no_run_up_to_cut")
    return DrawnValue(after / before, None)


def approach_mps(view: RepView) -> FloatArray:
    """(n_draws,) speed before a dodge, as in `approach_speed`."""
    plant = view.instant("dodge_start")
    if "slowest" not in view.event_s:
        return speed_at(view, plant - SPEED_BEFORE_S)
    start_s = float(plant[0])
    speed, frames = speeds_between(view, start_s - RUN_UP_S[0], start_s + RUN_UP_S[1])
    return speed_at(view, np.full(plant.size, _fastest_s(view, speed, frames)))


def _exit_mps(view: RepView) -> FloatArray:
    plant = view.instant("dodge_start")
    if "slowest" not in view.event_s:
        return speed_at(view, plant + SPEED_BEFORE_S)
    half_mps = 0.5 * approach_mps(view)[0]
    slowest_s = float(view.instant("slowest")[0])
    speed, frames = speeds_between(view, slowest_s, slowest_s + LONGEST_HITCH_S)
    again = np.flatnonzero(speed[0] >= half_mps)
    if again.size == 0:
        raise NotMeasured("no_speed_again")
    again_s = float(view.athlete.time_s[frames][again[0]])
    speed, frames = speeds_between(view, again_s, again_s + BURST_S)
    return speed_at(view, np.full(plant.size, _fastest_s(view, speed, frames)))


def _fastest_s(view: RepView, speed: FloatArray, frames: slice) -> float:
    """Instant of the greatest speed by the best estimate."""
    return float(view.athlete.time_s[frames][int(np.argmax(speed[0]))])


def speeds_between(view: RepView, start_s: float, stop_s: float) -> tuple[FloatArray, slice]:
    """Speed of the hips in every frame of a span, as far as the film shows it.

    Parameters
    ----------
    view
        The rep.
    start_s, stop_s
        Span in clip time.

    Returns
    -------
    tuple
        (n_draws, n) m/s and the frames. The noise of a draw is the same in all of them.

    Raises
    ------
    NotMeasured
        When the film shows less than three frames of it, or the player was hidden.
    """
    time_s = view.athlete.time_s
    frames = view.between(
        max(start_s, float(time_s[0]) + HALF_S), min(stop_s, float(time_s[-1]) - HALF_S)
    )
    at_s = time_s[frames]
    if at_s.size < 3:
        raise NotMeasured("no_whole_dodge")
    hips = view.athlete.middle("hip")[..., :2]
    ends = []
    for instant_s in (at_s - HALF_S, at_s + HALF_S):
        after = np.clip(np.searchsorted(time_s, instant_s), 1, time_s.size - 1)
        part = (instant_s - time_s[after - 1]) / (time_s[after] - time_s[after - 1])
        part = np.clip(part, 0.0, 1.0)[:, None]
        ends.append(hips[:, after - 1] * (1 - part) + hips[:, after] * part)
    velocity = (ends[1] - ends[0]) / (2 * HALF_S)
    noise = view.own_noise((hips.shape[0] - 1, 1, 2), seed=round(1000 * float(at_s[0])))
    velocity[1:] += VELOCITY_SPREAD_MPS * noise
    speed = np.linalg.norm(velocity, axis=-1)
    if np.isnan(speed[0]).any():
        raise NotMeasured("player_lost_in_dodge")
    return speed, frames


def speed_at(view: RepView, instant: FloatArray, half_s: float = HALF_S) -> FloatArray:
    """Mean speed of the hips along the ground about an instant.

    Parameters
    ----------
    view
        The rep.
    instant
        (n_draws,).
    half_s
        The mean is over so long before it and after it.

    Returns
    -------
    numpy.ndarray
        (n_draws,) m/s.
    """
    time_s = view.athlete.time_s
    if instant[0] - half_s < time_s[0] or instant[0] + half_s > time_s[-1]:
        raise NotMeasured("no_sides_of_cut", time=half_s)
    start_m, stop_m = (
        middle_at(view.athlete, "hip", instant_s)
        for instant_s in (instant - half_s, instant + half_s)
    )
    path = stop_m - start_m
    velocity = path[:, :2] / (2 * half_s)
    noise = view.own_noise((velocity.shape[0] - 1, 2), seed=round(1000 * float(instant[0])))
    velocity[1:] += VELOCITY_SPREAD_MPS * noise
    return np.asarray(np.linalg.norm(velocity, axis=-1))


def _frames(view: RepView) -> slice:
    instant_s = float(view.instant("dodge_start")[0])
    return view.between(instant_s - 0.02, instant_s + 0.02)


@measure("shot_angle_deg", moves=SHOTS)
def shot_angle(view: RepView) -> DrawnValue:
    """Angle between the lines from mid-foot at the release to the two posts, their inner edges.

    Plane geometry on the ground: for a goal of width w it is
    atan2(w y, x^2 + y^2 - w^2 / 4) from a place x beside and y before the middle of its mouth.
    """
    if view.goal_m is None:
        raise NotMeasured("no_goal")
    shooter = mid_foot_m(view.athlete, view.instant("release"))
    left, right = (view.goal_m[: len(shooter), post] - shooter for post in (0, 1))
    cross = left[:, 0] * right[:, 1] - left[:, 1] * right[:, 0]
    angle = np.degrees(np.arctan2(np.abs(cross), np.sum(left * right, axis=-1)))
    release_s = float(view.instant("release")[0])
    return DrawnValue(angle, view.between(release_s - 0.02, release_s + 0.02))
