"""A player who pauses where he stands: talks, wipes the face, drinks, ties a shoe, stretches."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..tracks import Floats, Land, Plan
from .common import Order, Spot, direction, hands, ready_hands
from .throwing import sign_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Player:
    """One player's plan while it is being written."""

    order: Order
    rng: np.random.Generator
    plan: Plan

    @property
    def yaw_rad(self) -> float:
        """Where he faces."""
        return float(np.deg2rad(self.order.yaw_deg))

    @property
    def place_m(self) -> Floats:
        """Where he stands, (2,)."""
        return np.asarray(self.order.place_m, dtype=float)

    def hold(self, top: Spot, bottom: Spot) -> Floats:
        """Return a key of both hands."""
        return hands(self.order.stick_hand, top, bottom)

    def ready(self, time_s: float) -> None:
        """Be back in quiet stance."""
        plan = self.plan
        plan.hands.key(time_s, ready_hands(self.order.stick_hand, self.rng))
        plan.lean_deg.key(time_s, (7.0, 0.0))
        plan.height.key(time_s, 0.955)
        plan.path_m.key(time_s, self.place_m)
        for track in (
            plan.pelvis_turn_deg,
            plan.chest_turn_deg,
            plan.gaze_turn_deg,
            plan.gaze_down_deg,
        ):
            track.key(time_s, 0.0)

    def free(self, time_s: float, weight: float, place: Spot) -> None:
        """Put the lower hand off the stick: forward, towards its own side, up."""
        sign = sign_of(self.order.stick_hand)
        self.plan.free_hand.key(time_s, (weight, place[0], sign * place[1], place[2]))


def talk(p: Player, start: float) -> float:
    """Stand the stick beside the foot and talk with the free hand and the head."""
    rng, when = p.rng, start + 0.6
    upright = p.hold((0.10, 0.19, 0.60), (0.12, 0.18, 0.32))
    p.plan.hands.key(when, upright)
    p.plan.lean_deg.key(when, (1.0, 0.0))
    p.plan.height.key(when, 0.975)
    low = (0.06, 0.17, 0.45)
    p.free(start + 0.1, 0.0, low)
    p.free(when, 1.0, low)
    for _ in range(int(rng.integers(4, 14))):
        when += rng.uniform(0.25, 0.8)
        spread = rng.uniform(-0.05, 0.32), rng.uniform(0.45, 0.85)
        p.free(when, 1.0, (rng.uniform(0.12, 0.34), *spread))
        p.plan.gaze_turn_deg.key(when, rng.uniform(-25, 25))
        p.plan.gaze_down_deg.key(when, rng.uniform(-8, 16))
        p.plan.chest_turn_deg.key(when, rng.uniform(-14, 14))
    p.free(when + 0.5, 1.0, low)
    p.free(when + 0.9, 0.0, low)
    p.ready(when + 1.1)
    return when + 1.1


def wipe_face(p: Player, start: float) -> float:
    """Wipe the face with the free hand."""
    rng, when = p.rng, start + float(p.rng.uniform(0.45, 0.7))
    p.free(start, 0.0, (0.16, 0.05, 0.60))
    p.plan.gaze_down_deg.key(start, 0.0)
    p.plan.hands.key(when, p.hold((0.14, 0.20, 0.62), (0.12, 0.12, 0.38)))
    for _ in range(int(rng.integers(2, 6))):
        p.free(when, 1.0, (0.13, rng.uniform(-0.06, 0.08), rng.uniform(0.86, 0.94)))
        p.plan.gaze_down_deg.key(when, rng.uniform(5, 22))
        when += rng.uniform(0.2, 0.45)
    p.free(when, 1.0, (0.13, 0.06, 0.85))
    p.free(when + 0.5, 0.0, (0.16, 0.05, 0.58))
    p.ready(when + 0.7)
    return when + 0.7


