"""The close-the-gap dodge: run at the defender until barely out of reach, then burst past."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..tracks import Facing, Floats, Land, Plan, Walk
from .common import (
    Choreography,
    Order,
    RepWindow,
    along_points,
    direction,
    hands,
    ready_hands,
    run_hands,
)

_BURST_S = 0.19
"""Time in which the path turns from the run at the defender into the burst."""


@dataclass(slots=True)
class _Rep:
    """One rep: side of the cut (+1 left of the run), sizes, and instants in s."""

    start: float
    cushion_m: float
    cut_side: float
    pace: float
    run_mps: float
    period: float
    drift_m: float
    go: float
    at_cut_m: float = 0.0
    bend: float = 0.0
    cut: float = 0.0
    abeam: float = 0.0
    past: float = 0.0
    home: float = 0.0
    still: float = 0.0
    step_s: float = 0.0


class _Dodges:
    """Writes a row of dodges along one line into the plans of attacker and defender."""

    def __init__(self, order: Order) -> None:
        self.order, self.rng = order, np.random.default_rng(order.seed)
        self.side = order.stick_hand
        self.sign = 1.0 if self.side == "right" else -1.0
        self.scale = order.stature_m / 1.8
        self.run_yaw = float(np.deg2rad(order.yaw_deg))
        self.ahead, self.left = direction(self.run_yaw), direction(self.run_yaw + np.pi / 2)
        self.place = np.asarray(order.place_m, dtype=float)
        self.gap_m = self.rng.uniform(5.0, 5.5)
        self.plan = plan = Plan(top_side=self.side, stance_m=0.105 * order.stature_m)
        plan.facing.append(Facing(0.0, self.run_yaw))
        plan.path_m.key(0.0, self.place)
        plan.height.key(0.0, 0.955)
        plan.hands.key(0.0, ready_hands(self.side, self.rng))
        plan.chest_turn_deg.key(0.0, 0.0)
        plan.lean_deg.key(0.0, (8.0, 0.0))

        self.guard = self.place + self.ahead * self.gap_m
        stance_m = 0.15 * order.opponent_stature_m
        self.other = other = Plan(top_side="right", stance_m=stance_m, watch_m=plan.path_m)
        self.low = hands("right", (0.30, 0.10, 0.60), (0.24, -0.09, 0.47))
        other.path_m.key(0.0, self.guard)
        other.height.key(0.0, 0.87)
        other.lean_deg.key(0.0, (17.0, 0.0))
        other.hands.key(0.0, self.low)

    def add(self, index: int, start_s: float) -> tuple[RepWindow, float]:
        """Write one rep that begins with a pause; return it and when the attacker stands again."""
        rng, order = self.rng, self.order
        cushion = order.sizes[index % len(order.sizes)] if order.sizes else rng.uniform(0.8, 2.2)
        side = self.sign * (-1.0 if (index % 2 == 1) != order.flip else 1.0)
        pace = order.speed * rng.uniform(0.94, 1.06)
        rep = _Rep(
            start=start_s,
            cushion_m=cushion,
            cut_side=side,
            pace=pace,
            run_mps=3.9 * pace * self.scale**0.5,
            period=0.30 * self.scale**0.5 / pace**0.3,
            drift_m=rng.uniform(0.0, 0.45),
            go=start_s + rng.uniform(0.5, 0.7),
        )
        at = self._burst(rep, self._run_in(rep))
        self._loop_home(rep, at)
        self._feet(rep)
        self._hands_and_height(rep)
        self._defend(rep)
        window = RepWindow(
            start_s=start_s,
            stop_s=rep.past,
            burst_s=(rep.cut - 0.4, rep.past),
            run_yaw_rad=self.run_yaw,
        )
        return window, rep.still

    def _run_in(self, rep: _Rep) -> float:
        """Run at the defender, a little slower at the end; return the speed at the cut."""
        path, u, place, run_mps = self.plan.path_m, self.ahead, self.place, rep.run_mps
        fast = rep.go + 0.75
        # Mid-foot lies about 0.2 m behind the hips when the plant foot lands.
        rep.at_cut_m = self.gap_m + rep.drift_m - rep.cushion_m + 0.16
        slow_mps = run_mps * self.rng.uniform(0.72, 0.85)
        mean_mps = (run_mps + slow_mps) / 2
        speed_up = 0.375 * run_mps
        slowing = min(0.5, (rep.at_cut_m - speed_up) / mean_mps)
        near = rep.at_cut_m - slowing * mean_mps
        rep.cut = fast + (near - speed_up) / run_mps + slowing
        path.key(rep.go, place).key(fast, place + u * speed_up, u * run_mps)
        if near > speed_up + 0.1 * run_mps:
            path.key(rep.cut - slowing, place + u * near, u * run_mps)
        path.key(rep.cut, place + u * rep.at_cut_m, u * slow_mps)
        return slow_mps

    def _burst(self, rep: _Rep, slow_mps: float) -> Floats:
        """Cut, run out, bend back to the line past the defender; return where he is past."""
        rng, path, u = self.rng, self.plan.path_m, self.ahead
        sharper = 16 * float(np.clip(1.3 - rep.cushion_m, -0.6, 0.6))
        rep.bend = rep.cut_side * float(np.deg2rad(rng.uniform(52, 62) + sharper))
        out = direction(self.run_yaw + rep.bend)
        leave_mps = rep.run_mps * rng.uniform(0.98, 1.1)
        at = self.place + u * rep.at_cut_m
        at = at + (u * slow_mps + out * leave_mps) / 2 * _BURST_S * 0.86
        when = rep.cut + _BURST_S
        path.key(when, at, out * leave_mps)
        aside = abs(float((at - self.place) @ self.left))
        reach = max(0.12, (1.12 - aside) / (leave_mps * abs(np.sin(rep.bend))))
        at, when = at + out * leave_mps * reach, when + reach
        path.key(when, at, out * leave_mps)
        at, when = at + (out + u) / 2 * leave_mps * 0.30, when + 0.30
        path.key(when, at, u * leave_mps)
        rep.abeam = when
        past = self.gap_m + rep.drift_m + rng.uniform(1.3, 1.7) - float((at - self.place) @ u)
        past = max(past, 0.5)
        rep.past = when + past / (leave_mps * 0.75)
        path.key(rep.past, at + u * past, u * leave_mps * 0.5)
        gone: Floats = at + u * past
        return gone

    def _loop_home(self, rep: _Rep, at: Floats) -> None:
        """Loop back on the side of the cut, jog home and turn round."""
        u, aside = self.ahead, self.left * rep.cut_side
        jog, slow = 3.5 * rep.pace * self.scale**0.5, 1.9 * self.scale**0.5
        loop = [
            at,
            at + u * 0.55 + aside * 0.30,
            at + u * 0.50 + aside * 0.90,
            at - u * 0.55 + aside * 1.20,
            at - u * 2.60 + aside * 1.10,
            self.place + u * 1.2 + aside * 0.45,
            self.place,
        ]
        speeds = [slow, slow, 0.8 * jog, jog, 0.75 * jog, 0.0]
        rep.home = along_points(self.plan.path_m, rep.past, loop, speeds)
        rep.still = rep.home + 0.55
        self.plan.facing.append(Facing(rep.go + 0.25, None))
        self.plan.facing.append(Facing(rep.home - 0.4, self.run_yaw, over_s=0.6))

    def _feet(self, rep: _Rep) -> None:
        plant_foot = "right" if rep.cut_side > 0 else "left"
        last_foot = "left" if plant_foot == "right" else "right"
        wide = -rep.cut_side * self.rng.uniform(0.20, 0.28) * self.scale
        spot = self.place + self.ahead * (rep.at_cut_m + 0.26 * self.scale) + self.left * wide
        # Steps go on from the plant until home; the parity makes the next foot the other one.
        n_steps = round((rep.still - rep.cut) / (rep.period * 1.06))
        rep.step_s = (rep.still - rep.cut) / n_steps
        self.plan.steps += [
            Walk(
                start_s=rep.go - 0.1,
                stop_s=rep.cut - rep.period,
                period_s=rep.period,
                last_foot=last_foot,
            ),
            Land(
                time_s=rep.cut,
                foot=plant_foot,
                mid_foot_m=(spot[0], spot[1]),
                yaw_rad=self.run_yaw + 0.35 * rep.bend,
                swing_s=1.25 * rep.period,
            ),
            Walk(
                start_s=rep.cut + 0.5 * rep.step_s - 0.1,
                stop_s=rep.still,
                period_s=rep.step_s,
                last_foot=last_foot if n_steps % 2 == 1 else plant_foot,
            ),
        ]

    def _hands_and_height(self, rep: _Rep) -> None:
        plan, side, cut = self.plan, self.side, rep.cut
        carry = ready_hands(side, self.rng)
        run_hands(plan, side, rep.go, cut - 0.15, rep.period, carry)
        plan.hands.key(rep.start, carry)
        # The stick goes to the far side of the defender while passing.
        shield = hands(side, (0.10, 0.21, 0.74), (0.10, 0.04, 0.58))
        across = hands(side, (0.16, -0.06, 0.72), (0.16, 0.02, 0.52))
        guarded = shield if rep.cut_side * self.sign < 0 else across
        plan.hands.key(cut + 0.25, guarded).key(rep.abeam + 0.2, guarded)
        passed = max(rep.past, rep.abeam + 0.2)
        run_hands(plan, side, passed + 0.35, rep.home - 0.4, rep.step_s, carry)
        plan.hands.key(rep.still, carry)
        chest, height = plan.chest_turn_deg, plan.height
        chest.key(cut, 0.0).key(cut + 0.2, rep.cut_side * 12)
        chest.key(rep.past - 0.1, 0.0).key(rep.still, 0.0)
        height.key(rep.start, 0.955).key(rep.go + 0.4, 0.94).key(cut - 0.15, 0.92)
        height.key(cut + 0.12, 0.86).key(cut + 0.5, 0.92).key(rep.past, 0.94)
        height.key(rep.still, 0.955)

    def _defend(self, rep: _Rep) -> None:
        """Shuffle in a low stance, drift back, reach out late, turn after the attacker, return."""
        other, u, cut = self.other, self.ahead, rep.cut
        aside = self.left * rep.cut_side
        back = self.guard + u * rep.drift_m
        other.path_m.key(rep.go + 0.6, self.guard).key(cut - 0.1, back, u * rep.drift_m * 0.3)
        other.path_m.key(cut + 0.45, back - aside * 0.14 + u * 0.10)
        other.path_m.key(cut + 1.2, back + aside * 0.05 + u * 0.75)
        other.path_m.key(rep.home - 0.6, self.guard)
        other.height.key(rep.go, 0.88).key(cut, 0.85).key(cut + 0.6, 0.88).key(cut + 1.4, 0.93)
        other.height.key(rep.home, 0.90)
        other.lean_deg.key(cut, (18.0, 0.0)).key(cut + 1.4, (6.0, 0.0)).key(rep.home, (15.0, 0.0))
        poke = hands("right", (0.36, 0.08, 0.64), (0.25, -0.07, 0.50))
        other.hands.key(rep.go, self.low).key(cut + 0.1, self.low)
        other.hands.key(cut + 0.35, poke).key(cut + 0.8, self.low)
        other.steps.append(
            Walk(
                start_s=rep.go + 0.2,
                stop_s=rep.still,
                period_s=self.rng.uniform(0.31, 0.36),
                last_foot="left",
                lift_m=0.05,
            )
        )


def choreograph(order: Order) -> Choreography:
    """Return the plans of attacker and defender for a row of dodges along one line."""
    dodges = _Dodges(order)
    reps: list[RepWindow] = []
    next_s = 0.0
    for index in range(order.n_reps):
        rep, still = dodges.add(index, next_s)
        reps.append(rep)
        next_s = still + dodges.rng.uniform(0.05, 0.25)
    return Choreography(
        athlete=dodges.plan, defender=dodges.other, reps=reps, duration_s=next_s + 0.3
    )
