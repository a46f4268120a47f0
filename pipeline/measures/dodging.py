"""The cut, the hand switch, the roll and the hitch of a dodge.

Definitions without a source in their docstring are common practice of the trade, and our own where
it is silent.
"""

from __future__ import annotations

import numpy as np

from pipeline.core.spline import spline_smooth
from pipeline.core.types import FloatArray
from pipeline.measures.advice import advice_rule, loads_the_knee
from pipeline.measures.angles import planting_side
from pipeline.measures.hands import time_above
from pipeline.measures.registry import HIPS, measure
from pipeline.measures.spacing import (
    VELOCITY_SPREAD_MPS,
    approach_mps,
    speed_at,
    speeds_between,
)
from pipeline.measures.view import DrawnValue, NotMeasured, RepView, middle_at, sample

WAY_S = 0.2
"""The direction of the path is that of the hips over this time."""

RUN_IN_S = (-0.5, -0.2)
"""The way of the run into a jab is that between these times before the plant."""

LANDED_AFTER_S = 0.08
"""The place of a foot that lands is read so long after its contact."""

MOST_IN_DEPTH = 0.6
"""A jab step is measured where it goes across the view: no more than this share of it in depth.
Along the sight it came out up to 0.4 m short on rendered clips."""

JAB_SPREAD_M = 0.08
"""Standard deviation of what is left of that; set on the same clips."""

AWAY_AFTER_S = 0.3
"""The way out of a cut begins so long after the plant; in between the body turns."""

WAY_SPREAD_SHARE = 0.5
"""How much smaller the error of a path's direction is than that of its speed; set so that intervals
hold the truth on rendered clips."""

SLOWEST_MPS = 0.5
"""The way of hips slower than this has no direction."""

TURN_CUTOFF_HZ = 4.0
"""Half-gain frequency of the direction of the hip line."""

TURN_SPREAD_DEG, TURN_TIME_SPREAD_S = 13.0, 0.06
"""Standard deviations of the turn of a pelvis over a roll and of its time: the depth of the hips is
poorly seen from the side. Set so that intervals hold the truth on rendered clips."""

ROLL_SHARE = 0.05
ABOUT_ROLL_S = 0.2
"""The turn is looked at from so long before the plant to so long after the end of the roll."""

MOSTLY_SEEN = 0.8

PLACE_S = 0.08
"""A place of the pivot foot is its mean over so long."""

DRIFT_SPREAD_M = 0.05
"""Standard deviation of a drift: a foot that turns is followed less well than one that stands. Set
in the same way."""

BALL_FROM_HEEL = 0.7
"""Where the ball of a foot lies between heel and toe; our own convention."""


@measure(
    "cut_angle_deg", moves=("split_dodge", "angle_cut_dodge"), read_from="run", low=loads_the_knee()
)
def cut_angle(view: RepView) -> DrawnValue:
    """Turn of the path of the hips over the cut, seen from above.

    From the way over the `WAY_S` before the plant to that of the same length from `AWAY_AFTER_S`
    after it.
    """
    instant = view.instant("dodge_start")
    before = _way_mps(view, instant - WAY_S, seed=1)
    after = _way_mps(view, instant + AWAY_AFTER_S, seed=2)
    if min(np.linalg.norm(before[0]), np.linalg.norm(after[0])) < SLOWEST_MPS:
        raise NotMeasured("hardly_moved")
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turn = np.abs(np.degrees(np.arctan2(cross, np.sum(before * after, axis=-1))))
    start_s = float(instant[0])
    return DrawnValue(turn, view.between(start_s - WAY_S, start_s + AWAY_AFTER_S + WAY_S))


def _way_mps(view: RepView, instant: FloatArray, seed: int, over_s: float = WAY_S) -> FloatArray:
    """(n_draws, 2) mean velocity of the hips along the ground from an instant on."""
    time_s = view.athlete.time_s
    if instant[0] < time_s[0] or instant[0] + over_s > time_s[-1]:
        raise NotMeasured("no_way_of_cut")
    start_m, stop_m = (
        middle_at(view.athlete, "hip", instant_s) for instant_s in (instant, instant + over_s)
    )
    way = stop_m - start_m
    velocity = way[:, :2] / over_s
    spread = WAY_SPREAD_SHARE * VELOCITY_SPREAD_MPS
    velocity[1:] += spread * view.own_noise((velocity.shape[0] - 1, 2), seed=seed)
    return np.asarray(velocity)


