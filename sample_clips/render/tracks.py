"""Smooth motion between choreographed keys, and the plan of one player's motion on a time grid."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

Floats = NDArray[np.float64]

GRID_HZ = 480
"""All motion is worked out on this grid; every frame time is one of its points."""


class Track:
    """Quintic pieces through keys of value and speed, with no acceleration at the keys.

    Parameters
    ----------
    n_values : int
        Number of values per key.
    """

    def __init__(self, n_values: int) -> None:
        self.n_values = n_values
        self._keys: list[tuple[float, Floats, Floats]] = []

    def key(self, time_s: float, value: object, speed: object = None) -> Track:
        """Add a key; later keys at the same time replace earlier ones."""
        point = np.broadcast_to(np.asarray(value, dtype=float), (self.n_values,)).copy()
        slope = np.zeros(self.n_values) if speed is None else np.asarray(speed, dtype=float)
        self._keys = [k for k in self._keys if abs(k[0] - time_s) > 1e-9]
        self._keys.append((time_s, point, np.broadcast_to(slope, (self.n_values,)).copy()))
        self._keys.sort(key=lambda k: k[0])
        return self

    def take(self, other: Track, since_s: float, duration_s: float) -> Track:
        """Add another track's keys up to a duration, shifted; both ends are keys at rest."""
        ends = np.array([0.0, duration_s])
        first, last = other.at(ends)
        self.key(since_s, first).key(since_s + duration_s, last)
        for time_s, value, slope in other._keys:
            if 0 <= time_s < duration_s:
                self.key(since_s + time_s, value, slope)
        return self

    def at(self, time_s: Floats) -> Floats:
        """Return the values, shape (n_times, n_values): constant beyond the keys, 0 without any."""
        if not self._keys:
            return np.zeros((len(time_s), self.n_values))
        times = np.array([k[0] for k in self._keys])
        values = np.stack([k[1] for k in self._keys])
        speeds = np.stack([k[2] for k in self._keys])
        if len(times) == 1:
            return np.repeat(values, len(time_s), axis=0)
        at = np.clip(time_s, times[0], times[-1])
        i = np.clip(np.searchsorted(times, at, side="right") - 1, 0, len(times) - 2)
        span = (times[i + 1] - times[i])[:, None]
        s = (at - times[i])[:, None] / span
        blend = s**3 * (10 - 15 * s + 6 * s**2)
        rise = s * (1 - s**2 * (6 - 8 * s + 3 * s**2))
        fall = s**3 * (-4 + 7 * s - 3 * s**2)
        result: Floats = (
            values[i] * (1 - blend)
            + values[i + 1] * blend
            + span * (speeds[i] * rise + speeds[i + 1] * fall)
        )
        return result


