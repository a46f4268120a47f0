"""What the rows of dodges share: run-in, run-out, way home, steps, carried stick, defender."""

from __future__ import annotations

from abc import ABC, abstractmethod

import numpy as np

from ..tracks import Facing, Floats, HandChange, Plan
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
from .guarding import Guard
from .stepping import OTHER, Run, Stepper


class Row(Stepper, ABC):
    """Writes a row of dodges into the plan of an attacker, and of a defender where there is one.

    A rep is written by `begin`, the dodge's own keys of path, steps and hands, then `run_out` and
    `go_home`.
    """

    def __init__(self, order: Order) -> None:
        self.order, self.rng = order, np.random.default_rng(order.seed)
        rng = self.rng
        self.side = order.stick_hand
        self.scale = order.stature_m / 1.8
        self.root_scale = self.scale**0.5
        self.pace = order.speed * rng.uniform(0.85, 1.08)
        self.yaw = float(np.deg2rad(order.yaw_deg))
        self.place = np.asarray(order.place_m, dtype=float)
        self.walks_home = bool(rng.random() < 0.35)
        self.turns_round = not order.defended and bool(rng.random() < 0.35)
        """Whether every rep starts where the one before ended, the other way."""
        self.stand_height = float(rng.uniform(0.94, 0.97))
        self.carry = self._draw_carry()
        self.defender: Guard | None = None
        self.guard = self.place
        self.rest = 0.0
        """When the run-out of the rep has come to a stop."""
        self.plan = plan = Plan(top_side=self.side, stance_m=0.105 * order.stature_m)
        plan.facing.append(Facing(0.0, self.yaw))
        plan.path_m.key(0.0, self.place)
        plan.height.key(0.0, self.stand_height)
        plan.hands.key(0.0, self.carry)
        for track in (plan.chest_turn_deg, plan.pelvis_turn_deg, plan.gaze_turn_deg):
            track.key(0.0, 0.0)
        plan.lean_deg.key(0.0, (6.0, 0.0))

    @property
    def stick(self) -> float:
        """Side of the stick: +1 left, -1 right."""
        return 1.0 if self.side == "left" else -1.0

    def _draw_carry(self) -> Floats:
        """Draw how the stick is carried: upright at the shoulder, across, or low."""
        rng = self.rng
        kind = rng.integers(3)
        if kind == 0:
            return ready_hands(self.side, rng)
        d = rng.uniform(-0.02, 0.02, 3)
        if kind == 1:
            return hands(self.side, (0.14 + d[0], 0.17, 0.76 + d[1]), (0.16, 0.06 + d[2], 0.57))
        return hands(self.side, (0.25 + d[0], 0.10, 0.64 + d[1]), (0.15, -0.04 + d[2], 0.50))

    # Running and walking -------------------------------------------------------------------

    def begin(
        self, start_s: float, *, mps: float = 3.9, length_m: tuple[float, float] = (3.0, 4.6)
    ) -> tuple[Run, float]:
        """Stand for a moment; return the run to come and how long (m) its run-in is."""
        rng = self.rng
        pace = self.pace * rng.uniform(0.93, 1.07)
        run = Run(
            start=start_s,
            go=start_s + rng.uniform(0.4, 0.75),
            yaw=self.yaw,
            place=self.place.copy(),
            run_mps=mps * pace * self.root_scale,
            period=0.30 * self.root_scale / pace**0.3,
        )
        self.plan.path_m.key(run.go, run.place)
        self.plan.facing.append(Facing(run.go + 0.25, None))
        return run, rng.uniform(*length_m) * self.root_scale

    def run_in(
        self, run: Run, length_m: float, cut_mps: float, slowing_s: float, veer_m: float = 0.0
    ) -> float:
        """Run straight, slow down to the cut, ``veer_m`` to the left of the line; set ``cut``.

        Returns the angle of the path at the cut against the run, radians to the left.
        """
        path, u, v = self.plan.path_m, run.ahead, run.run_mps
        speed_up_s = 0.75
        speed_up_m = v * speed_up_s / 2
        slowing_m = (v + cut_mps) / 2 * slowing_s
        even_m = max(length_m - speed_up_m - slowing_m, 0.25 * v)
        fast = run.go + speed_up_s
        path.key(fast, run.place + u * speed_up_m, u * v)
        slow = fast + even_m / v
        path.key(slow, run.place + u * (speed_up_m + even_m), u * v)
        run.cut = slow + slowing_s
        run.at_cut = run.place + u * (speed_up_m + even_m + slowing_m) + run.left * veer_m
        veer = float(np.arctan2(2.2 * veer_m, slowing_m))
        path.key(run.cut, run.at_cut, direction(run.yaw + veer) * cut_mps)
        return veer

    def bend(
        self, when: float, at: Floats, come: Floats, leave: Floats, over_s: float, share: float
    ) -> tuple[float, Floats]:
        """Turn the velocity from ``come`` to ``leave``; return when and where that is done.

        ``share`` of the way is that of the straight mean: under 1 the body brakes in between.
        """
        end = at + (come + leave) / 2 * over_s * share
        self.plan.path_m.key(when + over_s, end, leave)
        return when + over_s, end

    def run_out(self, run: Run, when: float, at: Floats, velocity: Floats, far_m: float) -> Floats:
        """Run on for ``far_m`` at speed, then slow to a stop; set ``done``, return the place."""
        path, v = self.plan.path_m, float(np.linalg.norm(velocity))
        ahead = velocity / v
        run.done = when + far_m / v
        path.key(run.done, at + ahead * far_m, velocity)
        brake_s = self.rng.uniform(0.45, 0.75)
        stop_m = 0.5 * v * brake_s
        path.key(run.done + brake_s, at + ahead * (far_m + stop_m))
        place: Floats = at + ahead * (far_m + stop_m)
        self.rest = run.done + brake_s
        return place

    def go_home(self, run: Run, end: Floats, foot: str, after_s: float) -> float:
        """Stop, turn round and jog or walk to where the next rep starts; return when still.

        ``foot`` landed last, at ``after_s``.
        """
        rng, plan = self.rng, self.plan
        rest = self.rest
        run_period = run.period * 1.02
        foot = self.steps_on(after_s, foot, rest + 0.30, run_period)
        if self.turns_round:
            self.yaw = float(np.arctan2(*(run.place - end)[::-1]))
            self.place = end
            plan.facing.append(Facing(rest + 0.3, self.yaw, over_s=0.75))
            still = rest + 1.15
            self.steps_on(rest + 0.30, foot, still, 0.40)
        else:
            still = self._way_home(run, end, foot, rest)
        for track in (plan.chest_turn_deg, plan.pelvis_turn_deg, plan.gaze_turn_deg):
            track.key(still, 0.0)
        plan.height.key(still, self.stand_height)
        plan.lean_deg.key(still, (6.0, 0.0))
        return still + rng.uniform(0.0, 0.3)

    def _way_home(self, run: Run, end: Floats, foot: str, rest: float) -> float:
        rng, plan, place = self.rng, self.plan, run.place
        leave = rest + rng.uniform(0.35, 0.7)
        way = place - end
        mps = rng.uniform(1.2, 1.6) if self.walks_home else rng.uniform(2.2, 3.3)
        middle = (place + end) / 2 + self._aside(place, end)
        speed = min(mps * self.root_scale, float(np.linalg.norm(way)) / 1.0)
        points = [end, (end + middle) / 2, middle, (place + middle) / 2, place]
        plan.path_m.key(leave, end)
        home = along_points(plan.path_m, leave, points, [speed, speed, speed, 0.0])
        first = middle - end
        plan.facing.append(Facing(leave - 0.3, float(np.arctan2(first[1], first[0])), over_s=0.65))
        plan.facing.append(Facing(leave + 0.7, None))
        plan.facing.append(Facing(home - 0.25, self.yaw, over_s=0.7))
        still = home + 0.65
        period = (0.46 if self.walks_home else 0.35) * self.root_scale
        self.steps_on(rest + 0.30, foot, still, period)
        return still

    def _aside(self, place: Floats, end: Floats) -> Floats:
        """Bow of the way home, away from the defender if there is one."""
        way = end - place
        left = np.array([-way[1], way[0]]) / max(float(np.linalg.norm(way)), 0.1)
        if not self.order.defended:
            return left * self.rng.uniform(-0.4, 0.4)
        guard = self.guard - place
        offset = float(guard @ left)
        bow: Floats = left * (-np.sign(offset) if offset else 1.0) * max(0.0, 1.9 - abs(offset))
        return bow

    # Stick ---------------------------------------------------------------------------------

    def carry_until(self, run: Run, stop_s: float) -> None:
        """Stand, then run with the stick swinging along until ``stop_s``."""
        self.plan.hands.key(run.start, self.carry).key(run.go, self.carry)
        run_hands(self.plan, self.side, run.go + 0.1, stop_s, run.period, self.carry)

    def carry_home(self, run: Run, from_s: float, still: float) -> None:
        """Carry the stick from the burst until the next rep, now and then with a swing of it."""
        rng, plan = self.rng, self.plan
        self.carry = self._draw_carry()
        stop = max(from_s + 0.2, self.rest + 0.2)
        run_hands(plan, self.side, from_s, stop, run.period, self.carry)
        plan.hands.key(stop + 0.3, self.carry)
        plan.chest_turn_deg.key(stop + 0.3, 0.0)
        room = still - stop - 0.6
        if room > 1.2 and rng.random() < 0.4:
            when = stop + 0.4 + rng.uniform(0, room - 1.0)
            swung = hands(self.side, (0.20, -0.12, 0.64), (0.14, -0.10, 0.50))
            quick = rng.uniform(0.16, 0.26)
            plan.hands.key(when, self.carry).key(when + quick, swung)
            plan.hands.key(when + 2.2 * quick, self.carry)
        plan.hands.key(still, self.carry)

    def change_hands(self, start_s: float, stop_s: float, forward: float = 0.25) -> None:
        """Let the hands change places in front of the body; the stick crosses with them."""
        rng, plan = self.rng, self.plan
        up = rng.uniform(-0.02, 0.04)
        middle = (start_s + stop_s) / 2
        across = hands(self.side, (forward, 0.0, 0.70 + up), (0.20, 0.0, 0.52 + up))
        plan.hands.key(start_s, hands(self.side, (0.20, 0.10, 0.71), (0.19, -0.03, 0.54)))
        plan.hand_changes.append(HandChange(start_s=start_s, stop_s=stop_s))
        speed = np.zeros(6)
        speed[1] = -self.stick * 0.20 / (stop_s - start_s)
        plan.hands.key(middle, across, speed)
        self.side = OTHER[self.side]
        plan.hands.key(stop_s, hands(self.side, (0.20, 0.12, 0.72), (0.19, -0.02, 0.55)))
        self.carry = self._draw_carry()
        plan.hands.key(stop_s + 0.25, self.carry)

    def low(self, run: Run, deep: float, out_s: float) -> None:
        """Sink into the cut and come up by ``out_s``."""
        height, cut = self.plan.height, run.cut
        height.key(run.start, self.stand_height).key(run.go + 0.4, 0.94).key(cut - 0.18, 0.915)
        height.key(cut + 0.12, deep).key(out_s, 0.93).key(self.rest, 0.95)

    # The whole row --------------------------------------------------------------------------

    @abstractmethod
    def add(self, index: int, start_s: float) -> tuple[RepWindow, float]:
        """Write one rep; return it and when the attacker stands again."""

    def row(self) -> Choreography:
        """Write all reps of the order, one after the other."""
        reps: list[RepWindow] = []
        next_s = 0.0
        for index in range(self.order.n_reps):
            rep, next_s = self.add(index, next_s)
            reps.append(rep)
        return Choreography(
            athlete=self.plan,
            defender=self.defender.plan if self.defender else None,
            reps=reps,
            duration_s=next_s + 0.3,
        )