@measure("jab_width_m", moves=("split_dodge",), read_from="run", low=loads_the_knee())
def jab_width(view: RepView) -> DrawnValue:
    """Distance from the foot that plants to mid-hip at contact, across the way of the run.

    The way of the run is that of the hips over `RUN_IN_S`, before the jab bends it. Measured only
    where the step is seen from the front or from behind.
    """
    instant, time_s = view.instant("dodge_start"), view.athlete.time_s
    run = _way_mps(view, instant + RUN_IN_S[0], seed=1, over_s=RUN_IN_S[1] - RUN_IN_S[0])
    speed = np.linalg.norm(run, axis=-1, keepdims=True)
    if speed[0, 0] < SLOWEST_MPS:
        raise NotMeasured("no_run_aside")
    # The foot stays where it landed; at contact itself its smooth track is still on the way there.
    foot = sample(_foot_m(view, planting_side(view)), time_s, instant + LANDED_AFTER_S)[:, :2]
    hips = middle_at(view.athlete, "hip", instant)[:, :2]
    # The depth of a foot that is set down far in front of or behind the other is poorly known.
    sight = hips[0] / max(float(np.linalg.norm(hips[0])), 1e-9)
    in_depth = abs(float(run[0, 0] * sight[1] - run[0, 1] * sight[0])) / float(speed[0, 0])
    if in_depth > MOST_IN_DEPTH:
        raise NotMeasured("jab_along_view")
    out = foot - hips
    across = np.abs(out[:, 0] * run[:, 1] - out[:, 1] * run[:, 0]) / speed[:, 0]
    across[1:] += JAB_SPREAD_M * view.own_noise((across.size - 1,))
    ends_m = np.array([[*hips[0], 0.0], [*foot[0], 0.0]])
    return DrawnValue(across, view.at("dodge_start"), ends_m)


def _foot_m(view: RepView, side: str) -> FloatArray:
    """(n_draws, n_frames, 3) middle of a foot between heel and toe."""
    return np.asarray(
        0.5 * (view.athlete.joint(f"{side}_heel") + view.athlete.joint(f"{side}_toe"))
    )


@measure("hand_switch_s", moves=("split_dodge",), read_from="hands")
def hand_switch(view: RepView) -> DrawnValue:
    """Time from the plant to the hands having changed places on the stick."""
    return DrawnValue(view.instant("hands_switched") - view.instant("dodge_start"), None)


@measure("roll_time_s", moves=("roll_dodge",))
def roll_time(view: RepView) -> DrawnValue:
    """Time of the turn of a roll, from 5 to 95 % of it."""
    turned, frames = _turned_deg(view)
    time_s = view.athlete.time_s[frames]
    share = turned / turned[:, -1:]
    times = [_first_above_s(share, level, time_s) for level in (ROLL_SHARE, 1.0 - ROLL_SHARE)]
    took_s = times[1] - times[0]
    took_s[1:] += TURN_TIME_SPREAD_S * view.own_noise((took_s.size - 1,))
    return DrawnValue(took_s, frames)


@measure("roll_turn_deg", moves=("roll_dodge",), body_lines=(HIPS,))
def roll_turn(view: RepView) -> DrawnValue:
    """Turn of the pelvis about the vertical in a roll, the first of a double one, without sign."""
    turned, frames = _turned_deg(view)
    turn = turned[:, -1]
    turn[1:] += TURN_SPREAD_DEG * view.own_noise((turn.size - 1,))
    return DrawnValue(turn, frames)


