"""The pivot throwback: run, plant, turn on that foot, retreat along the line, throw back across."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..tracks import Facing, Floats, HandChange, Land, Pivot, Walk
from .common import Choreography, Order, RepWindow, direction, of_rep, ready_hands, run_hands
from .throwing import (
    OTHER_FOOT,
    Turns,
    draw_throw,
    key_throw,
    key_turns,
    sign_of,
    standing_plan,
)
from .travelling import go_home


@dataclass(slots=True)
class _Times:
    """Instants of one rep, s; ``split`` is that of the change of hands, 0 without one."""

    pace: float
    go: float
    split: float = 0.0
    period: float = 0.0
    plant: float = 0.0
    first: float = 0.0
    last: float = 0.0
    cock: float = 0.0
    out: float = 0.0
    stop: float = 0.0
    rest: float = 0.0


class _Passes:
    """Writes a row of pivot throwbacks along one running line into a plan, rep after rep.

    The order's stick hand is the weak one, which throws. In some rows the stick is in it from the
    start, in others every rep begins with a split that brings it there.
    """

    def __init__(self, order: Order) -> None:
        self.order, self.rng = order, np.random.default_rng(order.seed)
        self.side, self.sign = order.stick_hand, sign_of(order.stick_hand)
        self.scale = (order.stature_m / 1.8) ** 0.5
        self.run_yaw = float(np.deg2rad(order.yaw_deg))
        self.ahead, self.left = direction(self.run_yaw), direction(self.run_yaw + np.pi / 2)
        self.place = np.asarray(order.place_m, dtype=float)
        # He turns towards the side away from the stick hand, on the foot of that side.
        self.pivot_foot, self.free_foot = OTHER_FOOT[self.side], self.side
        self.plan = standing_plan(order, self.run_yaw, self.rng, height=0.965, lean_deg=5.0)
        self.first_side = OTHER_FOOT[self.side] if self.rng.random() < 0.5 else self.side
        self.splits = self.first_side != self.side
        self.plan.top_side = self.first_side
        self.plan.hands.key(0.0, ready_hands(self.first_side, self.rng))

    def add(self, index: int, start_s: float) -> tuple[RepWindow, float]:
        """Write one rep that begins with a pause; return it and when the player stands again."""
        rng, order = self.rng, self.order
        retreat = order.sizes[index % len(order.sizes)] if order.sizes else rng.uniform(0.7, 1.9)
        t = _Times(pace=order.speed * rng.uniform(0.92, 1.08), go=0.0)
        turn = self.sign * float(np.deg2rad(rng.uniform(105, 165)))
        pivot, line = self._run(t, start_s)
        final, foot = self._turn_and_retreat(t, pivot, line, turn, retreat * order.stature_m / 1.8)
        self._throw(t, start_s, turn, of_rep(order.delays_s, index))
        leave = t.rest + rng.uniform(0.0, 0.3)
        still = go_home(
            self.plan,
            order,
            rng,
            leave_s=leave,
            spot_m=final,
            yaw_rad=self.run_yaw,
            foot=foot,
        )
        self.plan.facing.append(Facing(still - 0.2, self.run_yaw, over_s=0.6))
        self.plan.height.key(still, 0.965)
        self.plan.lean_deg.key(still, (5.0, 0.0))
        if self.splits:
            self.plan.hand_changes.append(HandChange(start_s=still, stop_s=still + 0.4))
            self.plan.hands.key(still + 0.4, ready_hands(self.first_side, rng))
        window = RepWindow(
            start_s=start_s,
            stop_s=leave,
            burst_s=(t.cock, t.stop),
            run_yaw_rad=self.run_yaw,
            change_s=(t.split - 0.05, t.split + 0.32) if self.splits else None,
        )
        return window, still + 0.45

    def _run(self, t: _Times, start_s: float) -> tuple[Floats, Floats]:
        """Speed up, run, brake into the plant; return the pivot foot's place, the line beside."""
        rng, plan, u, place = self.rng, self.plan, self.ahead, self.place
        run_mps = rng.uniform(3.0, 3.9) * t.pace * self.scale
        t.period = 0.31 * self.scale / t.pace**0.3
        t.go = start_s + rng.uniform(0.5, 0.8)
        fast, speed_up = t.go + 0.75, 0.375 * run_mps
        path = plan.path_m
        if self.splits:
            place, fast = self._split(t, run_mps, fast)
        else:
            path.key(t.go, place).key(fast, place + u * speed_up, u * run_mps)
        even_m = rng.uniform(0.5, 1.2) * self.scale
        brake_m = 0.30 * 0.78 * run_mps
        brake = fast + even_m / run_mps
        t.plant = brake + 0.30
        at_plant = speed_up + even_m + brake_m
        path.key(brake, place + u * (speed_up + even_m), u * run_mps)
        path.key(t.plant, place + u * at_plant, u * run_mps * 0.56)
        stopped = at_plant + 0.17 * 0.28 * run_mps
        path.key(t.plant + 0.17, place + u * stopped)
        foot_x = stopped + 0.20 * self.scale
        plan.steps.append(
            Walk(
                start_s=t.go - 0.1,
                stop_s=t.plant - t.period,
                period_s=t.period,
                last_foot=self.free_foot,
            )
        )
        # The pivot foot may land off the line by what the measure asks about.
        off = rng.uniform(-0.5, 1.6) * plan.stance_m * self.sign
        pivot: Floats = place + u * foot_x + self.left * off
        plan.steps.append(
            Land(
                time_s=t.plant,
                foot=self.pivot_foot,
                mid_foot_m=(pivot[0], pivot[1]),
                yaw_rad=self.run_yaw + 0.25 * self.sign,
                swing_s=1.25 * t.period,
            )
        )
        return pivot, place + u * foot_x

    def _split(self, t: _Times, run_mps: float, fast: float) -> tuple[Floats, float]:
        """Run a little aside, jab and change hands into the line; return its origin and when."""
        rng, plan, u, place = self.rng, self.plan, self.ahead, self.place
        speed_up, path = 0.375 * run_mps, plan.path_m
        aside = direction(self.run_yaw + self.sign * float(np.deg2rad(rng.uniform(22, 42))))
        t.split = fast + 0.10
        corner = place + aside * (speed_up + 0.09 * run_mps)
        path.key(t.go, place).key(fast, place + aside * speed_up, aside * run_mps)
        path.key(t.split, corner, aside * run_mps * 0.8)
        on_line: Floats = corner + (aside * 0.8 + u) / 2 * run_mps * 0.30
        path.key(t.split + 0.30, on_line, u * run_mps)
        plan.hand_changes.append(HandChange(start_s=t.split - 0.05, stop_s=t.split + 0.32))
        return on_line - u * speed_up, t.split + 0.30

    def _turn_and_retreat(
        self, t: _Times, pivot: Floats, line: Floats, turn: float, retreat_m: float
    ) -> tuple[Floats, str]:
        """Turn on the planted foot, step away along the line; return where and the last foot."""
        rng, plan, u = self.rng, self.plan, self.ahead
        heading = self.run_yaw + turn
        turn_s = rng.uniform(0.40, 0.56) / t.pace**0.5
        t.first = t.plant + 0.10 + turn_s
        plan.facing.append(Facing(t.plant + 0.06, heading, over_s=turn_s))
        planted = plan.steps[-1]
        if isinstance(planted, Land):
            planted.pivot = Pivot(
                turn_rad=0.6 * turn,
                start_s=t.plant + 0.06,
                stop_s=t.plant + 0.12 + 0.85 * turn_s,
            )
        drift = self.left * rng.uniform(-0.10, 0.18) * self.sign
        hips = line - u * 0.10
        final: Floats = hips - u * retreat_m + drift
        n_steps = max(2, round(retreat_m / (0.52 * self.scale)))
        period = t.period * rng.uniform(0.95, 1.15)
        t.last = t.first + (n_steps - 1) * period
        path, half = plan.path_m, plan.stance_m
        speed = retreat_m / max(0.5, t.last - t.plant - 0.25)
        path.key(t.first, hips - u * 0.30 * retreat_m / n_steps, -u * min(speed, 2.2))
        path.key(t.last + 0.10, final)
        foot = self.free_foot
        stance_left = direction(heading + np.pi / 2)
        for k in range(n_steps):
            sign = 1.0 if foot == "left" else -1.0
            share = min(1.0, (k + 0.9) / (n_steps - 0.4))
            spot = hips + (final - hips) * share + stance_left * sign * half
            if k >= n_steps - 2:
                ahead = direction(heading) * 0.10 * (1 if k == n_steps - 1 else -1)
                spot = final + stance_left * sign * half + ahead
            when = t.first + k * period
            plan.steps.append(
                Land(
                    time_s=when,
                    foot=foot,
                    mid_foot_m=(spot[0], spot[1]),
                    yaw_rad=heading + 0.1 * sign,
                    swing_s=0.40 if k == 0 else 1.3 * period,
                )
            )
            foot = OTHER_FOOT[foot]
        height = plan.height
        height.key(t.go, 0.965).key(t.go + 0.3, 0.945).key(t.plant, 0.92)
        height.key(t.plant + 0.2, 0.885).key(t.first, 0.92).key(t.last, 0.935)
        return final, OTHER_FOOT[foot]

    def _throw(self, t: _Times, start_s: float, turn: float, delay_s: float) -> None:
        """Carry the stick in the run, guard it in the turn, wind up late, throw across."""
        rng, plan, side, s = self.rng, self.plan, self.side, self.sign
        carry, first = ready_hands(side, rng), ready_hands(self.first_side, rng)
        plan.hands.key(start_s, first if self.splits else carry)
        if self.splits:
            run_hands(plan, self.first_side, t.go, t.split - 0.2, t.period, first)
            plan.hands.key(t.split - 0.08, first).key(t.split + 0.36, carry)
            plan.chest_turn_deg.key(t.split - 0.08, 0.0)
        begin = t.split + 0.45 if self.splits else t.go
        run_hands(plan, side, begin, t.plant - 0.1, t.period, carry)
        guarded = carry + np.tile([rng.uniform(-0.015, 0.015), 0.0, 0.0], 2)
        plan.hands.key(t.plant + 0.05, carry).key(max(t.plant + 0.2, t.first - 0.15), guarded)
        form = str(rng.choice(["overhand", "overhand", "three_quarter", "sidearm"]))
        throw = draw_throw(self.order, rng, form, speed_mps=rng.uniform(7.6, 9.0) * t.pace)
        t.out = t.last + rng.uniform(0.05, 0.18) + 0.5 * throw.duration_s + delay_s
        t.cock = max(t.out - throw.duration_s, t.first)
        aside = s * float(np.deg2rad(rng.uniform(0, 25)))
        t.stop = t.cock + throw.duration_s + rng.uniform(0.16, 0.22)
        t.out = key_throw(plan, throw, t.cock, t.stop, self.order.stature_m, aside)
        t.rest = t.stop + rng.uniform(0.3, 0.5)
        plan.hands.key(t.rest, ready_hands(side, rng))
        plan.pelvis_turn_deg.key(t.plant + 0.1, 0.0)
        plan.chest_turn_deg.key(t.plant + 0.1, 0.0)
        turns = Turns(
            pelvis_wound=rng.uniform(8, 18),
            pelvis_after=rng.uniform(12, 22),
            chest_wound=rng.uniform(26, 42),
            chest_after=rng.uniform(28, 42),
            chest_dps=rng.uniform(230, 330) * t.pace,
        )
        key_turns(plan, s, turns, t.cock, t.out)
        plan.pelvis_turn_deg.key(t.stop, s * turns.pelvis_after).key(t.rest, 0.0)
        plan.chest_turn_deg.key(t.stop, s * turns.chest_after).key(t.rest, 0.0)
        gaze, lean = plan.gaze_turn_deg, plan.lean_deg
        gaze.key(t.plant, 0.0).key(t.plant + 0.25, s * 45).key(t.first, s * 25)
        gaze.key(t.stop, s * 20).key(t.rest, 0.0)
        lean.key(t.go, (5.0, 0.0)).key(t.plant, (4.0, 0.0)).key(t.first, (5.0, 0.0))
        lean.key(t.cock, (-2.0, 0.0)).key(t.out, (7.0, s * 4.0)).key(t.stop, (10.0, s * 4.0))
        lean.key(t.rest, (4.0, 0.0))
        plan.height.key(t.out, 0.94).key(t.rest, 0.95)


def choreograph(order: Order) -> Choreography:
    """Return the plan of a row of pivot throwbacks along one running line."""
    passes = _Passes(order)
    reps: list[RepWindow] = []
    next_s = 0.0
    for index in range(order.n_reps):
        rep, still = passes.add(index, next_s)
        reps.append(rep)
        next_s = still + passes.rng.uniform(0.05, 0.5)
    return Choreography(athlete=passes.plan, defender=None, reps=reps, duration_s=next_s + 0.3)
