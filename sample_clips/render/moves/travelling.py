"""Going from one place to another between reps: walking, jogging, backing up, turning round."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..tracks import Facing, Floats, Plan, Walk
from .common import Order, hands, ready_hands
from .throwing import OTHER_FOOT

WALK_MPS, JOG_MPS = (1.2, 1.6), (2.3, 3.0)
"""Speeds of a player of 1.80 m, drawn between these."""
SHORT_WAY_M = 1.3
"""So far a player backs up instead of turning round twice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """From where at which instant to where, and what it ends with.

    Attributes
    ----------
    leave_s : float
    start_m, stop_m : array (2,)
        Both at rest.
    yaw_rad : float
        Where the player faces at the end.
    foot : {"left", "right"}
        That landed last before.
    """

    leave_s: float
    start_m: Floats
    stop_m: Floats
    yaw_rad: float
    foot: str


def steps_on(
    plan: Plan, since_s: float, since_foot: str, until_s: float, period_s: float, lift_m: float
) -> str:
    """Walk on after a landing of one foot until an instant; return the foot that lands then."""
    n_steps = max(1, round((until_s - since_s) / period_s))
    step_s = (until_s - since_s) / n_steps
    last = OTHER_FOOT[since_foot] if n_steps % 2 == 1 else since_foot
    plan.steps.append(
        Walk(
            start_s=since_s + 0.5 * step_s - 0.1,
            stop_s=until_s,
            period_s=step_s,
            last_foot=last,
            lift_m=lift_m,
        )
    )
    return last


def go_home(
    plan: Plan,
    order: Order,
    rng: np.random.Generator,
    *,
    leave_s: float,
    spot_m: Floats,
    yaw_rad: float,
    foot: str,
) -> float:
    """Go back to the order's place, turn round and stand; return when that is done.

    A short way is gone backwards with small steps; a longer one walking or jogging, the body
    turned, with the stick swinging or carried quietly.
    """
    way = Way(
        leave_s=leave_s,
        start_m=spot_m,
        stop_m=np.asarray(order.place_m, dtype=float),
        yaw_rad=yaw_rad,
        foot=foot,
    )
    if float(np.linalg.norm(way.stop_m - way.start_m)) < SHORT_WAY_M:
        return back_up(plan, order, rng, way)
    return travel(plan, order, rng, way, jog=rng.random() < 0.65)


def back_up(plan: Plan, order: Order, rng: np.random.Generator, way: Way) -> float:
    """Go a short way without turning; return when that is done."""
    distance_m = float(np.linalg.norm(way.stop_m - way.start_m))
    still = way.leave_s + max(0.7, distance_m / 0.75)
    plan.path_m.key(way.leave_s, way.start_m).key(still - 0.05, way.stop_m)
    steps_on(plan, way.leave_s, way.foot, still, 0.40, 0.05)
    plan.hands.key(still, ready_hands(order.stick_hand, rng))
    return still


def travel(plan: Plan, order: Order, rng: np.random.Generator, way: Way, *, jog: bool) -> float:
    """Turn, walk or jog somewhere, turn to where the player is to face; return when he stands."""
    scale = (order.stature_m / 1.8) ** 0.5
    line = way.stop_m - way.start_m
    distance_m = float(np.linalg.norm(line))
    fast = min(rng.uniform(*(JOG_MPS if jog else WALK_MPS)) * scale, distance_m / 0.95)
    even = max(0.1, (distance_m - 0.8 * fast) / fast)
    home = float(way.leave_s + 1.6 + even)
    toward = line / distance_m
    path = plan.path_m
    path.key(way.leave_s, way.start_m)
    path.key(way.leave_s + 0.8, way.start_m + toward * 0.4 * fast, toward * fast)
    path.key(way.leave_s + 0.8 + even, way.stop_m - toward * 0.4 * fast, toward * fast)
    path.key(home, way.stop_m)
    course = float(np.arctan2(line[1], line[0]))
    plan.facing.append(Facing(way.leave_s - 0.1, course, over_s=0.55))
    plan.facing.append(Facing(home - 0.15, way.yaw_rad, over_s=0.6))
    still = home + 0.6
    period_s = (0.36 if fast > 1.8 * scale else 0.50) * scale
    steps_on(plan, way.leave_s, way.foot, still, period_s, 0.08)
    carry = ready_hands(order.stick_hand, rng)
    swing_stick(plan, order.stick_hand, rng, way.leave_s + 0.5, still - 0.5, carry)
    plan.hands.key(still, carry)
    return still


def swing_stick(
    plan: Plan, side: str, rng: np.random.Generator, start_s: float, stop_s: float, carry: Floats
) -> None:
    """Swing the carried stick to and fro some times, faster than some throws look, or not at all.

    Parameters
    ----------
    plan : Plan
    side : str
        Stick hand.
    rng : Generator
    start_s, stop_s : float
        All swings lie between these.
    carry : array (6,)
        Hands before and after each.
    """
    swung = hands(side, (0.20, -0.14, 0.64), (0.14, -0.10, 0.50))
    when = start_s
    plan.hands.key(when, carry)
    for _ in range(int(rng.integers(0, 4))):
        quick = rng.uniform(0.15, 0.24)
        if when + 2 * quick + 0.12 > stop_s:
            break
        plan.hands.key(when, carry).key(when + quick, swung)
        plan.hands.key(when + quick + 0.12, swung).key(when + 2 * quick + 0.12, carry)
        when += 2 * quick + rng.uniform(0.35, 0.7)