@dataclass(frozen=True, slots=True, kw_only=True)
class Pivot:
    """How a standing foot turns on its ball, by ``turn_rad`` from ``start_s`` to ``stop_s``."""

    turn_rad: float
    start_s: float
    stop_s: float
    slide_m: tuple[float, float] = (0.0, 0.0)
    """How far its ball slips meanwhile, field frame."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HandChange:
    """A change of hands on the stick, from ``start_s`` to ``stop_s``.

    The lower hand slides up the shaft; the upper one lets go, passes it and takes the butt.
    """

    start_s: float
    stop_s: float

    @property
    def middle_s(self) -> float:
        """When the hand that was lower counts as the top hand."""
        return (self.start_s + self.stop_s) / 2


@dataclass(slots=True)
class Contact:
    """One landing of a foot: it touches down at ``land_s`` and stays at ``mid_foot_m``."""

    land_s: float
    swing_s: float
    mid_foot_m: Floats
    yaw_rad: float
    lift_m: float = 0.09
    pivot: Pivot | None = None


@dataclass(slots=True, kw_only=True)
class Walk:
    """Steps that follow the pelvis, alternating; the last one lands at ``stop_s``."""

    start_s: float
    stop_s: float
    period_s: float
    last_foot: str
    half_width_m: float = 0.0
    lift_m: float = 0.10


@dataclass(slots=True, kw_only=True)
class Land:
    """One explicit landing at a place in the field."""

    time_s: float
    foot: str
    mid_foot_m: tuple[float, float]
    yaw_rad: float
    swing_s: float = 0.30
    lift_m: float = 0.08
    pivot: Pivot | None = None


@dataclass(slots=True)
class Facing:
    """How the heading is found from ``time_s`` on: along the path, or turning to ``yaw_rad``.

    The turn to ``yaw_rad`` takes the shorter way; ``turn_rad`` instead turns by so much from the
    heading so far, positive to the left.
    """

    time_s: float
    yaw_rad: float | None
    over_s: float = 0.3
    turn_rad: float | None = None


@dataclass(slots=True, kw_only=True)
class Plan:
    """What one player does, as keys; lengths in fractions of stature where named so.

    Attributes
    ----------
    path_m : Track
        Mid-hip on the ground plane, field frame.
    height : Track
        Mid-hip height over its standing height.
    facing : list of Facing
    pelvis_turn_deg, chest_turn_deg : Track
        Turn about the vertical against the heading, positive to the left.
    lean_deg : Track
        Trunk lean forward and to the left against the heading, beside what running adds.
    hands : Track
        Top and bottom grip: forward, left, up from mid-hip's ground point, stature fractions,
        in axes turned by the heading.
    hand_changes : list of HandChange
        When the hands change places on the shaft; ``top_side`` is the upper one before the first.
    free_hand : Track
        Weight 0 to 1 with which the bottom hand has left the stick, and where it then is (as in
        ``hands``).
    gaze_turn_deg, gaze_down_deg : Track
    steps : list of Walk or Land
    stance_m : float
        Half the distance between the feet when standing.
    """

    path_m: Track = field(default_factory=lambda: Track(2))
    height: Track = field(default_factory=lambda: Track(1))
    facing: list[Facing] = field(default_factory=list)
    pelvis_turn_deg: Track = field(default_factory=lambda: Track(1))
    chest_turn_deg: Track = field(default_factory=lambda: Track(1))
    lean_deg: Track = field(default_factory=lambda: Track(2))
    hands: Track = field(default_factory=lambda: Track(6))
    hand_changes: list[HandChange] = field(default_factory=list)
    free_hand: Track = field(default_factory=lambda: Track(4))
    gaze_turn_deg: Track = field(default_factory=lambda: Track(1))
    gaze_down_deg: Track = field(default_factory=lambda: Track(1))
    steps: list[Walk | Land] = field(default_factory=list)
    stance_m: float = 0.18
    top_side: str = "right"
    watch_m: Track | None = None
    """Path of another player whom this one faces all the time, instead of ``facing``."""


def smooth(values: Floats, sigma_s: float) -> Floats:
    """Gaussian smoothing along the first axis, on the grid."""
    result: Floats = gaussian_filter1d(values, sigma_s * GRID_HZ, axis=0, mode="nearest")
    return result


def heading_of(plan: Plan, time_s: Floats, path: Floats) -> Floats:
    """Return the heading in radians on the grid, unwrapped.

    Where a player faces along the path, the direction of the pelvis velocity is taken while it
    moves at more than 0.5 m/s and held below.
    """
    if plan.watch_m is not None:
        line = plan.watch_m.at(time_s) - path
        return smooth(np.unwrap(np.arctan2(line[:, 1], line[:, 0])), 0.15)
    velocity = smooth(np.gradient(path, time_s, axis=0), 0.06)
    moving = np.hypot(velocity[:, 0], velocity[:, 1]) > 0.5
    target = np.zeros(len(time_s))
    spans = sorted(plan.facing, key=lambda f: f.time_s)
    last = spans[0].yaw_rad or 0.0
    for k, span in enumerate(spans):
        stop = spans[k + 1].time_s if k + 1 < len(spans) else np.inf
        rows = np.flatnonzero((time_s >= span.time_s - 1e-9) & (time_s < stop - 1e-9))
        if len(rows) == 0:
            continue
        if span.turn_rad is not None:
            part = np.clip((time_s[rows] - span.time_s) / span.over_s, 0, 1)
            target[rows] = last + span.turn_rad * part
            last = float(target[rows[-1]])
        elif span.yaw_rad is None:
            course = np.arctan2(velocity[rows, 1], velocity[rows, 0])
            for row, angle, on in zip(rows, course, moving[rows], strict=True):
                if on:
                    last += (angle - last + np.pi) % (2 * np.pi) - np.pi
                target[row] = last
        else:
            goal = last + (span.yaw_rad - last + np.pi) % (2 * np.pi) - np.pi
            part = np.clip((time_s[rows] - span.time_s) / span.over_s, 0, 1)
            target[rows] = last + (goal - last) * part
            last = float(target[rows[-1]])
    return smooth(target, 0.09)


def contacts_of(plan: Plan, time_s: Floats, path: Floats, yaw: Floats) -> dict[str, list[Contact]]:
    """Turn the plan's steps into landings of each foot, in order of time."""

    def at(when: float) -> tuple[Floats, float, float]:
        row = int(np.clip(round(when * GRID_HZ), 1, len(time_s) - 2))
        speed = np.linalg.norm(path[row + 1] - path[row - 1]) * GRID_HZ / 2
        return path[row], float(yaw[row]), float(speed)

    def beside(when: float, foot: str, half: float) -> tuple[Floats, float]:
        place, heading, speed = at(when)
        width = half * (1 - 0.55 * min(1.0, speed / 2.5))
        sign = 1.0 if foot == "left" else -1.0
        left = np.array([-np.sin(heading), np.cos(heading)])
        ahead = np.array([np.cos(heading), np.sin(heading)])
        return place + sign * width * left + 0.04 * ahead, heading + sign * 0.12

    feet: dict[str, list[Contact]] = {"left": [], "right": []}
    for foot, landings in feet.items():
        spot, heading = beside(0.0, foot, plan.stance_m)
        landings.append(Contact(-1.0, 0.3, spot, heading))
    other = {"left": "right", "right": "left"}
    for step in plan.steps:
        if isinstance(step, Land):
            feet[step.foot].append(
                Contact(
                    step.time_s,
                    step.swing_s,
                    np.asarray(step.mid_foot_m),
                    step.yaw_rad,
                    step.lift_m,
                    step.pivot,
                )
            )
            continue
        when, foot = step.stop_s, step.last_foot
        while when > step.start_s + 0.1:
            half = step.half_width_m or plan.stance_m
            # The hips pass over a standing foot before the middle of its stance.
            spot, heading = beside(when + 0.32 * step.period_s, foot, half)
            feet[foot].append(Contact(when, 1.34 * step.period_s, spot, heading, step.lift_m))
            when, foot = when - step.period_s, other[foot]
    for landings in feet.values():
        landings.sort(key=lambda c: c.land_s)
        for before, after in pairwise(landings):
            after.swing_s = min(after.swing_s, after.land_s - before.land_s - 0.06)
    return feet