def drink(p: Player, start: float) -> float:
    """Bend for a bottle, drink with the head back, put it down again."""
    rng, plan = p.rng, p.plan
    floor, mouth = (0.30, 0.06, 0.10), (0.10, 0.02, 0.89)
    carried = p.hold((0.12, 0.20, 0.62), (0.10, 0.15, 0.36))
    p.free(start, 0.0, (0.16, 0.05, 0.55))
    when = start + rng.uniform(0.7, 1.0)

    def bend(at: float) -> None:
        p.free(at, 1.0, floor)
        plan.hands.key(at, p.hold((0.22, 0.24, 0.40), (0.02, 0.20, 0.22)))
        plan.height.key(at, 0.66)
        plan.lean_deg.key(at, (52.0, 0.0))
        plan.gaze_down_deg.key(at, 35.0)

    bend(when)
    bend(when + 0.25)
    when += rng.uniform(0.9, 1.3)
    for _ in range(int(rng.integers(1, 4))):
        p.free(when, 1.0, mouth)
        plan.hands.key(when, carried)
        plan.height.key(when, 0.975)
        plan.lean_deg.key(when, (-3.0, 0.0))
        plan.gaze_down_deg.key(when, -24.0)
        when += rng.uniform(0.8, 2.0)
        p.free(when, 1.0, mouth)
        plan.gaze_down_deg.key(when, -26.0)
        when += 0.5
        p.free(when, 1.0, (0.20, 0.10, 0.62))
        plan.gaze_down_deg.key(when, 5.0)
        when += rng.uniform(0.4, 0.9)
    plan.height.key(when, 0.97)
    plan.lean_deg.key(when, (0.0, 0.0))
    when += rng.uniform(0.7, 1.0)
    bend(when)
    bend(when + 0.2)
    p.free(when + 1.0, 0.0, (0.16, 0.05, 0.55))
    p.ready(when + 1.1)
    return when + 1.1


def tie_shoe(p: Player, start: float) -> float:
    """Put a foot forward, crouch, and work at the shoe with both hands."""
    rng, plan = p.rng, p.plan
    front = str(rng.choice(["left", "right"]))
    sign = 1.0 if front == "left" else -1.0
    home = p.place_m + direction(p.yaw_rad + np.pi / 2) * sign * plan.stance_m
    ahead = direction(p.yaw_rad)
    there = home + ahead * 0.30 * p.order.stature_m / 1.8
    down = start + rng.uniform(0.9, 1.3)
    until = down + rng.uniform(2.5, 6.0)
    up = until + rng.uniform(0.8, 1.1)
    for when, spot in ((start + 0.45, there), (up + 0.15, home)):
        plan.steps.append(
            Land(time_s=when, foot=front, mid_foot_m=(spot[0], spot[1]), yaw_rad=p.yaw_rad)
        )
    path = plan.path_m
    path.key(start, p.place_m).key(start + 0.5, p.place_m + ahead * 0.08)
    path.key(down, p.place_m + ahead * 0.10).key(until, p.place_m + ahead * 0.10)
    aside = sign * sign_of(p.order.stick_hand) * -0.05
    when = down
    while when <= until:
        jiggle = rng.uniform(-0.015, 0.015, 3)
        at_shoe = p.hold((0.27, 0.05 + aside, 0.12), (0.25, -0.06 + aside, 0.11))
        plan.hands.key(when, at_shoe + np.concatenate([jiggle, -jiggle]))
        when += rng.uniform(0.18, 0.4)
    for at in (down, until):
        plan.height.key(at, 0.43)
        plan.lean_deg.key(at, (44.0, 0.0))
        plan.gaze_down_deg.key(at, 38.0)
    p.ready(up + 0.2)
    return up + 0.2


def stretch(p: Player, start: float) -> float:
    """Bend to the sides with the stick overhead, turn the trunk, or reach for the toes."""
    rng, plan, when = p.rng, p.plan, start
    kind = str(rng.choice(["sides", "turns", "toes"]))
    overhead = p.hold((0.05, 0.20, 1.16), (0.05, -0.20, 1.16))
    before = p.hold((0.24, 0.19, 0.80), (0.24, -0.19, 0.80))
    toes = p.hold((0.28, 0.08, 0.20), (0.26, -0.08, 0.20))
    when += rng.uniform(0.7, 1.0)
    sign = float(rng.choice([-1.0, 1.0]))
    for _ in range(int(rng.integers(2, 6))):
        if kind == "sides":
            plan.hands.key(when, overhead + np.tile([0.0, sign * 0.12, -0.03], 2))
            plan.lean_deg.key(when, (0.0, sign * 17.0))
        elif kind == "turns":
            c, s = np.cos(0.8 * sign), np.sin(0.8 * sign)
            turn = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
            plan.hands.key(when, np.concatenate([turn @ before[:3], turn @ before[3:]]))
            plan.chest_turn_deg.key(when, sign * 48.0)
            plan.pelvis_turn_deg.key(when, sign * 16.0)
        else:
            plan.hands.key(when, toes if sign > 0 else overhead)
            plan.lean_deg.key(when, (80.0 if sign > 0 else -4.0, 0.0))
            plan.height.key(when, 0.93 if sign > 0 else 0.97)
        sign = -sign
        when += rng.uniform(0.8, 1.7)
    p.ready(when)
    return when
