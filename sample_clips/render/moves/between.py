"""What a player does between reps, and a coach does not count.

Every pastime begins and ends in quiet stance at the order's place, facing where the order says.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from ..tracks import Facing
from . import pausing
from .common import Choreography, Order, Pastime, direction, ready_hands
from .pausing import Player
from .throwing import draw_throw, sign_of, standing_plan
from .travelling import Way, steps_on, travel


def _idle(p: Player, start: float) -> float:
    """Stand, look about, shift the weight."""
    rng, when = p.rng, start
    for _ in range(int(rng.integers(1, 4))):
        when += rng.uniform(0.8, 1.8)
        sway = direction(p.yaw_rad + np.pi / 2) * rng.uniform(-0.05, 0.05)
        p.plan.path_m.key(when, p.place_m + sway)
        p.plan.gaze_turn_deg.key(when, rng.uniform(-45, 45))
        p.plan.chest_turn_deg.key(when, rng.uniform(-12, 12))
    when += rng.uniform(0.5, 1.0)
    p.ready(when)
    return when


def _cradle(p: Player, start: float) -> float:
    """Cradle the ball in place."""
    rng = p.rng
    lift = rng.uniform(0.74, 0.92)
    held = p.hold((0.13, 0.15, lift), (0.16, 0.07, lift - 0.26))
    period, wide = rng.uniform(0.26, 0.42), rng.uniform(0.02, 0.07)
    when, sign = start + 0.4, 1.0
    for _ in range(int(rng.integers(6, 20))):
        sway = p.hold((0.4 * wide * sign, wide * sign, 0.0), (0.01 * sign, 0.3 * wide * sign, 0.0))
        p.plan.hands.key(when, held + sway)
        p.plan.chest_turn_deg.key(when, 100.0 * wide * sign)
        when, sign = when + period, -sign
    p.ready(when + 0.4)
    return when + 0.4


def _catch(p: Player, start: float) -> float:
    """Wait with the stick up, catch, give with it; now and then toss the ball back softly."""
    rng, track, when = p.rng, p.plan.hands, start
    for _ in range(int(rng.integers(1, 4))):
        up = rng.uniform(0.90, 1.05)
        target = p.hold((0.22, 0.12, up), (0.18, 0.02, up - 0.23))
        when += rng.uniform(0.35, 0.6)
        track.key(when, target)
        when += rng.uniform(0.4, 1.2)
        track.key(when, target)
        p.plan.gaze_down_deg.key(when, rng.uniform(-15, 0))
        when += rng.uniform(0.16, 0.28)
        track.key(when, p.hold((0.00, 0.20, up - 0.05), (0.12, 0.08, up - 0.22)))
        p.plan.chest_turn_deg.key(when, -sign_of(p.order.stick_hand) * rng.uniform(8, 22))
        when += rng.uniform(0.4, 0.7)
        p.ready(when)
        if rng.random() < 0.5:
            when = _lob(p, when + rng.uniform(0.1, 0.5))
    return when


def _lob(p: Player, start: float) -> float:
    """Toss the ball a few steps, with the wrists alone: no throw that anybody would count."""
    rng, track = p.rng, p.plan.hands
    when = start + rng.uniform(0.3, 0.5)
    track.key(start, ready_hands(p.order.stick_hand, rng))
    track.key(when, p.hold((0.06, 0.15, 0.68), (0.16, 0.04, 0.55)))
    when += rng.uniform(0.26, 0.40)
    track.key(when, p.hold((0.26, 0.10, 0.78), (0.20, 0.00, 0.58)))
    when += rng.uniform(0.4, 0.7)
    p.ready(when)
    return when


def _fake(p: Player, start: float) -> float:
    """Wind up and stop before the ball leaves, once or more, or let the stick come down again."""
    rng, track, sign = p.rng, p.plan.hands, sign_of(p.order.stick_hand)
    when = start
    for _ in range(int(rng.integers(1, 4))):
        form = str(rng.choice(["overhand", "three_quarter", "sidearm"]))
        throw = draw_throw(p.order, rng, form, speed_mps=8.0)
        when += rng.uniform(0.35, 0.6)
        track.key(when, throw.cocked)
        p.plan.chest_turn_deg.key(when, -sign * rng.uniform(18, 40))
        if rng.random() < 0.75:
            part = rng.uniform(0.25, 0.55)
            when += rng.uniform(0.13, 0.22)
            track.key(when, throw.cocked + part * (throw.release - throw.cocked))
            p.plan.chest_turn_deg.key(when, -sign * rng.uniform(0, 12))
            when += rng.uniform(0.15, 0.35)
            track.key(when, throw.cocked + 0.15 * (throw.release - throw.cocked))
        when += rng.uniform(0.1, 0.5)
    when += rng.uniform(0.35, 0.6)
    p.ready(when)
    return when


def _scoop(p: Player, start: float) -> float:
    """Jog to a ball, scoop it on the run, cradle it up and come back."""
    rng, plan, order = p.rng, p.plan, p.order
    scale = (order.stature_m / 1.8) ** 0.5
    ahead = direction(p.yaw_rad)
    run = rng.uniform(1.8, 2.8) * scale
    ball_m, through_m = rng.uniform(1.7, 2.6), rng.uniform(0.9, 1.4)
    fast, speed_up = start + 0.7, 0.35 * run
    ball = fast + max(0.2, (ball_m - speed_up) / run)
    spot = p.place_m + ahead * (speed_up + run * (ball - fast))
    stop_m = spot + ahead * through_m
    path = plan.path_m
    path.key(start, p.place_m).key(fast, p.place_m + ahead * speed_up, ahead * run)
    path.key(ball, spot, ahead * run * 0.9)
    stop = ball + 2.1 * through_m / run
    path.key(stop, stop_m)
    last = "right"
    steps_on(plan, start, "left", stop, 0.34 * scale, 0.09)
    carry = ready_hands(order.stick_hand, rng)
    plan.hands.key(start + 0.3, carry)
    plan.hands.key(ball - 0.16, p.hold((0.22, 0.10, 0.36), (0.02, 0.16, 0.44)))
    plan.hands.key(ball + 0.02, p.hold((0.34, 0.08, 0.25), (0.08, 0.13, 0.37)))
    plan.hands.key(ball + 0.38, p.hold((0.14, 0.16, 0.84), (0.17, 0.06, 0.60)))
    plan.hands.key(ball + 0.62, p.hold((0.16, 0.10, 0.86), (0.17, 0.05, 0.60)))
    plan.hands.key(ball + 0.86, p.hold((0.13, 0.17, 0.82), (0.17, 0.07, 0.58)))
    plan.hands.key(max(stop, ball + 1.1), carry)
    plan.height.key(start + 0.2, 0.945).key(ball - 0.1, 0.74).key(ball + 0.08, 0.74)
    plan.height.key(ball + 0.5, 0.94)
    plan.lean_deg.key(start + 0.2, (7.0, 0.0)).key(ball - 0.1, (44.0, 0.0))
    plan.lean_deg.key(ball + 0.08, (44.0, 0.0)).key(ball + 0.5, (6.0, 0.0))
    plan.gaze_down_deg.key(start, 0.0).key(ball, 26.0).key(ball + 0.5, 0.0)
    leave = max(stop, ball + 1.1) + rng.uniform(0.1, 0.6)
    way = Way(leave_s=leave, start_m=stop_m, stop_m=p.place_m, yaw_rad=p.yaw_rad, foot=last)
    still = travel(plan, order, rng, way, jog=rng.random() < 0.5)
    plan.facing.append(Facing(still - 0.1, p.yaw_rad, over_s=0.4))
    p.ready(still + 0.3)
    return still + 0.3


def _stroll(p: Player, start: float) -> float:
    """Walk or jog somewhere, stand there, come back."""
    rng, plan, order = p.rng, p.plan, p.order
    course = p.yaw_rad + rng.uniform(-0.7, 0.7)
    spot = p.place_m + direction(course) * rng.uniform(1.6, 3.2)
    out = Way(leave_s=start, start_m=p.place_m, stop_m=spot, yaw_rad=course, foot="left")
    there = travel(plan, order, rng, out, jog=rng.random() < 0.4)
    back = Way(
        leave_s=there + rng.uniform(0.2, 1.5),
        start_m=spot,
        stop_m=p.place_m,
        yaw_rad=p.yaw_rad,
        foot="left",
    )
    still = travel(plan, order, rng, back, jog=rng.random() < 0.4)
    plan.facing.append(Facing(still - 0.1, p.yaw_rad, over_s=0.4))
    p.ready(still + 0.3)
    return still + 0.3


PASTIMES: dict[str, Callable[[Player, float], float]] = {
    "idle": _idle,
    "cradle": _cradle,
    "catch": _catch,
    "lob": _lob,
    "fake": _fake,
    "talk": pausing.talk,
    "wipe_face": pausing.wipe_face,
    "drink": pausing.drink,
    "tie_shoe": pausing.tie_shoe,
    "stretch": pausing.stretch,
    "scoop": _scoop,
    "stroll": _stroll,
}
"""What writes a pastime into a plan and returns when it ends, by name."""


def pass_time(order: Order, kind: str) -> Choreography:
    """Return the plan of one pastime, without any rep."""
    rng = np.random.default_rng(order.seed)
    plan = standing_plan(order, float(np.deg2rad(order.yaw_deg)), rng)
    player = Player(order=order, rng=rng, plan=plan)
    start = rng.uniform(0.1, 0.5)
    player.ready(start)
    stop = PASTIMES[kind](player, start)
    return Choreography(
        athlete=plan,
        defender=None,
        reps=[],
        duration_s=stop + rng.uniform(0.1, 0.4),
        pastimes=[Pastime(kind=kind, start_s=start, stop_s=stop)],
    )
