"""What the moves share: how a rep is asked for, hand positions, paths along way points."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ..tracks import Plan, Track

Floats = NDArray[np.float64]
Spot = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """What is asked of the choreography of one clip.

    Attributes
    ----------
    seed : int
        Of the generator that draws timing and size of every rep.
    stature_m : float
    stick_hand : str
    n_reps : int
    place_m : (x, y)
        Where the athlete starts, field frame.
    yaw_deg : float
        Direction of the shot, the run-in or the run at the defender; 0 along x, 90 along y.
    speed : float
        Scale of all running and hand speeds; 1 is a skilled adult.
    sizes : tuple of float
        Size of each rep, used in turn: height of the hands (fraction of stature), step back (m) or
        cushion (m).
    flip : bool
        Mirror what the stick hand does not decide (side of the cut, sideways part of the step).
    delays_s : tuple of float
        Longer hold (shot) or later release (pass) of each rep, used in turn.
    opponent_stature_m : float
    defended : bool
        Whether a defender is to be choreographed; a close-the-gap dodge always has one.
    kind : str
        Which of the moves that are never taught, for the move ``unknown``.
    """

    seed: int
    stature_m: float
    stick_hand: str
    n_reps: int
    place_m: tuple[float, float]
    yaw_deg: float
    speed: float = 1.0
    sizes: tuple[float, ...] = ()
    flip: bool = False
    delays_s: tuple[float, ...] = ()
    opponent_stature_m: float = 1.78
    defended: bool = False
    kind: str = ""


@dataclass(slots=True, kw_only=True)
class RepWindow:
    """Where to look for a rep's events: within start and stop, its burst within ``burst_s``.

    What a move does not have stays empty: ``plant_s`` is the landing that takes the cut or carries
    the roll, ``stick_hand`` the top hand at the start, ``change_s`` the change of hands,
    ``pivot_foot`` the foot of the first roll and ``turns_s`` every roll; ``foreign`` names a move
    that is never taught; a low fake lies within ``low_s``;
    ``move`` is that of a rep in a film of several moves.
    """

    start_s: float
    stop_s: float
    burst_s: tuple[float, float]
    run_yaw_rad: float
    plant_s: float | None = None
    stick_hand: str | None = None
    change_s: tuple[float, float] | None = None
    pivot_foot: str | None = None
    turns_s: tuple[tuple[float, float], ...] = ()
    foreign: str | None = None
    low_s: tuple[float, float] | None = None
    move: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Pastime:
    """Something that is no rep, and when: talking, drinking, walking on, a fake without a throw."""

    kind: str
    start_s: float
    stop_s: float


@dataclass(slots=True, kw_only=True)
class Choreography:
    """Plans of everyone in a clip, and where its reps are."""

    athlete: Plan
    defender: Plan | None
    reps: list[RepWindow]
    duration_s: float
    pastimes: list[Pastime] = field(default_factory=list)


def of_rep(values: tuple[float, ...], index: int) -> float:
    """Return the value of a rep when values are used in turn; 0 without any."""
    return values[index % len(values)] if values else 0.0


def hands(side: str, top: Spot, bottom: Spot) -> Floats:
    """Return one key of both hands.

    Parameters
    ----------
    side : str
        Stick hand.
    top, bottom : (forward, towards the stick side, up)
        From mid-hip's ground point, fractions of stature.
    """
    sign = -1.0 if side == "right" else 1.0
    return np.array(
        [top[0], sign * top[1], top[2], bottom[0], sign * bottom[1], bottom[2]], dtype=float
    )


def direction(yaw_rad: float) -> Floats:
    """Return the unit vector of a heading on the ground."""
    return np.array([np.cos(yaw_rad), np.sin(yaw_rad)])


def along_points(
    track: Track, start_s: float, points: list[Floats], speeds_mps: list[float]
) -> float:
    """Continue a path through way points and return when the last is reached, at rest.

    The direction at each way point follows the line between its neighbours; ``speeds_mps`` holds
    the speed at every way point but the first, the last one being 0.
    """
    when, before = start_s, speeds_mps[0]
    for k in range(1, len(points)):
        length = float(np.linalg.norm(points[k] - points[k - 1]))
        speed = speeds_mps[k - 1]
        when += length / max((before + speed) / 2, 0.4)
        ahead = points[min(k + 1, len(points) - 1)] - points[k - 1]
        ahead = ahead / max(float(np.linalg.norm(ahead)), 1e-6)
        track.key(when, points[k], ahead * speed)
        before = speed
    return when


def ready_hands(side: str, rng: np.random.Generator) -> Floats:
    """Return the quiet carry: bottom hand before the hip, top hand before the chest."""
    d = rng.uniform(-0.015, 0.015, 4)
    return hands(side, (0.20 + d[0], 0.12 + d[1], 0.71 + d[2]), (0.19 + d[3], -0.03, 0.545 + d[2]))


def run_hands(
    plan: Plan, side: str, start_s: float, stop_s: float, period_s: float, carry: Floats
) -> None:
    """Let the carried stick swing with the steps between two times."""
    sign = 1.0
    when = start_s
    while when < stop_s:
        sway = hands(
            side, (0.022 * sign, 0.03 * sign, 0.012 * sign), (0.02 * sign, 0.02 * sign, 0.0)
        )
        plan.hands.key(when, carry + sway)
        plan.chest_turn_deg.key(when, 6.0 * sign)
        sign, when = -sign, when + period_s
