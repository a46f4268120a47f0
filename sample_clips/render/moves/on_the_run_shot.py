"""The shot on the run: hips turned to the goal while the feet go on, then out and back home."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..tracks import Facing, Floats, Walk
from .common import (
    Choreography,
    Order,
    RepWindow,
    along_points,
    direction,
    hands,
    of_rep,
    ready_hands,
    run_hands,
)
from .throwing import (
    Turns,
    draw_throw,
    key_throw,
    key_turns,
    sign_of,
    standing_plan,
)
from .travelling import steps_on, swing_stick


@dataclass(slots=True)
class _Rep:
    """One rep: pace, speed of the run, direction of the shot against it, instants in s."""

    start: float
    pace: float
    run_mps: float
    period: float
    aside: float
    bend: float
    go: float
    cock: float = 0.0
    out: float = 0.0
    stop: float = 0.0
    slow: float = 0.0
    home: float = 0.0
    still: float = 0.0


class _Shots:
    """Writes a row of shots along one running line into a plan, rep after rep."""

    def __init__(self, order: Order) -> None:
        self.order, self.rng = order, np.random.default_rng(order.seed)
        self.side, self.sign = order.stick_hand, sign_of(order.stick_hand)
        self.scale = (order.stature_m / 1.8) ** 0.5
        self.run_yaw = float(np.deg2rad(order.yaw_deg))
        self.place = np.asarray(order.place_m, dtype=float)
        self.plan = standing_plan(order, self.run_yaw, self.rng, lean_deg=6.0)

    def add(self, index: int, start_s: float) -> tuple[RepWindow, float]:
        """Write one rep that begins with a pause; return it and when the player stands again."""
        rng, order = self.rng, self.order
        pace = order.speed * rng.uniform(0.90, 1.10)
        speed = order.sizes[index % len(order.sizes)] if order.sizes else rng.uniform(3.0, 4.6)
        rep = _Rep(
            start=start_s,
            pace=pace,
            run_mps=speed * order.speed * self.scale,
            period=0.30 * self.scale / pace**0.3,
            aside=self.sign * float(np.deg2rad(rng.uniform(30, 72))),
            bend=self.sign * float(np.deg2rad(rng.uniform(-6, 26))),
            go=start_s + rng.uniform(0.5, 0.9),
        )
        spot, course = self._run(rep, of_rep(order.delays_s, index))
        self._shoot(rep)
        self._home(rep, spot, course)
        window = RepWindow(
            start_s=start_s,
            stop_s=rep.slow,
            burst_s=(rep.cock, rep.stop),
            run_yaw_rad=self.run_yaw + rep.bend,
        )
        return window, rep.still

    def _run(self, rep: _Rep, delay_s: float) -> tuple[Floats, float]:
        """Speed up, bend a little towards the goal, shoot running; return where the slowing ends.

        The heading there is returned as well.
        """
        rng, path, v = self.rng, self.plan.path_m, rep.run_mps
        out = direction(self.run_yaw)
        fast = rep.go + 0.70
        at = self.place + out * 0.35 * v
        path.key(rep.go, self.place).key(fast, at, out * v)
        straight = rng.uniform(0.05, 0.5) + delay_s
        at = at + out * v * straight
        path.key(fast + straight, at, out * v)
        then = direction(self.run_yaw + rep.bend)
        # The shot falls into the run after the bend.
        at = at + (out + then) / 2 * v * 0.35
        path.key(fast + straight + 0.35, at, then * v)
        rep.cock = fast + straight + rng.uniform(0.25, 0.40)
        keep = rng.uniform(0.70, 0.95)
        release = rep.cock + 0.20
        span = release + 0.12 - (fast + straight + 0.35)
        at = at + then * v * (1 + keep) / 2 * span
        path.key(release + 0.12, at, then * v * keep)
        rep.slow = release + 0.12 + rng.uniform(0.75, 1.1)
        end = rep.bend + self.sign * float(np.deg2rad(rng.uniform(-25, 15)))
        slow_to = direction(self.run_yaw + end)
        at = at + (then * v * keep + slow_to * 1.3) / 2 * (rep.slow - release - 0.12) * 0.92
        path.key(rep.slow, at, slow_to * 1.3)
        return at, self.run_yaw + end

    def _shoot(self, rep: _Rep) -> None:
        rng, plan, side, s = self.rng, self.plan, self.side, self.sign
        carry = ready_hands(side, rng)
        plan.hands.key(rep.start, carry)
        run_hands(plan, side, rep.go, rep.cock - 0.45, rep.period, carry)
        form = str(rng.choice(["overhand", "three_quarter", "sidearm"]))
        throw = draw_throw(self.order, rng, form, speed_mps=rng.uniform(8.0, 9.4) * rep.pace)
        raised = rng.uniform(0.76, 0.88)
        half_way = hands(side, (0.04, 0.24, raised), (0.16, 0.08, raised - 0.14))
        if rng.random() < 0.6:
            plan.hands.key(rep.cock - 0.18, half_way)
        rep.stop = rep.cock + throw.duration_s + rng.uniform(0.16, 0.24)
        rep.out = key_throw(plan, throw, rep.cock, rep.stop, self.order.stature_m, 0.75 * rep.aside)
        plan.hands.key(rep.stop + rng.uniform(0.3, 0.5), carry)
        # Hips turned towards the goal although the feet run on.
        facing = float(np.rad2deg(abs(rep.aside)))
        early = rep.cock - 0.30
        plan.pelvis_turn_deg.key(early, 0.0)
        plan.chest_turn_deg.key(early, 0.0)
        turns = Turns(
            pelvis_wound=rng.uniform(0, 10),
            pelvis_after=facing * rng.uniform(0.70, 0.85),
            chest_wound=rng.uniform(12, 30),
            chest_after=facing + rng.uniform(8, 26),
            chest_dps=rng.uniform(360, 480) * rep.pace,
        )
        key_turns(plan, s, turns, rep.cock, rep.out)
        plan.pelvis_turn_deg.key(rep.stop, s * turns.pelvis_after).key(rep.slow, 0.0)
        plan.chest_turn_deg.key(rep.stop, s * turns.chest_after).key(rep.slow, 0.0)
        gaze, lean, height = plan.gaze_turn_deg, plan.lean_deg, plan.height
        gaze.key(rep.go + 0.2, 0.0).key(early, s * facing * 0.8).key(rep.stop, s * facing * 0.8)
        gaze.key(rep.slow, 0.0)
        lean.key(rep.go, (6.0, 0.0)).key(early, (4.0, 0.0)).key(rep.cock, (1.0, -s * 4.0))
        lean.key(rep.out, (8.0, s * 8.0)).key(rep.stop, (10.0, s * 8.0)).key(rep.slow, (4.0, 0.0))
        height.key(rep.start, 0.955).key(rep.go + 0.4, 0.945).key(rep.cock, 0.945)
        height.key(rep.out, 0.94).key(rep.slow, 0.945)

    def _home(self, rep: _Rep, spot: Floats, course: float) -> None:
        """Loop round to one side, go home walking or jogging, turn round and stand."""
        rng, plan, place = self.rng, self.plan, self.place
        jog = (rng.uniform(2.4, 3.2) if rng.random() < 0.7 else rng.uniform(1.3, 1.6)) * self.scale
        turn = self.sign * (1.0 if rng.random() < 0.5 else -1.0)
        out, aside = direction(course), direction(course + turn * np.pi / 2)
        home_way = place - spot
        loop = [
            spot,
            spot + out * 0.50 + aside * 0.35,
            spot + out * 0.35 + aside * 1.00,
            spot + 0.3 * home_way + aside * 1.05,
            place - 0.25 * home_way + aside * 0.5,
            place,
        ]
        speeds = [1.3, 1.3, 0.8 * jog, jog, 0.75 * jog, 0.0]
        rep.home = along_points(plan.path_m, rep.slow, loop, speeds)
        rep.still = rep.home + 0.55
        plan.facing.append(Facing(rep.go + 0.25, None))
        plan.facing.append(Facing(rep.home - 0.4, self.run_yaw, over_s=0.6))
        last = self.side
        plan.steps.append(
            Walk(
                start_s=rep.go - 0.1,
                stop_s=rep.slow - 0.1,
                period_s=rep.period * 1.05,
                last_foot=last,
            )
        )
        period = (0.36 if jog > 1.8 * self.scale else 0.48) * self.scale
        steps_on(plan, rep.slow - 0.1, last, rep.still, period, 0.08)
        carry = ready_hands(self.side, rng)
        swing_stick(plan, self.side, rng, rep.slow + 0.9, rep.home - 0.4, carry)
        plan.hands.key(rep.still, carry)
        plan.height.key(rep.still, 0.955)
        plan.lean_deg.key(rep.still, (6.0, 0.0))


def choreograph(order: Order) -> Choreography:
    """Return the plan of a row of shots on the run along one line."""
    shots = _Shots(order)
    reps: list[RepWindow] = []
    next_s = 0.0
    for index in range(order.n_reps):
        rep, still = shots.add(index, next_s)
        reps.append(rep)
        next_s = still + shots.rng.uniform(0.1, 0.6)
    return Choreography(athlete=shots.plan, defender=None, reps=reps, duration_s=next_s + 0.3)
