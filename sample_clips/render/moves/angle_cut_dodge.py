"""The angle cut: run at an angle across the defender, then cut back hard with the same hands."""

from __future__ import annotations

import numpy as np

from ..tracks import Facing
from .common import Choreography, Order, RepWindow, direction, hands
from .dodging import Row
from .guarding import Guard
from .stepping import FOOT_OF, Run


class _Cuts(Row):
    def __init__(self, order: Order) -> None:
        super().__init__(order)
        rng = self.rng
        self.goal_side = self.stick * (-1.0 if order.flip else 1.0)
        """Side to which the cut turns, +1 left of the run."""
        self.alternates = not order.defended and bool(rng.random() < 0.4)
        self.length_m = rng.uniform(3.2, 4.4) * self.root_scale
        ahead, left = direction(self.yaw), direction(self.yaw + np.pi / 2)
        self.slide_m = rng.uniform(0.9, 1.5)
        out = self.goal_side * rng.uniform(1.3, 1.9)
        self.guard = self.place + ahead * (self.length_m + 0.9 - self.slide_m) + left * out
        self.defender = Guard(order, rng, self.guard, self.plan.path_m) if order.defended else None

    def add(self, index: int, start_s: float) -> tuple[RepWindow, float]:
        rng, order = self.rng, self.order
        size = order.sizes[index % len(order.sizes)] if order.sizes else rng.uniform(62, 122)
        side = self.goal_side
        run, length = self.begin(start_s)
        if self.defender:
            length = self.length_m + rng.uniform(-0.15, 0.15)
        cut_mps = run.run_mps * rng.uniform(0.32, 0.6)
        slowing_s = rng.uniform(0.42, 0.65)
        veer = self.run_in(run, length, cut_mps, slowing_s, -side * rng.uniform(0.0, 0.05))
        plant = FOOT_OF[-side]
        self.steps_in(run, plant)
        spot = run.at_cut + run.ahead * rng.uniform(0.22, 0.34) * self.scale
        spot = spot - run.left * side * rng.uniform(0.06, 0.20) * self.scale
        self.land(run.cut, plant, spot, run.yaw + side * rng.uniform(0.2, 0.6), 1.25 * run.period)

        heading = run.yaw + side * float(np.deg2rad(size))
        leave = direction(heading)
        exit_mps = run.run_mps * rng.uniform(0.85, 1.08)
        come = direction(run.yaw + veer) * cut_mps
        over_s = rng.uniform(0.28, 0.40)
        when, at = self.bend(
            run.cut + 0.03, run.at_cut + come * 0.03, come, leave * exit_mps * 0.65, over_s, 0.8
        )
        self.plan.facing.append(Facing(run.cut + 0.03, heading, over_s=over_s + 0.05))
        self.plan.facing.append(Facing(when + 0.08, None))
        when, at = self.bend(
            when, at, leave * exit_mps * 0.65, leave * exit_mps, rng.uniform(0.3, 0.45), 1.0
        )
        end = self.run_out(run, when, at, leave * exit_mps, rng.uniform(0.5, 1.5))
        self._protect(run, side, when)
        self.low(run, rng.uniform(0.81, 0.87), when)
        still = self.go_home(run, end, plant, run.cut)
        self.carry_home(run, when + 0.25, still)
        if self.defender:
            bite = run.ahead * self.slide_m * rng.uniform(0.9, 1.3)
            follow = run.left * side * rng.uniform(0.2, 0.8) - run.ahead * rng.uniform(0.0, 0.4)
            self.defender.answer(run.go, run.cut, still, bite, follow)
        if self.alternates:
            self.goal_side = -self.goal_side
        window = RepWindow(
            start_s=start_s,
            stop_s=run.done,
            burst_s=(run.cut - 0.4, run.done),
            run_yaw_rad=run.yaw,
            plant_s=run.cut,
            stick_hand=self.side,
        )
        return window, still

    def _protect(self, run: Run, side: float, away_s: float) -> None:
        """Carry the stick on the side away from the defender; pull it through the cut."""
        rng, plan, cut = self.rng, self.plan, run.cut
        self.carry_until(run, cut - 0.25)
        if rng.random() < 0.6:
            far = -0.04 if side == self.stick else 0.18
            shield = hands(self.side, (0.14, far, 0.73), (0.14, 0.04, 0.55))
            plan.hands.key(cut + 0.15, shield).key(away_s, shield)
        else:
            plan.hands.key(cut + 0.1, self.carry)
        chest = plan.chest_turn_deg
        chest.key(cut - 0.2, 0.0).key(cut, -side * rng.uniform(0, 12))
        chest.key(cut + 0.2, side * rng.uniform(4, 16)).key(away_s, 0.0)
        lean = plan.lean_deg
        lean.key(run.go, (9.0, 0.0)).key(cut - 0.25, (8.0, 0.0)).key(cut, (4.0, side * 6.0))
        lean.key(cut + 0.3, (15.0, side * 2.0)).key(away_s + 0.2, (9.0, 0.0))


def choreograph(order: Order) -> Choreography:
    """Return the plans of a row of angle cuts; ``flip`` turns them away from the stick side."""
    return _Cuts(order).row()
