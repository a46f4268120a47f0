"""The high-to-low shot: hands lifted high, held, then the stick whipped with a low release."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..tracks import Facing, Land, Plan
from .common import Choreography, Order, RepWindow, direction, hands, of_rep, ready_hands


@dataclass(slots=True)
class _Times:
    """Instants of one rep, s: first move, hands high, end of the hold, and so on to rest."""

    begin: float
    high: float
    held: float
    cock: float
    out: float = 0.0
    stop: float = 0.0
    back: float = 0.0


class _Shots:
    """Writes a row of shots from one spot into a plan, rep after rep."""

    def __init__(self, order: Order) -> None:
        self.order, self.rng = order, np.random.default_rng(order.seed)
        self.side = order.stick_hand
        self.sign = 1.0 if self.side == "right" else -1.0
        self.front = "left" if self.side == "right" else "right"
        self.aim = float(np.deg2rad(order.yaw_deg))
        self.stand = self.aim - self.sign * float(np.deg2rad(self.rng.uniform(15, 40)))
        self.place = np.asarray(order.place_m, dtype=float)
        self.plan = plan = Plan(top_side=self.side, stance_m=0.105 * order.stature_m)
        plan.facing.append(Facing(0.0, self.stand))
        plan.path_m.key(0.0, self.place)
        plan.height.key(0.0, 0.95)
        plan.gaze_turn_deg.key(0.0, self.sign * 20)
        plan.lean_deg.key(0.0, (8.0, 0.0))
        plan.hands.key(0.0, ready_hands(self.side, self.rng))
        plan.pelvis_turn_deg.key(0.0, 0.0)
        plan.chest_turn_deg.key(0.0, 0.0)

    def add(self, index: int, start_s: float) -> RepWindow:
        """Write one rep that begins with a pause at ``start_s``."""
        rng, order = self.rng, self.order
        top = order.sizes[index % len(order.sizes)] if order.sizes else rng.uniform(0.95, 1.12)
        pace = order.speed * rng.uniform(0.92, 1.08)
        begin = start_s + rng.uniform(0.6, 0.9)
        high = begin + rng.uniform(0.36, 0.52) / pace
        held = high + rng.uniform(0.03, 0.24) + of_rep(order.delays_s, index)
        times = _Times(begin, high, held, held + rng.uniform(0.15, 0.22) / pace)
        self._hands(times, top, pace)
        self._trunk(times, pace)
        self._feet(times)
        return RepWindow(
            start_s=start_s,
            stop_s=times.back,
            burst_s=(times.cock, times.stop),
            run_yaw_rad=self.aim,
        )

    def _hands(self, t: _Times, top: float, pace: float) -> None:
        rng, side, height_m, track = self.rng, self.side, self.order.stature_m, self.plan.hands
        track.key(t.begin, ready_hands(side, rng))
        track.key(t.high, hands(side, (0.13, 0.09, top), (0.22, -0.02, top - 0.19)))
        drift = rng.uniform(-0.012, 0.004)
        track.key(t.held, hands(side, (0.12, 0.10, top + drift), (0.22, -0.01, top - 0.19)))
        cocked = hands(side, (-0.10, 0.27, 0.80 + rng.uniform(-0.03, 0.03)), (0.10, 0.10, 0.74))
        release = hands(
            side,
            (0.31, 0.13, 0.50 + rng.uniform(-0.04, 0.05)),
            (0.16, -0.04, 0.45 + rng.uniform(-0.02, 0.02)),
        )
        speed = 8.9 * pace * (height_m / 1.8) ** 0.5
        span = (release - cocked)[:3] * height_m
        length = float(np.linalg.norm(span))
        push = span / length * [1.0, 1.0, 0.75]
        push = push / np.linalg.norm(push)
        t.out = t.cock + 1.9 * length / speed
        track.key(t.cock, cocked)
        track.key(t.out, release, np.concatenate([push * speed, push * speed * 0.45]) / height_m)
        t.stop = t.out + rng.uniform(0.15, 0.2)
        track.key(t.stop, hands(side, (0.24, -0.17, 0.44), (0.12, -0.16, 0.50)))
        t.back = t.stop + rng.uniform(0.28, 0.6)
        track.key(t.back, ready_hands(side, rng))

    def _trunk(self, t: _Times, pace: float) -> None:
        plan, s = self.plan, self.sign
        # Hips lead the chest, the chest leads the hands.
        for track, peak, lead, after in (
            (plan.pelvis_turn_deg, 22.0, 0.05, 30.0),
            (plan.chest_turn_deg, 48.0, 0.02, 42.0),
        ):
            track.key(t.begin, 0.0).key(t.high, -s * 6.0).key(t.held, -s * 8.0)
            track.key(t.cock - lead, -s * peak)
            track.key(t.out - lead, s * 18.0, s * 380.0 * pace * (peak / 48.0))
            track.key(t.stop, s * after).key(t.back + 0.1, 0.0)
        lean = plan.lean_deg
        lean.key(t.begin, (8.0, 0.0)).key(t.high, (0.0, 0.0)).key(t.held, (0.0, 0.0))
        lean.key(t.out, (21.0, s * 7.0)).key(t.stop, (22.0, s * 6.0)).key(t.back, (8.0, 0.0))
        plan.height.key(t.begin, 0.95).key(t.high, 0.965).key(t.held, 0.965)
        plan.height.key(t.out, 0.90).key(t.stop, 0.905).key(t.back, 0.95)

    def _feet(self, t: _Times) -> None:
        """Take a small step with the front foot, and back."""
        rng, plan, place = self.rng, self.plan, self.place
        ahead, sign = direction(self.aim), 1 if self.front == "left" else -1
        step = rng.uniform(0.16, 0.36) * self.order.stature_m / 1.8
        plan.path_m.key(t.begin, place).key(t.high + 0.1, place + ahead * step * 0.35)
        plan.path_m.key(t.out, place + ahead * (step * 0.5 + 0.06))
        plan.path_m.key(t.stop, place + ahead * (step * 0.5 + 0.07))
        plan.path_m.key(t.back + 0.2, place)
        home = place + direction(self.stand + np.pi / 2) * sign * plan.stance_m
        there = home + ahead * step
        for when, spot, yaw in (
            (t.begin + rng.uniform(0.34, 0.46), there, self.stand + sign * 0.25),
            (t.back + 0.15, home, self.stand),
        ):
            plan.steps.append(
                Land(time_s=when, foot=self.front, mid_foot_m=(spot[0], spot[1]), yaw_rad=yaw)
            )


def choreograph(order: Order) -> Choreography:
    """Return the plan of a row of high-to-low shots from one spot."""
    shots = _Shots(order)
    reps: list[RepWindow] = []
    next_s = 0.0
    for index in range(order.n_reps):
        reps.append(shots.add(index, next_s))
        next_s = reps[-1].stop_s + shots.rng.uniform(0.45, 0.9)
    return Choreography(athlete=shots.plan, defender=None, reps=reps, duration_s=next_s + 0.5)
