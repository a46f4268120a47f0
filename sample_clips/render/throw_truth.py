"""Events and measures of the throws, read off the exact skeleton by the definitions."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .dodge_truth import Named, Reader, at
from .events import (
    all_landings,
    finish_of,
    mid_foot,
    middle,
    peak,
    speed,
    start_of,
    throwback_contacts,
    top_hand,
)
from .kinematics import Motion
from .moves.common import RepWindow
from .scene import GOAL_M
from .tracks import GRID_HZ

Floats = NDArray[np.float64]
SHOTS = ("low_to_high_shot", "on_the_run_shot", "step_down_shot")
"""Shots whose angle to the goal is read."""
WIND_UP_S = 0.8
"""The wind-up is looked for in this time before the release."""
RUN_IN_S = 0.5
"""The direction of the run is that of the hips over this time up to the plant."""
TURN_IN_S = 0.6
"""Hips and chest turn into the throw in this time before the release."""
STANDING_M, LEAST_STAND_S = 0.004, 0.02
"""A foot stands while its toe is so low; from its landing on at least so long."""


def throw_of(motion: Motion, rep: RepWindow) -> tuple[float, dict[str, float]]:
    """Return the instant of the release and the speed of the top hand."""
    time_s = motion.time_s
    relative = speed(top_hand(motion) - middle(motion, "hip"))
    release = peak(relative, time_s, rep.burst_s)
    near = (time_s >= release - 0.15) & (time_s <= release + 0.15)
    return release, {"top_hand_speed_mps": float(speed(top_hand(motion))[near].max())}


def throwback(motion: Motion, defender: Motion | None, rep: RepWindow) -> tuple[Named, Named]:
    """Return a throwback: plant, last contact, the step between them, the turn of the chest."""
    time_s = motion.time_s
    release, measures = throw_of(motion, rep)
    plant, last, steps = throwback_contacts(motion, release, rep.run_yaw_rad)
    start = start_of(motion, rep, plant - 0.3)
    feet = mid_foot(motion)
    run = _run_in(motion, plant)
    step = at(feet, time_s, last) - at(feet, time_s, plant)
    course = _course(motion, "shoulder")
    window = (time_s >= plant) & (time_s <= release)
    measures |= {
        "step_back_m": float(-step @ run),
        "step_back_sideways_m": float(abs(step[0] * run[1] - step[1] * run[0])),
        "steps_back": float(steps),
        "plant_to_release_s": release - plant,
        "release_height_m": float(at(top_hand(motion), time_s, release)[2]),
        "turn_away_deg": float(
            np.rad2deg(np.abs(course[window] - at(course[:, None], time_s, plant)[0]).max())
        ),
    }
    events = {
        "start": start,
        "plant": plant,
        "last_contact": last,
        "release": release,
        "finish": finish_of(motion, release),
    }
    return events, measures


def _run_in(motion: Motion, plant: float) -> Floats:
    hips = middle(motion, "hip")[:, :2]
    run = at(hips, motion.time_s, plant) - at(hips, motion.time_s, plant - RUN_IN_S)
    result: Floats = run / np.linalg.norm(run)
    return result


def _course(motion: Motion, part: str) -> Floats:
    """Return the direction of the line from right to left, seen from above, unwrapped, rad."""
    across = (motion.joints_m[f"left_{part}"] - motion.joints_m[f"right_{part}"])[:, :2]
    result: Floats = np.unwrap(np.arctan2(across[:, 1], across[:, 0]))
    return result


def _low_to_high(motion: Motion, defender: Motion | None, rep: RepWindow) -> tuple[Named, Named]:
    time_s, hand = motion.time_s, top_hand(motion)
    release, measures = throw_of(motion, rep)
    first, last = rep.low_s or (rep.start_s, release)
    rows = np.flatnonzero((time_s >= first) & (time_s <= last))
    low = int(rows[hand[rows, 2].argmin()])
    rows = np.arange(low, int(release * GRID_HZ) + 1)
    high = int(rows[hand[rows, 2].argmax()])
    hips = middle(motion, "hip")
    measures |= {
        "hand_dip_m": float(hips[low, 2] - hand[low, 2]),
        "hand_lift_m": float(hand[high, 2] - hand[low, 2]),
        "fake_to_release_s": release - float(time_s[low]),
        "head_pitch_at_fake_deg": _head_pitch_deg(motion, low),
    }
    start = start_of(motion, rep, float(time_s[low]) - 0.1)
    measures |= _at_release(motion, release, start)
    events = {
        "start": start,
        "hands_low": float(time_s[low]),
        "hands_high": float(time_s[high]),
        "release": release,
        "finish": finish_of(motion, release),
    }
    return events, measures


def _running_or_set(motion: Motion, defender: Motion | None, rep: RepWindow) -> tuple[Named, Named]:
    """Return a shot on the run or a step-down shot; the plant is the last landing before it."""
    release, measures = throw_of(motion, rep)
    events = {"start": start_of(motion, rep, release - 0.3)}
    measures |= _at_release(motion, release, events["start"])
    landed = [t for t, _ in all_landings(motion) if events["start"] < t < release]
    if landed:
        events["plant"] = landed[-1]
    events |= {"release": release, "finish": finish_of(motion, release)}
    return events, measures


def _pivot_throwback(
    motion: Motion, defender: Motion | None, rep: RepWindow
) -> tuple[Named, Named]:
    time_s = motion.time_s
    events, measures = throwback(motion, defender, rep)
    plant = events["plant"]
    foot = min(
        ("left", "right"),
        key=lambda f: min(abs(t - plant) for t, g in all_landings(motion) if g == f),
    )
    place = ((motion.joints_m[f"{foot}_heel"] + motion.joints_m[f"{foot}_toe"]) / 2)[:, :2]
    run, hips = _run_in(motion, plant), middle(motion, "hip")[:, :2]
    off = (place - at(hips, time_s, plant - RUN_IN_S / 2)) @ np.array([-run[1], run[0]])
    until = events["last_contact"]
    height = motion.joints_m[f"{foot}_toe"][:, 2]
    rows = np.flatnonzero((time_s >= plant) & (time_s <= max(until, plant + LEAST_STAND_S)))
    lifted = np.flatnonzero(height[rows] > height[rows[0]] + STANDING_M)
    standing = rows[: lifted[0]] if len(lifted) else rows
    measures["pivot_line_offset_m"] = float(abs(off[standing].mean()))
    measures |= _at_release(motion, events["release"], events["start"])
    return events, measures


def _head_pitch_deg(motion: Motion, row: int) -> float:
    line = motion.joints_m["nose"][row] - middle(motion, "ear")[row]
    return float(np.rad2deg(np.arctan2(line[2], np.hypot(line[0], line[1]))))


def _at_release(motion: Motion, release: float, start: float) -> dict[str, float]:
    """Return what every throw has: height, speed of the run, twist and turns of hips and chest.

    Turns count the way of the throw: anticlockwise from above with the right hand on top.
    """
    time_s = motion.time_s
    hips, chest = _course(motion, "hip"), _course(motion, "shoulder")
    wind_up = (time_s >= max(start, release - WIND_UP_S)) & (time_s <= release)
    turning = (time_s >= max(start, release - TURN_IN_S)) & (time_s <= release)
    apart = (chest - hips + np.pi) % (2 * np.pi) - np.pi
    found = {
        "release_height_m": float(at(top_hand(motion), time_s, release)[2]),
        "hips_at_release_mps": float(
            at(speed(middle(motion, "hip")[:, :2])[:, None], time_s, release)[0]
        ),
        "separation_deg": float(np.rad2deg(np.abs(apart[wind_up]).max())),
    }
    way = 1.0 if motion.top_side_at(release) == "right" else -1.0
    for name, course in (("pelvis", hips), ("trunk", chest)):
        pace = np.rad2deg(np.gradient(course) * GRID_HZ)
        found[f"{name}_turn_speed_dps"] = float((way * pace[turning]).max())
    return found


def shot_angle_deg(motion: Motion, release: float) -> float:
    """Return the angle that the goal mouth takes up seen from mid-foot at the release."""
    spot = at(mid_foot(motion), motion.time_s, release)
    left, right = (np.array([x, 0.0]) - spot for x in (GOAL_M / 2, -GOAL_M / 2))
    cross = left[0] * right[1] - left[1] * right[0]
    return float(np.rad2deg(abs(np.arctan2(cross, left @ right))))


READERS: dict[str, Reader] = {
    "low_to_high_shot": _low_to_high,
    "on_the_run_shot": _running_or_set,
    "step_down_shot": _running_or_set,
    "pivot_throwback_pass": _pivot_throwback,
}
