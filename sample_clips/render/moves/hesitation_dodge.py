"""The hesitation dodge: slow down or stop for a moment, hands and head up, then accelerate away."""

from __future__ import annotations

import numpy as np

from ..tracks import Walk
from .common import Choreography, Order, RepWindow, direction, hands
from .dodging import Row
from .guarding import Guard
from .stepping import FOOT_OF, OTHER, Run


class _Hesitations(Row):
    def __init__(self, order: Order) -> None:
        super().__init__(order)
        rng = self.rng
        self.pass_side = self.stick * (-1.0 if order.flip else 1.0)
        self.gap_m = rng.uniform(4.2, 5.0)
        self.guard = self.place + direction(self.yaw) * self.gap_m
        self.defender = Guard(order, rng, self.guard, self.plan.path_m) if order.defended else None

    def add(self, index: int, start_s: float) -> tuple[RepWindow, float]:
        rng, order, path = self.rng, self.order, self.plan.path_m
        ratio = order.sizes[index % len(order.sizes)] if order.sizes else rng.uniform(0.04, 0.42)
        run, length = self.begin(start_s, length_m=(2.2, 3.2))
        if self.defender:
            length = self.gap_m - rng.uniform(1.7, 2.4)
        low_mps = ratio * run.run_mps
        slowing_s = rng.uniform(0.30, 0.42)
        self.run_in(run, length, low_mps, slowing_s)
        held = run.cut + rng.uniform(0.01, 0.22)
        at = run.at_cut + run.ahead * low_mps * (held - run.cut)
        path.key(held, at, run.ahead * low_mps)

        # Straight on, or round the defender.
        turn = np.deg2rad(rng.uniform(30, 42) if self.defender else rng.uniform(-12, 26))
        heading = run.yaw + self.pass_side * float(turn)
        leave = direction(heading)
        exit_mps = run.run_mps * rng.uniform(1.0, 1.22)
        speed_up_s = rng.uniform(0.40, 0.55)
        when, at = self.bend(
            held, at, run.ahead * low_mps, leave * exit_mps, speed_up_s, rng.uniform(0.92, 1.0)
        )
        end = self.run_out(run, when, at, leave * exit_mps, rng.uniform(0.9, 1.9))
        foot, landed = self._steps(run, slowing_s, held)
        self._fake(run, held, when)
        still = self.go_home(run, end, foot, landed)
        self.carry_home(run, when + 0.2, still)
        if self.defender:
            side = run.left * self.pass_side
            bite = run.ahead * rng.uniform(0.1, 0.6) - side * rng.uniform(0.0, 0.3)
            follow = run.ahead * rng.uniform(0.2, 0.6) + side * rng.uniform(0.0, 0.3)
            self.defender.answer(run.go, run.cut, still, bite, follow)
        window = RepWindow(
            start_s=start_s,
            stop_s=run.done,
            burst_s=(run.cut - slowing_s - 0.15, run.done),
            run_yaw_rad=run.yaw,
            stick_hand=self.side,
        )
        return window, still

    def _steps(self, run: Run, slowing_s: float, held: float) -> tuple[str, float]:
        """Plant once, or chop the feet through the hitch; return the last foot and its landing."""
        rng = self.rng
        foot = FOOT_OF[float(rng.choice([-1.0, 1.0]))]
        brake = run.cut - slowing_s + rng.uniform(0.0, 0.06)
        self.plan.steps.append(
            Walk(start_s=run.go - 0.1, stop_s=brake, period_s=run.period, last_foot=foot)
        )
        chop = rng.uniform(0.15, 0.21) if rng.random() < 0.6 else rng.uniform(0.26, 0.32)
        n_steps = max(1, round((held + 0.05 - brake) / chop))
        stop = brake + n_steps * chop
        last = OTHER[foot] if n_steps % 2 == 1 else foot
        self.plan.steps.append(
            Walk(
                start_s=brake + 0.5 * chop - 0.1,
                stop_s=stop,
                period_s=chop,
                last_foot=last,
                half_width_m=0.13 * self.order.stature_m,
                lift_m=0.05,
            )
        )
        return last, stop

    def _fake(self, run: Run, held: float, away_s: float) -> None:
        """Straighten up with the hands lifted as if to throw, or just stand tall; then go low."""
        rng, plan = self.rng, self.plan
        low, middle = run.cut - 0.22, (run.cut + held) / 2
        self.carry_until(run, low)
        kind = rng.integers(3)
        if kind == 0:
            lift = rng.uniform(0.05, 0.16)
            high = hands(self.side, (0.13, 0.12, 0.78 + lift), (0.17, 0.0, 0.60 + lift))
            plan.hands.key(middle, high)
        elif kind == 1:
            plan.hands.key(middle, self.carry + np.array([0.03, 0.0, 0.03, 0.03, 0.0, 0.02]))
        plan.hands.key(held + 0.22, self.carry)
        twist = rng.uniform(-14, 14)
        plan.chest_turn_deg.key(low, 0.0).key(middle, twist).key(held + 0.25, 0.0)
        plan.gaze_turn_deg.key(low, 0.0).key(middle, 1.6 * twist).key(held + 0.25, 0.0)
        tall = rng.uniform(0.94, 0.985) if rng.random() < 0.7 else rng.uniform(0.87, 0.92)
        height = plan.height
        height.key(run.start, self.stand_height).key(run.go + 0.4, 0.94).key(low, 0.925)
        height.key(middle, tall).key(held + 0.2, rng.uniform(0.87, 0.91)).key(away_s, 0.925)
        height.key(self.rest, 0.95)
        lean = plan.lean_deg
        lean.key(run.go, (9.0, 0.0)).key(low, (7.0, 0.0)).key(middle, (1.0, 0.0))
        lean.key(held + 0.2, (15.0, 0.0)).key(away_s, (9.0, 0.0))


def choreograph(order: Order) -> Choreography:
    """Return the plans of a row of hesitation dodges; ``flip`` passes away from the stick side."""
    return _Hesitations(order).row()
