"""The throwback pass: run, plant, one step away from the pressure, pass across the open body."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..tracks import Facing, Floats, Land, Plan, Walk
from .common import (
    Choreography,
    Order,
    RepWindow,
    direction,
    hands,
    of_rep,
    ready_hands,
    run_hands,
)


@dataclass(slots=True)
class _Times:
    """Instants of one rep, s: leaving stance, landings of the plant and step, throw, rest."""

    pace: float
    go: float
    period: float = 0.0
    plant: float = 0.0
    stopped: float = 0.0
    first: float = 0.0
    second: float = 0.0
    cock: float = 0.0
    out: float = 0.0
    stop: float = 0.0
    rest: float = 0.0


class _Passes:
    """Writes a row of throwback passes along one running line into a plan, rep after rep."""

    def __init__(self, order: Order) -> None:
        self.order, self.rng = order, np.random.default_rng(order.seed)
        self.side = order.stick_hand
        self.sign = 1.0 if self.side == "right" else -1.0
        self.root_scale = (order.stature_m / 1.8) ** 0.5
        self.run_yaw = float(np.deg2rad(order.yaw_deg))
        self.ahead, self.left = direction(self.run_yaw), direction(self.run_yaw + np.pi / 2)
        self.place = np.asarray(order.place_m, dtype=float)
        self.plant_foot = "left" if self.side == "right" else "right"
        self.back_foot = "right" if self.plant_foot == "left" else "left"
        self.plan = plan = Plan(top_side=self.side, stance_m=0.105 * order.stature_m)
        plan.facing.append(Facing(0.0, self.run_yaw))
        plan.path_m.key(0.0, self.place)
        plan.height.key(0.0, 0.965)
        plan.hands.key(0.0, ready_hands(self.side, self.rng))
        for track in (plan.pelvis_turn_deg, plan.chest_turn_deg, plan.gaze_turn_deg):
            track.key(0.0, 0.0)
        plan.lean_deg.key(0.0, (5.0, 0.0))

    def add(self, index: int, start_s: float) -> tuple[RepWindow, float]:
        """Write one rep that begins with a pause; return it and when the player stands again."""
        rng, order = self.rng, self.order
        away = order.sizes[index % len(order.sizes)] if order.sizes else rng.uniform(0.35, 0.95)
        aside = rng.uniform(-0.05, 0.32) * away * self.sign * (-1 if order.flip else 1)
        t = _Times(pace=order.speed * rng.uniform(0.93, 1.07), go=0.0)
        final = self._run_and_step(t, start_s, away, aside)
        self._throw(t, start_s, of_rep(order.delays_s, index))
        leave = t.rest + rng.uniform(0.0, 0.2)
        still = self._return(t, final, leave)
        window = RepWindow(
            start_s=start_s,
            stop_s=leave,
            burst_s=(t.cock, t.stop),
            run_yaw_rad=self.run_yaw,
        )
        return window, still

    def _run_and_step(self, t: _Times, start_s: float, away: float, aside: float) -> Floats:
        """Speed up, run, brake into the plant, stop, go back, stand: return where."""
        rng, plan, u, place = self.rng, self.plan, self.ahead, self.place
        run_mps = 3.5 * t.pace * self.root_scale
        length = rng.uniform(3.4, 4.4) * self.root_scale
        t.period = 0.31 * self.root_scale / t.pace**0.3
        t.go = start_s + rng.uniform(0.5, 0.7)
        fast, speed_up = t.go + 0.75, 0.375 * run_mps
        brake_m = 0.30 * 0.81 * run_mps
        length = max(length, speed_up + brake_m + 0.24 + 0.15 * run_mps)
        at_plant = length - 0.24
        brake = fast + (at_plant - brake_m - speed_up) / run_mps
        t.plant = brake + 0.30
        t.stopped = t.plant + 0.20
        step_time = rng.uniform(0.38, 0.46) + 0.16 * max(0.0, away - 0.5)
        t.first = t.plant + step_time
        t.second = t.first + rng.uniform(0.17, 0.23)
        path = plan.path_m
        path.key(t.go, place).key(fast, place + u * speed_up, u * run_mps)
        path.key(brake, place + u * (at_plant - brake_m), u * run_mps)
        path.key(t.plant, place + u * at_plant, u * run_mps * 0.62)
        path.key(t.stopped, place + u * (at_plant + 0.2 * 0.30 * run_mps))
        # The feet are about 0.7 m apart when the plant foot lands: mid-foot lies half of it behind.
        foot_x = length + 0.08
        final: Floats = place + u * (foot_x - 0.36 * self.root_scale - away) + self.left * aside
        path.key(t.second, final + u * 0.02)
        throw_yaw = self.run_yaw + self.sign * float(np.deg2rad(rng.uniform(22, 40)))
        turn_s = max(0.3, t.second - t.plant - 0.15)
        plan.facing.append(Facing(t.plant + 0.12, throw_yaw, over_s=turn_s))
        plan.height.key(start_s, 0.965).key(t.go + 0.3, 0.945).key(t.plant, 0.92)
        plan.height.key(t.stopped, 0.885).key(t.second, 0.93)
        self._feet(t, place + u * foot_x, final, throw_yaw)
        return final

    def _feet(self, t: _Times, plant_m: Floats, final: Floats, throw_yaw: float) -> None:
        """Run, land the plant foot, step back with the other one, close up."""
        plan, half = self.plan, self.plan.stance_m
        plan.steps.append(
            Walk(
                start_s=t.go - 0.1,
                stop_s=t.plant - t.period,
                period_s=t.period,
                last_foot=self.back_foot,
            )
        )
        spot = plant_m + self.left * self.sign * half * 0.5
        plan.steps.append(
            Land(
                time_s=t.plant,
                foot=self.plant_foot,
                mid_foot_m=(spot[0], spot[1]),
                yaw_rad=self.run_yaw,
                swing_s=1.25 * t.period,
            )
        )
        stance_left = direction(throw_yaw + np.pi / 2)
        for foot, when, swing_s in (
            (self.back_foot, t.first, 0.40),
            (self.plant_foot, t.second, t.second - t.first + 0.10),
        ):
            sign = 1.0 if foot == "left" else -1.0
            spread = self.ahead * half * (1 if foot == self.plant_foot else -1)
            spot = final + stance_left * sign * half * 0.95 + spread
            plan.steps.append(
                Land(
                    time_s=when,
                    foot=foot,
                    mid_foot_m=(spot[0], spot[1]),
                    yaw_rad=throw_yaw + 0.1 * sign,
                    swing_s=swing_s,
                )
            )

    def _throw(self, t: _Times, start_s: float, delay_s: float) -> None:
        """Carry the stick while running, wind up during the step, throw across the body."""
        rng, plan, side, s = self.rng, self.plan, self.side, self.sign
        carry = ready_hands(side, rng)
        run_hands(plan, side, t.go, t.plant - 0.1, t.period, carry)
        plan.hands.key(start_s, carry).key(t.plant + 0.05, carry)
        plan.chest_turn_deg.key(t.plant, 0.0)
        cocked = hands(side, (-0.13, 0.22, 0.93 + rng.uniform(-0.03, 0.04)), (0.12, 0.14, 0.76))
        release = hands(side, (0.24, 0.03, 0.91 + rng.uniform(-0.04, 0.03)), (0.15, 0.00, 0.68))
        speed = 8.6 * t.pace * self.root_scale
        span = (release - cocked)[:3] * self.order.stature_m
        throw = 1.9 * float(np.linalg.norm(span)) / speed
        t.out = t.second + rng.uniform(0.06, 0.16) + 0.4 * throw + delay_s
        t.cock = t.out - throw
        push = span / np.linalg.norm(span) * speed / self.order.stature_m
        plan.hands.key(t.cock, cocked).key(t.out, release, np.concatenate([push, push * 0.15]))
        t.stop = t.out + rng.uniform(0.16, 0.22)
        plan.hands.key(t.stop, hands(side, (0.28, -0.12, 0.64), (0.10, -0.02, 0.60)))
        t.rest = t.stop + rng.uniform(0.3, 0.45)
        plan.hands.key(t.rest, ready_hands(side, rng))
        for track, peak, lead in (
            (plan.pelvis_turn_deg, 16.0, 0.05),
            (plan.chest_turn_deg, 34.0, 0.02),
        ):
            track.key(t.plant + 0.1, 0.0).key(t.cock - lead, -s * peak)
            track.key(t.out - lead, s * 14.0, s * 260.0 * peak / 34.0)
            track.key(t.stop, s * peak * 0.9).key(t.rest, 0.0)
        gaze, lean = plan.gaze_turn_deg, plan.lean_deg
        gaze.key(t.plant, 0.0).key(t.out, s * 30).key(t.stop, s * 30).key(t.rest, 0.0)
        lean.key(t.go, (5.0, 0.0)).key(t.plant, (3.0, 0.0)).key(t.cock, (-3.0, 0.0))
        lean.key(t.out, (8.0, s * 4.0)).key(t.stop, (12.0, s * 4.0)).key(t.rest, (4.0, 0.0))
        plan.height.key(t.out, 0.935).key(t.rest, 0.95)

    def _return(self, t: _Times, final: Floats, leave: float) -> float:
        """Jog back, swinging the stick, turn round, and return when standing still."""
        rng, plan, place = self.rng, self.plan, self.place
        way = place - final
        distance = float(np.linalg.norm(way))
        toward = way / distance
        jog = min(2.9 * t.pace * self.root_scale, distance / 0.95)
        even = max(0.1, (distance - 0.8 * jog) / jog)
        home = float(leave + 1.6 + even)
        plan.path_m.key(leave, final)
        plan.path_m.key(leave + 0.8, final + toward * 0.4 * jog, toward * jog)
        plan.path_m.key(leave + 0.8 + even, place - toward * 0.4 * jog, toward * jog)
        plan.path_m.key(home, place)
        plan.facing.append(Facing(leave - 0.2, float(np.arctan2(way[1], way[0])), over_s=0.55))
        plan.facing.append(Facing(home - 0.15, self.run_yaw, over_s=0.6))
        still = home + 0.6
        plan.steps.append(
            Walk(
                start_s=leave - 0.15,
                stop_s=still,
                period_s=0.36 * self.root_scale,
                last_foot=self.plant_foot,
                lift_m=0.08,
            )
        )
        # Quick swings of the carried stick from side to side: faster than some throws look.
        carry = ready_hands(self.side, rng)
        swung = hands(self.side, (0.20, -0.14, 0.64), (0.14, -0.10, 0.50))
        when = leave + rng.uniform(0.5, 0.8)
        for _ in range(int(rng.integers(1, 3))):
            quick = rng.uniform(0.13, 0.18) / self.order.speed
            plan.hands.key(when, carry).key(when + quick, swung)
            plan.hands.key(when + quick + 0.12, swung).key(when + 2 * quick + 0.12, carry)
            when += 2 * quick + rng.uniform(0.35, 0.6)
        plan.hands.key(max(still, when), carry)
        plan.chest_turn_deg.key(still, 0.0)
        plan.height.key(still, 0.965)
        return still


def choreograph(order: Order) -> Choreography:
    """Return the plan of a row of throwback passes along one running line."""
    passes = _Passes(order)
    reps: list[RepWindow] = []
    next_s = 0.0
    for index in range(order.n_reps):
        rep, still = passes.add(index, next_s)
        reps.append(rep)
        next_s = still + passes.rng.uniform(0.05, 0.3)
    return Choreography(athlete=passes.plan, defender=None, reps=reps, duration_s=next_s + 0.3)
