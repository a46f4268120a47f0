"""Find contacts and events on the exact skeleton, by the definitions of the measures."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .body import SOLE_M
from .kinematics import Motion
from .moves.common import RepWindow
from .tracks import GRID_HZ

Floats = NDArray[np.float64]

_FOOT_POINT_M = 0.02
QUIET_MPS = 0.30
"""A player in quiet stance moves neither hips nor hands (relative to the hips) faster than this."""


def middle(motion: Motion, part: str) -> Floats:
    """Return the middle of a left and right joint, shape (n_times, 3)."""
    joints = motion.joints_m
    return (joints[f"left_{part}"] + joints[f"right_{part}"]) / 2


def mid_foot(motion: Motion) -> Floats:
    """Return the point midway between the middles (heel to toe) of both feet, on the ground."""
    return ((middle(motion, "heel") + middle(motion, "toe")) / 2)[:, :2]


def speed(points: Floats) -> Floats:
    """Return the speed of a path on the grid, m/s."""
    result: Floats = np.linalg.norm(np.gradient(points, axis=0), axis=-1) * GRID_HZ
    return result


def top_hand(motion: Motion) -> Floats:
    """Return the grip of the upper hand."""
    return motion.top_hand_m()


def landings(motion: Motion, foot: str) -> list[float]:
    """Return the instants at which a foot touches down.

    A foot touches while heel or toe is within 4 mm of the height it stands at; a landing follows
    at least 0.06 s in the air.
    """
    stand = SOLE_M + _FOOT_POINT_M * motion.body.stature_m / 1.8
    low = np.minimum(motion.joints_m[f"{foot}_heel"][:, 2], motion.joints_m[f"{foot}_toe"][:, 2])
    touching = low <= stand + 0.004
    found: list[float] = []
    starts = np.flatnonzero(touching[1:] & ~touching[:-1]) + 1
    for start in starts:
        if not touching[max(0, start - int(0.06 * GRID_HZ)) : start].any():
            found.append(float(motion.time_s[start]))
    return found


def all_landings(motion: Motion) -> list[tuple[float, str]]:
    """Return (instant, foot) of every landing in order of time."""
    return sorted((t, foot) for foot in ("left", "right") for t in landings(motion, foot))


def peak(values: Floats, time_s: Floats, window: tuple[float, float]) -> float:
    """Return the instant of the greatest value in a window, by a parabola through three samples."""
    inside = np.flatnonzero((time_s >= window[0]) & (time_s <= window[1]))
    i = int(inside[values[inside].argmax()])
    i = min(max(i, 1), len(values) - 2)
    a, b, c = values[i - 1], values[i], values[i + 1]
    bend = a - 2 * b + c
    shift = 0.0 if bend >= 0 else float(np.clip(0.5 * (a - c) / bend, -1, 1))
    return float(time_s[i] + shift / GRID_HZ)


def start_of(motion: Motion, rep: RepWindow, before_s: float) -> float:
    """Return the last instant of quiet stance before ``before_s``, else the calmest instant."""
    hips = middle(motion, "hip")
    busy = np.maximum(speed(hips), speed(top_hand(motion) - hips))
    rows = np.flatnonzero((motion.time_s >= rep.start_s) & (motion.time_s <= before_s))
    quiet = rows[busy[rows] < QUIET_MPS]
    # The hold with the hands high is quiet too: only rows before the first real burst count.
    if len(quiet) == 0:
        return float(motion.time_s[rows[busy[rows].argmin()]])
    gap = np.flatnonzero(np.diff(quiet) > 0.05 * GRID_HZ)
    last = quiet[gap[0]] if len(gap) else quiet[-1]
    return float(motion.time_s[last])


def finish_of(motion: Motion, after_s: float) -> float:
    """Return when the top hand, relative to the hips, is back under 20 % of its speed at a peak."""
    hand = speed(top_hand(motion) - middle(motion, "hip"))
    i = round(after_s * GRID_HZ)
    slow = np.flatnonzero(hand[i:] < 0.2 * hand[i])
    return float(motion.time_s[i + int(slow[0])]) if len(slow) else float(motion.time_s[-1])


def dodge_start(motion: Motion, rep: RepWindow) -> float:
    """Return the last landing before the pelvis path has turned by more than 30 deg within 0.5 s.

    The turn is looked for where the pelvis moves faster than 1 m/s, in the rep's window; a change
    of its speed by more than 40 % within 0.4 s counts only after the run-in has got going.
    """
    hips = middle(motion, "hip")[:, :2]
    velocity = np.gradient(hips, axis=0) * GRID_HZ
    course = np.unwrap(np.arctan2(velocity[:, 1], velocity[:, 0]))
    fast = np.hypot(velocity[:, 0], velocity[:, 1]) > 1.0
    lag = int(0.5 * GRID_HZ)
    first = int(rep.burst_s[0] * GRID_HZ)
    last = min(int(rep.stop_s * GRID_HZ), len(course) - 1)
    for i in range(first, last):
        back = course[max(first - lag, i - lag) : i][fast[max(first - lag, i - lag) : i]]
        if len(back) and np.abs(course[i] - back).max() > np.deg2rad(30.0):
            before = [t for t, _ in all_landings(motion) if t <= motion.time_s[i]]
            return before[-1]
    message = f"the path of the rep at {rep.start_s:.2f} s never turns by 30 deg"
    raise ValueError(message)


def throwback_contacts(
    motion: Motion, release_s: float, run_yaw_rad: float
) -> tuple[float, float, int]:
    """Return plant, last contact before release and the number of steps back.

    The plant is the last landing before the pelvis has slowed to under 30 % of its greatest speed
    along the run-in. A landing counts as a step back when the foot comes to lie more than 0.15 m
    farther back than the other one; the other foot closing up belongs to the same step.
    """
    ahead = np.array([np.cos(run_yaw_rad), np.sin(run_yaw_rad)])
    along = middle(motion, "hip")[:, :2] @ ahead
    pace = np.gradient(along) * GRID_HZ
    stop = int(release_s * GRID_HZ)
    begin = max(0, stop - int(3.0 * GRID_HZ))
    fastest = begin + int(pace[begin:stop].argmax())
    slow = fastest + int(np.flatnonzero(pace[fastest:stop] < 0.3 * pace[fastest])[0])
    steps = all_landings(motion)
    plant = [t for t, _ in steps if t <= motion.time_s[slow]][-1]
    last = [t for t, _ in steps if t < release_s][-1]
    count = 0
    for t, foot in steps:
        if not plant < t < release_s:
            continue
        i = round(t * GRID_HZ) + 2
        other = "right" if foot == "left" else "left"
        places = [
            ((motion.joints_m[f"{f}_heel"][i] + motion.joints_m[f"{f}_toe"][i]) / 2)[:2] @ ahead
            for f in (foot, other)
        ]
        count += bool(places[0] < places[1] - 0.15)
    return plant, last, count
