"""What the throws share: forms of a throw, its keys, the turn of hips and chest, the way home."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..tracks import Facing, Floats, Plan
from .common import Order, Spot, hands, ready_hands

OTHER_FOOT = {"left": "right", "right": "left"}
_SHARPNESS = 1.9
"""Time of a throw times its greatest speed over its length: how evenly the hand speeds up."""

_FORMS: dict[str, tuple[tuple[Spot, Spot], tuple[Spot, Spot], tuple[Spot, Spot]]] = {
    "overhand": (
        ((-0.13, 0.20, 0.95), (0.09, 0.12, 0.79)),
        ((0.29, 0.07, 0.95), (0.17, 0.00, 0.71)),
        ((0.29, -0.14, 0.62), (0.12, -0.06, 0.58)),
    ),
    "three_quarter": (
        ((-0.14, 0.26, 0.86), (0.08, 0.13, 0.74)),
        ((0.30, 0.14, 0.80), (0.17, 0.01, 0.65)),
        ((0.26, -0.17, 0.58), (0.10, -0.10, 0.56)),
    ),
    "sidearm": (
        ((-0.14, 0.29, 0.71), (0.08, 0.14, 0.66)),
        ((0.27, 0.25, 0.64), (0.17, 0.03, 0.59)),
        ((0.24, -0.17, 0.60), (0.08, -0.10, 0.56)),
    ),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Throw:
    """Hands of one throw, in the axes of its direction, fractions of stature.

    Attributes
    ----------
    cocked, release, follow : array (6,)
        Keys of both hands: wound up, at the release, after it.
    speed_mps : float
        Of the top hand at the release, against the hips.
    duration_s : float
        From wound up to release.
    """

    cocked: Floats
    release: Floats
    follow: Floats
    speed_mps: float
    duration_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Turns:
    """How far hips and chest wind up and follow through, degrees, and how fast they go between.

    The angles count from the heading towards the side away from the stick hand.
    """

    pelvis_wound: float
    pelvis_after: float
    chest_wound: float
    chest_after: float
    chest_dps: float
    pelvis_lead_s: float = 0.05
    chest_lead_s: float = 0.02


def sign_of(side: str) -> float:
    """Return +1 for a right-hander, whose throw turns the chest to the left, else -1."""
    return 1.0 if side == "right" else -1.0


def turned(key: Floats, angle_rad: float) -> Floats:
    """Return a key of both hands turned about the vertical through mid-hip."""
    c, s = np.cos(angle_rad), np.sin(angle_rad)
    turn = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    return np.concatenate([turn @ key[:3], turn @ key[3:]])


def draw_throw(
    order: Order, rng: np.random.Generator, form: str, *, speed_mps: float, reach: float = 0.0
) -> Throw:
    """Draw a throw near one of the forms.

    Parameters
    ----------
    order : Order
    rng : Generator
    form : {"overhand", "three_quarter", "sidearm"}
    speed_mps : float
        For a stature of 1.80 m.
    reach : float
        How much farther back the hands are wound up, fraction of stature.
    """
    side, size = order.stick_hand, 0.022
    cocked, release, follow = (hands(side, *pair) for pair in _FORMS[form])
    shifts = rng.uniform(-size, size, (3, 3)) * [1.0, -sign_of(side), 1.0]
    shared = [np.concatenate([d, d]) for d in shifts]
    cocked, release, follow = (
        key + d for key, d in zip((cocked, release, follow), shared, strict=True)
    )
    cocked[[0, 3]] -= [reach, 0.6 * reach]
    speed = speed_mps * (order.stature_m / 1.8) ** 0.5
    length_m = float(np.linalg.norm((release - cocked)[:3])) * order.stature_m
    return Throw(
        cocked=cocked,
        release=release,
        follow=follow,
        speed_mps=speed,
        duration_s=_SHARPNESS * length_m / speed,
    )


def key_throw(
    plan: Plan, throw: Throw, cock_s: float, stop_s: float, stature_m: float, aside_rad: float = 0.0
) -> float:
    """Write a throw's hands from wound up to follow-through; return the instant of the release.

    Parameters
    ----------
    plan : Plan
    throw : Throw
    cock_s, stop_s : float
        Instants of wound up and of the end of the follow-through.
    stature_m : float
    aside_rad : float
        Direction of the throw against the heading.
    """
    push = (throw.release - throw.cocked)[:3] * [1.0, 1.0, 0.75]
    push = push / np.linalg.norm(push) * throw.speed_mps / stature_m
    speed = turned(np.concatenate([push, 0.35 * push]), aside_rad)
    out_s = cock_s + throw.duration_s
    plan.hands.key(cock_s, turned(throw.cocked, aside_rad))
    plan.hands.key(out_s, turned(throw.release, aside_rad), speed)
    plan.hands.key(stop_s, turned(throw.follow, aside_rad))
    return out_s


def key_turns(plan: Plan, sign: float, turns: Turns, cock_s: float, out_s: float) -> None:
    """Write the turn of hips, then chest, from wound up through the release; no end is set."""
    at_release = 0.55
    for track, wound, after, lead, dps in (
        (
            plan.pelvis_turn_deg,
            turns.pelvis_wound,
            turns.pelvis_after,
            turns.pelvis_lead_s,
            0.55 * turns.chest_dps,
        ),
        (
            plan.chest_turn_deg,
            turns.chest_wound,
            turns.chest_after,
            turns.chest_lead_s,
            turns.chest_dps,
        ),
    ):
        passed = -wound + at_release * (wound + after)
        track.key(cock_s - lead, -sign * wound)
        track.key(out_s - lead, sign * passed, sign * dps)


def standing_plan(
    order: Order,
    yaw_rad: float,
    rng: np.random.Generator,
    *,
    height: float = 0.955,
    lean_deg: float = 7.0,
) -> Plan:
    """Return the plan of a player who stands ready at the order's place."""
    plan = Plan(top_side=order.stick_hand, stance_m=0.105 * order.stature_m)
    plan.facing.append(Facing(0.0, yaw_rad))
    plan.path_m.key(0.0, np.asarray(order.place_m, dtype=float))
    plan.height.key(0.0, height)
    plan.lean_deg.key(0.0, (lean_deg, 0.0))
    plan.hands.key(0.0, ready_hands(order.stick_hand, rng))
    for track in (
        plan.pelvis_turn_deg,
        plan.chest_turn_deg,
        plan.gaze_turn_deg,
        plan.gaze_down_deg,
    ):
        track.key(0.0, 0.0)
    return plan
