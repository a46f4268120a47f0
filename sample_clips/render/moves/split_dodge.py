"""The split dodge: a wide jab step to the stick side, hands changed, drive to the other side."""

from __future__ import annotations

import numpy as np

from .common import Choreography, Order, RepWindow, direction
from .dodging import Row
from .guarding import Guard
from .stepping import FOOT_OF, Run


class _Splits(Row):
    def __init__(self, order: Order) -> None:
        super().__init__(order)
        rng = self.rng
        self.changes_back = bool(rng.random() < 0.5)
        """Whether the stick goes back to its first hand on the way home."""
        self.gap_m = rng.uniform(4.6, 5.6)
        self.guard = self.place + direction(self.yaw) * self.gap_m
        self.defender = Guard(order, rng, self.guard, self.plan.path_m) if order.defended else None

    def add(self, index: int, start_s: float) -> tuple[RepWindow, float]:
        rng, order, plan = self.rng, self.order, self.plan
        size = order.sizes[index % len(order.sizes)] if order.sizes else rng.uniform(0.17, 0.36)
        side, first_side = self.stick, self.side
        run, length = self.begin(start_s)
        if self.defender:
            length = self.gap_m - rng.uniform(1.25, 2.2)
        cut_mps = run.run_mps * rng.uniform(0.45, 0.75)
        veer = self.run_in(
            run, length, cut_mps, rng.uniform(0.38, 0.6), side * rng.uniform(0.03, 0.14)
        )
        plant = FOOT_OF[side]
        self.steps_in(run, plant)
        spot = run.at_cut + run.ahead * rng.uniform(0.10, 0.24) * self.scale
        spot = spot + run.left * side * size * order.stature_m
        self.land(run.cut, plant, spot, run.yaw - side * rng.uniform(0.1, 0.4), 1.25 * run.period)

        turn = -side * np.deg2rad(rng.uniform(42, 88))
        leave = direction(run.yaw + turn)
        exit_mps = run.run_mps * rng.uniform(0.85, 1.08)
        come = direction(run.yaw + veer) * cut_mps
        over_s = rng.uniform(0.24, 0.36)
        share = rng.uniform(0.72, 0.92)
        when, at = self.bend(
            run.cut + 0.03, run.at_cut + come * 0.03, come, leave * exit_mps * 0.7, over_s, share
        )
        when, at = self.bend(
            when, at, leave * exit_mps * 0.7, leave * exit_mps, rng.uniform(0.3, 0.45), 1.0
        )
        end = self.run_out(run, when, at, leave * exit_mps, rng.uniform(0.5, 1.6))
        change = self._sell_and_change(run, side)
        self.low(run, rng.uniform(0.82, 0.88), when)
        still = self.go_home(run, end, plant, run.cut)
        self._stick_home(run, max(change[1] + 0.3, when), still)
        if self.defender:
            bite = run.ahead * rng.uniform(0.0, 0.4) + run.left * side * rng.uniform(0.15, 0.6)
            follow = run.ahead * rng.uniform(0.1, 0.5) - run.left * side * rng.uniform(0.0, 0.5)
            self.defender.answer(run.go, run.cut, still, bite, follow)
        plan.gaze_turn_deg.key(run.go, 0.0)
        window = RepWindow(
            start_s=start_s,
            stop_s=run.done,
            burst_s=(run.cut - 0.4, run.done),
            run_yaw_rad=run.yaw,
            plant_s=run.cut,
            stick_hand=first_side,
            change_s=change,
        )
        return window, still

    def _sell_and_change(self, run: Run, side: float) -> tuple[float, float]:
        """Carry the stick, lean into the jab, change hands; return when the change begins, ends."""
        rng, plan, cut = self.rng, self.plan, run.cut
        self.carry_until(run, cut - 0.3)
        sold = rng.uniform(4, 16) * side
        plan.chest_turn_deg.key(cut - 0.25, 0.0).key(cut, sold).key(cut + 0.28, -0.8 * sold)
        plan.chest_turn_deg.key(cut + 0.6, 0.0)
        plan.pelvis_turn_deg.key(cut - 0.2, 0.0).key(cut, 0.5 * sold).key(cut + 0.3, 0.0)
        plan.gaze_turn_deg.key(cut - 0.3, 0.0).key(cut, side * rng.uniform(0, 22))
        plan.gaze_turn_deg.key(cut + 0.35, 0.0)
        plan.lean_deg.key(run.go, (8.0, 0.0)).key(cut - 0.2, (10.0, 0.0))
        plan.lean_deg.key(cut, (13.0, side * rng.uniform(2, 8))).key(cut + 0.4, (12.0, 0.0))
        start = cut + rng.uniform(-0.12, 0.12)
        stop = start + rng.uniform(0.26, 0.50) / self.pace
        self.change_hands(start, stop, forward=rng.uniform(0.22, 0.32))
        return start, stop

    def _stick_home(self, run: Run, from_s: float, still: float) -> None:
        if not self.changes_back:
            self.carry_home(run, from_s, still)
            return
        begin = max(from_s + 0.3, self.rest + 0.3)
        self.plan.hands.key(from_s, self.carry)
        self.change_hands(begin, begin + self.rng.uniform(0.4, 0.7))
        self.plan.hands.key(still, self.carry)


def choreograph(order: Order) -> Choreography:
    """Return the plans of a row of split dodges; the next one may start from the new hand."""
    return _Splits(order).row()
