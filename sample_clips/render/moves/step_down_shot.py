"""The step-down shot: feet set or one crow-hop, a full wind-up, a shot at normal height."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..tracks import Facing, Floats, Land, Plan
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
from .travelling import go_home


@dataclass(slots=True)
class _Times:
    """Instants of one rep, s: first move, back foot set, front foot down, wound up, and on."""

    begin: float
    hop: float
    plant: float
    cock: float
    out: float = 0.0
    stop: float = 0.0
    rest: float = 0.0


class _Shots:
    """Writes a row of shots from about one spot into a plan, rep after rep."""

    def __init__(self, order: Order) -> None:
        self.order, self.rng = order, np.random.default_rng(order.seed)
        self.side, self.sign = order.stick_hand, sign_of(order.stick_hand)
        self.front, self.back = OTHER_FOOT[self.side], self.side
        self.aim = float(np.deg2rad(order.yaw_deg))
        self.scale = order.stature_m / 1.8
        self.place = np.asarray(order.place_m, dtype=float)
        # The front shoulder points at the goal; how far differs from player to player.
        self.closed = self.sign * float(np.deg2rad(self.rng.uniform(35, 70)))
        self.stand = self.aim - 0.5 * self.closed
        self.plan: Plan = standing_plan(order, self.stand, self.rng)

    def add(self, index: int, start_s: float) -> tuple[RepWindow, float]:
        """Write one rep that begins with a pause; return it and when the player stands again."""
        rng, order = self.rng, self.order
        pace = order.speed * rng.uniform(0.92, 1.08)
        hop_m = order.sizes[index % len(order.sizes)] if order.sizes else rng.uniform(-0.4, 0.9)
        begin = start_s + rng.uniform(0.6, 1.0)
        form = str(rng.choice(["overhand", "three_quarter", "three_quarter", "sidearm"]))
        throw = draw_throw(
            order,
            rng,
            form,
            speed_mps=rng.uniform(9.4, 11.0) * pace,
            reach=rng.uniform(0.06, 0.14),
        )
        hop_s = rng.uniform(0.40, 0.52) if hop_m > 0.1 else rng.uniform(0.22, 0.34)
        hop = begin + hop_s / pace**0.5
        plant = hop + rng.uniform(0.26, 0.36) / pace**0.5
        cock = plant + rng.uniform(-0.05, 0.04) + 0.5 * of_rep(order.delays_s, index)
        t = _Times(begin, hop, plant, cock)
        self._hands(t, throw)
        self._trunk(t, pace)
        spot, foot = self._feet(t, max(0.0, hop_m) if hop_m > 0.1 else 0.0)
        leave = t.rest + rng.uniform(0.0, 0.5)
        still = go_home(
            self.plan,
            order,
            rng,
            leave_s=leave,
            spot_m=spot,
            yaw_rad=self.stand,
            foot=foot,
        )
        self.plan.facing.append(Facing(still - 0.15, self.stand, over_s=0.4))
        window = RepWindow(
            start_s=start_s,
            stop_s=leave,
            burst_s=(t.cock, t.stop),
            run_yaw_rad=self.aim,
        )
        return window, still + 0.3

    def _hands(self, t: _Times, throw: Throw) -> None:
        rng, side, hand = self.rng, self.side, self.plan.hands
        hand.key(t.begin, ready_hands(side, rng))
        lift = rng.uniform(0.80, 0.92)
        hand.key(t.hop, hands(side, (0.02, 0.22, lift), (0.18, 0.08, lift - 0.14)))
        t.stop = t.cock + throw.duration_s + rng.uniform(0.16, 0.24)
        t.out = key_throw(self.plan, throw, t.cock, t.stop, self.order.stature_m, self.closed)
        t.rest = t.stop + rng.uniform(0.35, 0.6)
        hand.key(t.rest, ready_hands(side, rng))

    def _trunk(self, t: _Times, pace: float) -> None:
        """Turn sideways to the goal, wind up, turn through; end facing the goal."""
        rng, plan, s = self.rng, self.plan, self.sign
        side_on = self.aim - self.closed
        plan.facing.append(Facing(t.begin + 0.05, side_on, over_s=t.hop - t.begin))
        through = float(np.rad2deg(abs(self.closed)))
        plan.pelvis_turn_deg.key(t.begin, 0.0).key(t.hop, -s * 8.0)
        plan.chest_turn_deg.key(t.begin, 0.0).key(t.hop, -s * 20.0)
        turns = Turns(
            pelvis_wound=rng.uniform(10, 24),
            pelvis_after=through + rng.uniform(8, 20),
            chest_wound=rng.uniform(44, 66),
            chest_after=through + rng.uniform(24, 44),
            chest_dps=rng.uniform(480, 640) * pace,
            pelvis_lead_s=rng.uniform(0.05, 0.08),
        )
        key_turns(plan, s, turns, t.cock, t.out)
        plan.pelvis_turn_deg.key(t.stop, s * turns.pelvis_after)
        plan.chest_turn_deg.key(t.stop, s * turns.chest_after)
        # The feet follow: the turn of hips and chest goes over into the heading.
        plan.facing.append(Facing(t.stop + 0.05, self.aim, over_s=t.rest - t.stop))
        plan.pelvis_turn_deg.key(t.rest, 0.0)
        plan.chest_turn_deg.key(t.rest, 0.0)
        gaze = float(np.rad2deg(self.closed))
        plan.gaze_turn_deg.key(t.begin, gaze * 0.5).key(t.hop, gaze).key(t.stop, gaze)
        plan.gaze_turn_deg.key(t.rest, 0.0)
        lean = plan.lean_deg
        back = -s * rng.uniform(3, 8)
        lean.key(t.begin, (7.0, 0.0)).key(t.hop, (2.0, back)).key(t.cock, (2.0, back))
        lean.key(t.out, (13.0, s * 8.0)).key(t.stop, (17.0, s * 6.0)).key(t.rest, (7.0, 0.0))
        height = plan.height
        height.key(t.begin, 0.955).key(t.hop, 0.94).key(t.plant, 0.92)
        height.key(t.out, 0.91).key(t.stop, 0.925).key(t.rest, 0.955)

    def _feet(self, t: _Times, hop_m: float) -> tuple[Floats, str]:
        """Crow-hop onto the back foot (or stay), stride; return the last place and foot."""
        rng, plan, place = self.rng, self.plan, self.place
        ahead, side_on = direction(self.aim), self.aim - self.closed
        hop, stride = hop_m * self.scale, rng.uniform(0.55, 0.85) * self.scale
        wide = direction(side_on + np.pi / 2) * (1.0 if self.front == "left" else -1.0)
        back_at = place + ahead * hop - wide * plan.stance_m * 0.6
        front_at = back_at + ahead * stride + wide * plan.stance_m * 0.5
        if hop > 0:
            # The back foot crosses over in the hop and lands sideways to the goal.
            plan.steps.append(
                Land(
                    time_s=t.hop,
                    foot=self.back,
                    mid_foot_m=(back_at[0], back_at[1]),
                    yaw_rad=side_on - 0.3 * self.closed,
                    swing_s=0.34,
                    lift_m=0.12,
                )
            )
        plan.steps.append(
            Land(
                time_s=t.plant,
                foot=self.front,
                mid_foot_m=(front_at[0], front_at[1]),
                yaw_rad=self.aim - 0.4 * self.closed,
                swing_s=min(0.34, t.plant - t.hop + 0.05),
                lift_m=0.10,
            )
        )
        drag = t.stop + rng.uniform(0.12, 0.25)
        follow = front_at + ahead * rng.uniform(-0.25, 0.15) * self.scale
        follow = follow - direction(self.aim + np.pi / 2) * (
            (1.0 if self.front == "left" else -1.0) * 1.6 * plan.stance_m
        )
        plan.steps.append(
            Land(
                time_s=drag,
                foot=self.back,
                mid_foot_m=(follow[0], follow[1]),
                yaw_rad=self.aim,
                swing_s=0.36,
            )
        )
        path = plan.path_m
        go_mps = 1.5 * self.scale if hop > 0 else 0.7
        path.key(t.begin, place)
        path.key(t.hop, place + ahead * (0.85 * hop + 0.02), ahead * go_mps)
        between = (back_at + front_at) / 2
        path.key(t.plant, between - ahead * 0.08, ahead * go_mps)
        path.key(t.out, between + ahead * 0.10 * self.scale, ahead * 0.4)
        final: Floats = (front_at + follow) / 2
        path.key(max(t.rest, drag + 0.05), final)
        return final, self.back


def choreograph(order: Order) -> Choreography:
    """Return the plan of a row of step-down shots from about one spot."""
    shots = _Shots(order)
    reps: list[RepWindow] = []
    next_s = 0.0
    for index in range(order.n_reps):
        rep, still = shots.add(index, next_s)
        reps.append(rep)
        next_s = still + shots.rng.uniform(0.2, 1.2)
    return Choreography(athlete=shots.plan, defender=None, reps=reps, duration_s=next_s + 0.4)