def _turned_deg(view: RepView) -> tuple[FloatArray, slice]:
    """(n_draws, n) how far the pelvis has turned since a roll began, never back; its frames.

    The direction is that of the line of the hips. It is smoothed as a vector before it is unwound.
    """
    start_s, end_s = (float(view.instant(name)[0]) for name in ("dodge_start", "roll_end"))
    time_s = view.athlete.time_s
    line = view.athlete.joint("right_hip") - view.athlete.joint("left_hip")
    columns = np.concatenate([line[..., 0], line[..., 1]]).T
    known = np.isfinite(columns).all(axis=1)
    if known[view.between(start_s, end_s)].mean() < MOSTLY_SEEN:
        raise NotMeasured("hips_hidden_in_roll")
    x, y = np.split(
        spline_smooth(time_s, columns, known.astype(float), TURN_CUTOFF_HZ).T, 2, axis=0
    )
    heading = np.degrees(np.unwrap(np.arctan2(y, x), axis=1))
    frames = view.between(start_s - ABOUT_ROLL_S, end_s + ABOUT_ROLL_S)
    way = np.sign(
        np.mean(
            sample(heading, time_s, view.instant("roll_end"))
            - sample(heading, time_s, view.instant("dodge_start"))
        )
    )
    turned = way * heading[:, frames]
    lowest = np.argmin(turned[:, : turned.shape[1] // 2], axis=1)
    turned = turned - turned[np.arange(lowest.size), lowest][:, None]
    turned[np.arange(turned.shape[1]) < lowest[:, None]] = 0.0
    return np.maximum.accumulate(turned, axis=1), frames


def _first_above_s(share: FloatArray, level: float, time_s: FloatArray) -> FloatArray:
    """(n_draws,) instant at which a share (n_draws, n) that never falls crosses a level."""
    after = np.clip(np.argmax(share >= level, axis=1), 1, None)
    draws = np.arange(share.shape[0])
    low, high = share[draws, after - 1], share[draws, after]
    part = np.clip((level - low) / np.maximum(high - low, 1e-9), 0.0, 1.0)
    return np.asarray(time_s[after - 1] + part * (time_s[after] - time_s[after - 1]))


@measure("pivot_drift_m", moves=("roll_dodge",), read_from="run")
def pivot_drift(view: RepView) -> DrawnValue:
    """Farthest way of the pivot foot's ball along the ground from where it planted.

    A pivot foot turns on its ball, so that heel and toe move though the foot stays. Until the foot
    leaves the ground for the first time.
    """
    side, time_s = planting_side(view), view.athlete.time_s
    start_s, end_s = float(view.instant("dodge_start")[0]), float(view.instant("roll_end")[0])
    standing = view.athlete.contact[:, 0 if side == "left" else 1]
    frames = np.flatnonzero(standing & (time_s >= start_s - 1e-9) & (time_s <= end_s + 1e-9))
    gaps = np.flatnonzero(np.diff(frames) > 1)
    stance = frames[: gaps[0] + 1] if gaps.size else frames
    if stance.size < 3 or time_s[stance[-1]] - time_s[stance[0]] < 2 * PLACE_S:
        raise NotMeasured("no_pivot_stand")
    heel, toe = (view.athlete.joint(f"{side}_{part}") for part in ("heel", "toe"))
    ball = (heel + BALL_FROM_HEEL * (toe - heel))[:, stance, :2]
    at_s = time_s[stance]
    places = np.stack(
        [
            ball[:, (at_s >= first_s - 1e-9) & (at_s <= first_s + PLACE_S + 1e-9)].mean(axis=1)
            for first_s in at_s[at_s <= at_s[-1] - PLACE_S + 1e-9]
        ],
        axis=1,
    )
    away = np.linalg.norm(places - places[:, :1], axis=-1)
    farthest = int(np.argmax(away[0]))
    ends_m = np.array([[*places[0, 0], 0.0], [*places[0, farthest], 0.0]])
    drift = away.max(axis=1)
    drift[1:] += DRIFT_SPREAD_M * view.own_noise((drift.size - 1,))
    return DrawnValue(drift, slice(int(stance[0]), int(stance[-1]) + 1), ends_m)


@measure(
    "hitch_drop_ratio",
    moves=("hesitation_dodge",),
    read_from="run",
    high=advice_rule(("speed_kept_ratio", "low")),
)
def hitch_drop(view: RepView) -> DrawnValue:
    """Lowest speed of the hips in a hesitation over the speed of its approach."""
    lowest = speed_at(view, view.instant("slowest"))
    return DrawnValue(lowest / _run_up_mps(view), view.at("slowest"))


@measure(
    "hitch_s",
    moves=("hesitation_dodge",),
    read_from="run",
    low=advice_rule(("speed_kept_ratio", "low")),
)
def hitch_time(view: RepView) -> DrawnValue:
    """Time for which the hips are slower than half of the speed of the approach; 0 = never."""
    half_mps = 0.5 * _run_up_mps(view)
    slowest_s = float(view.instant("slowest")[0])
    speed, frames = speeds_between(view, slowest_s - 1.0, slowest_s + 1.0)
    peak = np.argmin(speed, axis=1)
    under_s = time_above(-speed, -half_mps, view.athlete.time_s[frames], peak)
    never = speed[np.arange(speed.shape[0]), peak] >= half_mps
    return DrawnValue(np.where(never, 0.0, under_s), frames)


def _run_up_mps(view: RepView) -> FloatArray:
    """(n_draws,) speed of the approach, or the reason that there was none."""
    speed = approach_mps(view)
    if speed[0] < SLOWEST_MPS:
        raise NotMeasured("no_run_up_to_hitch")
    return speed
