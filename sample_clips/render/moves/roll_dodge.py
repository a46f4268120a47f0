"""The roll dodge: plant, turn the back to the defender about that foot, roll off; also twice."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..tracks import Facing, Floats, Pivot
from .common import Choreography, Order, RepWindow, direction, hands
from .dodging import Row
from .guarding import Guard
from .stepping import FOOT_OF, OTHER, Run


@dataclass(slots=True)
class _Roll:
    """One turn about one foot: when, where and how the run comes in, and how it goes out."""

    cut: float
    at: Floats
    yaw: float
    come_mps: float
    spin: float
    turn: float
    over_s: float
    leave_mps: float

    @property
    def foot(self) -> str:
        return FOOT_OF[-self.spin]

    @property
    def out(self) -> float:
        return self.yaw + self.turn


class _Rolls(Row):
    def __init__(self, order: Order) -> None:
        super().__init__(order)
        rng = self.rng
        self.away = bool(rng.random() < 0.2)
        """Whether the turn is away from the stick side: the rarer way."""
        self.gap_m = rng.uniform(4.4, 5.4)
        self.guard = self.place + direction(self.yaw) * self.gap_m
        self.defender = Guard(order, rng, self.guard, self.plan.path_m) if order.defended else None

    def add(self, index: int, start_s: float) -> tuple[RepWindow, float]:
        rng, order = self.rng, self.order
        size = order.sizes[index % len(order.sizes)] if order.sizes else rng.uniform(262, 345)
        spin = self.stick * (-1.0 if self.away else 1.0)
        run, length = self.begin(start_s, length_m=(2.8, 4.2))
        if self.defender:
            length = self.gap_m - rng.uniform(1.15, 1.7)
        cut_mps = run.run_mps * rng.uniform(0.40, 0.58)
        self.run_in(run, length, cut_mps, rng.uniform(0.45, 0.6))
        double = rng.random() < 0.28
        first = _Roll(
            cut=run.cut,
            at=run.at_cut,
            yaw=run.yaw,
            come_mps=cut_mps,
            spin=spin,
            turn=spin * float(np.deg2rad(size)),
            over_s=rng.uniform(0.60, 0.92) / self.pace,
            leave_mps=run.run_mps * (rng.uniform(0.5, 0.6) if double else rng.uniform(0.62, 0.8)),
        )
        self.steps_in(run, first.foot)
        self.carry_until(run, run.cut - 0.2)
        slip = rng.uniform(0.0, 0.16)
        when, at, landed = self._turn(run, first, slip)
        rolls, last = [first], first
        if double:
            last = self._second(run, first, when, at, landed)
            when, at, landed = self._turn(run, last, rng.uniform(0.0, 0.10))
            rolls.append(last)
        leave = direction(last.out)
        exit_mps = run.run_mps * rng.uniform(0.9, 1.08)
        come = leave * last.leave_mps
        self.plan.facing.append(Facing(when + 0.1, None))
        when, at = self.bend(when, at, come, leave * exit_mps, rng.uniform(0.3, 0.45), 1.0)
        end = self.run_out(run, when, at, leave * exit_mps, rng.uniform(0.4, 1.2))
        self._upper_body(run, rolls)
        still = self.go_home(run, end, last.foot, landed)
        self.carry_home(run, when + 0.25, still)
        if self.defender:
            side = run.left * spin
            bite = run.ahead * rng.uniform(0.15, 0.5) + side * rng.uniform(0.1, 0.5)
            follow = run.ahead * rng.uniform(0.0, 0.5) - side * rng.uniform(0.0, 0.4)
            self.defender.answer(run.go, run.cut, still, bite, follow)
        window = RepWindow(
            start_s=start_s,
            stop_s=run.done,
            burst_s=(run.cut - 0.4, run.done),
            run_yaw_rad=run.yaw,
            plant_s=run.cut,
            stick_hand=self.side,
            pivot_foot=first.foot,
            turns_s=tuple((r.cut, r.cut + r.over_s) for r in rolls),
        )
        return window, still

    def _second(self, run: Run, first: _Roll, when: float, at: Floats, landed: float) -> _Roll:
        """Return the roll back the other way, about the foot that lands next."""
        rng = self.rng
        cut = max(landed + rng.uniform(0.26, 0.34), when + 0.12)
        ahead = direction(first.out)
        place = at + ahead * first.leave_mps * (cut - when) * 0.95
        come_mps = first.leave_mps * 0.9
        self.plan.path_m.key(cut, place, ahead * come_mps)
        self.plan.facing.append(Facing(when + 0.05, first.out, over_s=0.1))
        return _Roll(
            cut=cut,
            at=place,
            yaw=first.out,
            come_mps=come_mps,
            spin=-first.spin,
            turn=-first.spin * float(np.deg2rad(rng.uniform(270, 345))),
            over_s=first.over_s * rng.uniform(0.9, 1.1),
            leave_mps=run.run_mps * rng.uniform(0.6, 0.75),
        )

    def _turn(self, run: Run, roll: _Roll, slip_m: float) -> tuple[float, Floats, float]:
        """Write path, heading and feet of one turn; return its end, place, last landing."""
        rng, size = self.rng, self.scale
        ahead, over = direction(roll.yaw), roll.over_s
        side = direction(roll.yaw - roll.spin * np.pi / 2)
        leave = direction(roll.out)
        foot_at = roll.at + ahead * rng.uniform(0.22, 0.28) * size + side * 0.05
        slide = (ahead * rng.uniform(0.5, 1.0) + side * rng.uniform(-0.5, 0.5)) * slip_m
        foot_end = foot_at + slide
        middle = foot_end + side * 0.20 * size - ahead * 0.02
        self.plan.path_m.key(
            roll.cut + 0.45 * over, middle, side * 0.75 * roll.leave_mps * 0.6 + ahead * 0.25
        )
        end = foot_end + leave * 0.44 * size + side * 0.12 * size
        self.plan.path_m.key(roll.cut + over, end, leave * roll.leave_mps)
        self.plan.facing.append(
            Facing(roll.cut - 0.03, None, over_s=over + 0.03, turn_rad=roll.turn)
        )
        swing = OTHER[roll.foot]
        tap, next_land = roll.cut + 0.52 * over, roll.cut + 0.98 * over
        toe_in = roll.spin * rng.uniform(0.2, 0.5)
        pivot = Pivot(
            turn_rad=roll.turn * 0.56 - toe_in,
            start_s=roll.cut + 0.04,
            stop_s=tap + 0.05,
            slide_m=(float(slide[0]), float(slide[1])),
        )
        self.land(roll.cut, roll.foot, foot_at, roll.yaw + toe_in, 1.25 * run.period, pivot)
        spot = foot_end + side * 0.36 * size + ahead * rng.uniform(-0.05, 0.06)
        second = Pivot(turn_rad=roll.turn * 0.32, start_s=tap + 0.04, stop_s=next_land + 0.08)
        self.land(
            tap, swing, spot, roll.yaw + roll.turn * 0.58, min(0.42, 0.5 * over + 0.1), second
        )
        step = foot_end + leave * 0.72 * size + side * 0.10 * size
        self.land(next_land, roll.foot, step, roll.out, 0.36 * over)
        return roll.cut + over, end, next_land

    def _upper_body(self, run: Run, rolls: list[_Roll]) -> None:
        """Stick upright and tight to the body through the turns; the head looks round first."""
        rng, plan = self.rng, self.plan
        tight = hands(
            self.side,
            (0.13, rng.uniform(0.04, 0.12), 0.76 + rng.uniform(-0.03, 0.04)),
            (0.13, 0.01, 0.57),
        )
        plan.height.key(run.start, self.stand_height).key(run.go + 0.4, 0.94)
        plan.height.key(run.cut - 0.18, 0.915)
        plan.lean_deg.key(run.go, (8.0, 0.0)).key(run.cut - 0.2, (6.0, 0.0))
        for roll in rolls:
            cut, over, spin = roll.cut, roll.over_s, roll.spin
            plan.hands.key(cut + 0.1, tight).key(cut + over, tight)
            plan.height.key(cut + 0.12, rng.uniform(0.84, 0.88)).key(cut + 0.8 * over, 0.89)
            plan.gaze_turn_deg.key(cut, 0.0).key(cut + 0.5 * over, spin * rng.uniform(20, 50))
            plan.gaze_turn_deg.key(cut + over, 0.0)
            chest = rng.uniform(-6, 14) * spin
            plan.chest_turn_deg.key(cut, -0.5 * chest).key(cut + 0.45 * over, chest)
            plan.chest_turn_deg.key(cut + over, 0.0)
            plan.lean_deg.key(cut + 0.1, (7.0, 0.0)).key(cut + 0.6 * over, (10.0, 0.0))
            plan.lean_deg.key(cut + over + 0.2, (12.0, 0.0))
        plan.height.key(run.done, 0.94).key(self.rest, 0.95)


def choreograph(order: Order) -> Choreography:
    """Return the plans of a row of roll dodges, some of them double."""
    return _Rolls(order).row()
