"""The low-to-high shot: hands and head dipped low, lifted, then a shot from high or sidearm."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..tracks import Land, Plan
from .common import Choreography, Order, RepWindow, direction, hands, of_rep, ready_hands
from .throwing import (
    OTHER_FOOT,
    Throw,
    Turns,
    draw_throw,
    key_throw,
    key_turns,
    sign_of,
    standing_plan,
)


@dataclass(slots=True)
class _Times:
    """Instants of one rep, s: first move, lowest, end of the low hold, high, wound up, and on."""

    begin: float
    low: float
    rise: float
    high: float
    cock: float
    out: float = 0.0
    stop: float = 0.0
    back: float = 0.0


class _Shots:
    """Writes a row of shots from one spot into a plan, rep after rep."""

    def __init__(self, order: Order) -> None:
        self.order, self.rng = order, np.random.default_rng(order.seed)
        self.side, self.sign = order.stick_hand, sign_of(order.stick_hand)
        self.front = OTHER_FOOT[self.side]
        self.aim = float(np.deg2rad(order.yaw_deg))
        self.aside = float(np.deg2rad(self.rng.uniform(10, 38))) * self.sign
        self.stand = self.aim - self.aside
        self.place = np.asarray(order.place_m, dtype=float)
        self.plan: Plan = standing_plan(order, self.stand, self.rng)
        self.plan.gaze_turn_deg.key(0.0, float(np.rad2deg(self.aside)))

    def add(self, index: int, start_s: float) -> RepWindow:
        """Write one rep that begins with a pause at ``start_s``."""
        rng, order = self.rng, self.order
        low = order.sizes[index % len(order.sizes)] if order.sizes else rng.uniform(0.36, 0.52)
        pace = order.speed * rng.uniform(0.90, 1.10)
        begin = start_s + rng.uniform(0.6, 1.1)
        lowest = begin + rng.uniform(0.30, 0.50) / pace
        rise = lowest + rng.uniform(0.0, 0.20) + of_rep(order.delays_s, index)
        high = rise + rng.uniform(0.30, 0.46) / pace
        forms = ["overhand", "overhand", "three_quarter", "sidearm"]
        cock = high + rng.uniform(0.09, 0.20) / pace
        if rng.random() < 0.4:
            # Straight from the lift into the throw: the hands are never held high.
            forms, cock = forms[:3], high
        times = _Times(begin, lowest, rise, high, cock)
        form = str(rng.choice(forms))
        throw = draw_throw(order, rng, form, speed_mps=rng.uniform(8.2, 9.6) * pace)
        self._hands(times, low, throw)
        self._trunk(times, low, pace)
        self._feet(times)
        return RepWindow(
            start_s=start_s,
            stop_s=times.back,
            burst_s=(times.cock, times.stop),
            run_yaw_rad=self.aim,
            low_s=(times.begin, times.high),
        )

    def _hands(self, t: _Times, low: float, throw: Throw) -> None:
        rng, side, hand = self.rng, self.side, self.plan.hands
        hand.key(t.begin, ready_hands(side, rng))
        out = rng.uniform(0.10, 0.22)
        dipped = hands(side, (0.28, out, low), (0.17, 0.0, low + rng.uniform(0.04, 0.13)))
        hand.key(t.low, dipped)
        # Held low, the hands still sink a little, or come up.
        hand.key(t.rise, dipped + np.tile([0.0, 0.0, rng.uniform(-0.02, 0.006)], 2))
        if t.high < t.cock:
            top = rng.uniform(0.90, 1.06)
            hand.key(t.high, hands(side, (0.08, 0.13, top), (0.20, 0.01, top - 0.20)))
        t.stop = t.cock + throw.duration_s + rng.uniform(0.15, 0.21)
        t.out = key_throw(self.plan, throw, t.cock, t.stop, self.order.stature_m, self.aside)
        t.back = t.stop + rng.uniform(0.30, 0.60)
        hand.key(t.back, ready_hands(side, rng))

    def _trunk(self, t: _Times, low: float, pace: float) -> None:
        rng, plan, s = self.rng, self.plan, self.sign
        for track, wound in ((plan.pelvis_turn_deg, 6.0), (plan.chest_turn_deg, 12.0)):
            track.key(t.begin, 0.0).key(t.low, -s * wound).key(t.rise, -s * wound)
            if t.high < t.cock:
                track.key(t.high, -s * wound * 1.5)
        key_turns(
            plan,
            s,
            Turns(
                pelvis_wound=rng.uniform(12, 24),
                pelvis_after=rng.uniform(26, 40),
                chest_wound=rng.uniform(34, 52),
                chest_after=rng.uniform(46, 62),
                chest_dps=rng.uniform(330, 430) * pace,
            ),
            t.cock,
            t.out,
        )
        plan.pelvis_turn_deg.key(t.stop, s * 34.0).key(t.back + 0.1, 0.0)
        plan.chest_turn_deg.key(t.stop, s * 54.0).key(t.back + 0.1, 0.0)
        # Most look low with the hands; some keep their eyes on the goal.
        down = rng.uniform(22, 42) if rng.random() < 0.75 else rng.uniform(-4, 8)
        bow = 16.0 + 70.0 * max(0.0, 0.56 - low) + rng.uniform(0, 6)
        gaze = plan.gaze_down_deg
        gaze.key(t.begin, 0.0).key(t.low, down).key(t.rise, down).key(t.high, rng.uniform(-14, 0))
        gaze.key(t.out, rng.uniform(-10, 0)).key(t.back, 0.0)
        lean = plan.lean_deg
        lean.key(t.begin, (7.0, 0.0)).key(t.low, (bow, -s * 3.0)).key(t.rise, (bow, -s * 3.0))
        lean.key(t.high, (-1.0, 0.0)).key(t.cock, (-2.0, -s * 3.0))
        lean.key(t.out, (11.0, s * 5.0)).key(t.stop, (15.0, s * 5.0)).key(t.back, (7.0, 0.0))
        crouch = 0.90 - 0.35 * max(0.0, 0.54 - low)
        height = plan.height
        height.key(t.begin, 0.955).key(t.low, crouch).key(t.rise, crouch).key(t.high, 0.965)
        height.key(t.out, 0.935).key(t.stop, 0.925).key(t.back, 0.955)

    def _feet(self, t: _Times) -> None:
        """Take a step with the front foot while the hands rise, or with the dip, and go back."""
        rng, plan, place = self.rng, self.plan, self.place
        ahead, sign = direction(self.aim), 1.0 if self.front == "left" else -1.0
        step = rng.uniform(0.12, 0.42) * self.order.stature_m / 1.8
        land = t.low + 0.02 if rng.random() < 0.35 else t.high + rng.uniform(-0.04, 0.06)
        plan.path_m.key(t.begin, place).key(max(land, t.low) + 0.05, place + ahead * step * 0.35)
        plan.path_m.key(t.out, place + ahead * (step * 0.5 + 0.05))
        plan.path_m.key(t.stop, place + ahead * (step * 0.5 + 0.06))
        plan.path_m.key(t.back + 0.2, place)
        home = place + direction(self.stand + np.pi / 2) * sign * plan.stance_m
        there = home + ahead * step
        for when, spot, yaw in (
            (land, there, self.stand + 0.4 * self.aside),
            (t.back + 0.15, home, self.stand),
        ):
            plan.steps.append(
                Land(time_s=when, foot=self.front, mid_foot_m=(spot[0], spot[1]), yaw_rad=yaw)
            )


def choreograph(order: Order) -> Choreography:
    """Return the plan of a row of low-to-high shots from one spot."""
    shots = _Shots(order)
    reps: list[RepWindow] = []
    next_s = 0.0
    for index in range(order.n_reps):
        reps.append(shots.add(index, next_s))
        next_s = reps[-1].stop_s + shots.rng.uniform(0.45, 1.4)
    return Choreography(athlete=shots.plan, defender=None, reps=reps, duration_s=next_s + 0.5)
