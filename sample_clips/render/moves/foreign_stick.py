"""Moves with the stick that the program is never taught."""

from __future__ import annotations

import numpy as np

from ..tracks import Facing, Walk
from .common import Order, RepWindow, hands
from .dodging import Row
from .foreign_common import Drill
from .stepping import OTHER


class GroundBall(Row):
    """Run at a ball on the ground, scoop it up, run out, flip the stick upwards."""

    kind = "ground_ball"

    def __init__(self, order: Order) -> None:
        super().__init__(order)
        self.turns_round = False

    def add(self, index: int, start_s: float) -> tuple[RepWindow, float]:
        """Write one rep."""
        rng, plan = self.rng, self.plan
        run, length = self.begin(start_s, mps=3.4, length_m=(1.8, 2.8))
        scoop_mps = run.run_mps * rng.uniform(0.6, 0.85)
        self.run_in(run, length, scoop_mps, rng.uniform(0.4, 0.6))
        foot = str(rng.choice(["left", "right"]))
        plan.steps.append(
            Walk(start_s=run.go - 0.1, stop_s=run.cut, period_s=run.period, last_foot=foot)
        )
        self.carry_until(run, run.cut - 0.55)
        deep = rng.uniform(0.68, 0.76)
        low = hands(self.side, (0.40, 0.09, 0.17 + rng.uniform(0, 0.05)), (0.17, 0.03, 0.32))
        plan.hands.key(run.cut, low, np.array([0.4, 0, 0, 0.4, 0, 0]))
        plan.chest_turn_deg.key(run.cut - 0.4, 0.0).key(run.cut, self.stick * 8.0)
        tucked = hands(self.side, (0.12, 0.16, 0.80), (0.14, 0.05, 0.62))
        out = run.cut + rng.uniform(0.4, 0.55)
        plan.hands.key(out, tucked)
        plan.chest_turn_deg.key(out, 0.0)
        plan.height.key(run.go, self.stand_height).key(run.cut - 0.4, 0.90)
        plan.height.key(run.cut, deep).key(out, 0.92)
        plan.lean_deg.key(run.go, (8.0, 0.0)).key(run.cut - 0.45, (14.0, 0.0))
        plan.lean_deg.key(run.cut, (rng.uniform(44, 56), 0.0)).key(out + 0.1, (10.0, 0.0))
        plan.gaze_down_deg.key(run.go, 5.0).key(run.cut, 25.0).key(out, 0.0)
        u = run.ahead
        when, at = self.bend(run.cut, run.at_cut, u * scoop_mps, u * run.run_mps, 0.6, 1.0)
        end = self.run_out(run, when, at, u * run.run_mps, rng.uniform(0.6, 1.3))
        # The flip: a quick lift of the stick over the head.
        lift = max(out + 0.15, run.done - 0.1)
        plan.hands.key(lift, hands(self.side, (0.26, 0.08, 0.66), (0.14, 0.02, 0.52)))
        up = np.array([0.0, 0.0, 3.0, 0.0, 0.0, 1.6])
        high = hands(self.side, (0.30, 0.06, 0.90), (0.18, 0.0, 0.68))
        plan.hands.key(lift + rng.uniform(0.12, 0.18), high, up)
        plan.hands.key(lift + 0.34, hands(self.side, (0.22, 0.05, 1.08), (0.18, 0.0, 0.84)))
        still = self.go_home(run, end, foot, run.cut)
        self.carry = self._draw_carry()
        plan.hands.key(lift + 0.8, self.carry).key(still, self.carry)
        window = RepWindow(
            start_s=start_s,
            stop_s=lift + 0.4,
            burst_s=(run.go + 0.25, lift + 0.4),
            run_yaw_rad=run.yaw,
            stick_hand=self.side,
            foreign=self.kind,
        )
        return window, still


class BehindTheBack(Drill):
    """Draw the stick back, then whip it round behind the back."""

    kind = "behind_the_back_shot"

    def rep(self, begin: float) -> tuple[float, float]:
        """Write one rep."""
        rng, plan, stick = self.rng, self.plan, self.stick
        step = rng.uniform(0.2, 0.5) * self.order.stature_m / 1.8
        foot = self.side
        half = plan.stance_m * stick
        set_s = begin + rng.uniform(0.45, 0.65) / self.pace
        cocked = hands(self.side, (0.10, 0.30, 0.72), (0.20, 0.10, 0.60))
        behind = hands(self.side, (-0.17, 0.04, 0.84), (-0.02, 0.24, 0.70))
        through = hands(self.side, (-0.15, -0.14, 0.92), (-0.08, 0.16, 0.76))
        whip = set_s + rng.uniform(0.16, 0.24) / self.pace
        plan.hands.key(set_s, cocked)
        plan.hands.key(whip, behind, 3.0 * (through - cocked) / 0.6)
        stop = whip + rng.uniform(0.12, 0.18)
        plan.hands.key(stop, through).key(stop + 0.12, through)
        back = stop + rng.uniform(0.6, 0.8)
        for track, peak in ((plan.pelvis_turn_deg, 20.0), (plan.chest_turn_deg, 46.0)):
            track.key(set_s, stick * peak * 0.6).key(whip, -stick * peak * 0.3)
            track.key(stop, -stick * peak).key(back, 0.0)
        plan.gaze_turn_deg.key(set_s, -stick * 20).key(stop, -stick * 40).key(back, 0.0)
        plan.height.key(set_s, 0.92).key(stop, 0.93)
        plan.path_m.key(set_s, self.spot(step * 0.4, 0.0)).key(stop, self.spot(step * 0.55, 0.0))
        self.land(begin + 0.38, foot, step, half * 1.1)
        self.land(back, foot, 0.04, half)
        return stop + 0.15, back + 0.2


class FaceOff(Drill):
    """Crouch over the ball, clamp, rake it back and pop up with a turn."""

    kind = "face_off_clamp"

    def rep(self, begin: float) -> tuple[float, float]:
        """Write one rep."""
        rng, plan, side = self.rng, self.plan, self.side
        half = plan.stance_m
        down = begin + rng.uniform(0.7, 1.0)
        set_hands = hands(side, (0.36, 0.10, 0.09), (0.32, -0.14, 0.08))
        plan.hands.key(down, set_hands)
        plan.height.key(down, rng.uniform(0.50, 0.58))
        plan.lean_deg.key(down, (rng.uniform(52, 62), 0.0))
        plan.path_m.key(down, self.spot(-0.06, 0.0))
        plan.gaze_down_deg.key(down, 15.0)
        self.land(begin + 0.35, "left", 0.10, half * 1.7, turn_rad=0.25)
        self.land(begin + 0.65, "right", -0.16, -half * 1.7, turn_rad=-0.3)
        whistle = down + rng.uniform(0.5, 1.1)
        plan.hands.key(whistle, set_hands)
        clamp = whistle + rng.uniform(0.12, 0.2)
        plan.hands.key(clamp, hands(side, (0.34, -0.06, 0.10), (0.30, -0.22, 0.14)))
        rake = clamp + rng.uniform(0.18, 0.28)
        plan.hands.key(rake, hands(side, (0.10, -0.02, 0.10), (0.22, -0.22, 0.24)))
        for track in (plan.height, plan.lean_deg, plan.path_m, plan.gaze_down_deg):
            track.key(whistle, track.at(np.array([whistle]))[0])
        plan.chest_turn_deg.key(whistle, 0.0).key(rake, self.stick * 30.0)
        plan.pelvis_turn_deg.key(whistle, 0.0).key(rake, self.stick * 18.0)
        plan.height.key(rake, 0.62)
        pop = rake + rng.uniform(0.35, 0.5)
        plan.height.key(pop, 0.90)
        plan.lean_deg.key(pop, (14.0, 0.0))
        plan.gaze_down_deg.key(pop, 0.0)
        plan.hands.key(pop, hands(side, (0.18, 0.16, 0.66), (0.16, 0.0, 0.52)))
        out = rng.uniform(0.5, 0.9)
        gone = pop + 0.6
        plan.path_m.key(rake, self.spot(-0.1, 0.0)).key(gone, self.spot(-0.2, self.stick * out))
        plan.chest_turn_deg.key(gone, 0.0)
        plan.pelvis_turn_deg.key(gone, 0.0)
        plan.hands.key(gone, self.carry)
        self.walk(rake + 0.05, gone + 0.2, 0.3, OTHER[side])
        still = gone + rng.uniform(1.4, 1.8)
        plan.path_m.key(gone + 0.3, self.spot(-0.2, self.stick * out))
        self.walk(gone + 0.3, still, 0.42)
        return gone, still


class ThrowIn(Drill):
    """Raise stick and hands over and behind the head, then throw forward with both arms."""

    kind = "overhead_throw_in"

    def rep(self, begin: float) -> tuple[float, float]:
        """Write one rep."""
        rng, plan, side = self.rng, self.plan, self.side
        half, step = plan.stance_m, rng.uniform(0.25, 0.5)
        back = begin + rng.uniform(0.55, 0.8)
        behind = hands(side, (-0.10, 0.13, 1.04), (-0.08, -0.13, 1.02))
        front = hands(side, (0.36, 0.12, 0.93), (0.36, -0.12, 0.92))
        plan.hands.key(begin + 0.3, hands(side, (0.24, 0.13, 0.86), (0.24, -0.12, 0.84)))
        plan.hands.key(back, behind)
        throw = back + rng.uniform(0.16, 0.24) / self.pace
        plan.hands.key(throw, front, (front - behind) * 4.2)
        stop = throw + rng.uniform(0.16, 0.24)
        plan.hands.key(stop, hands(side, (0.36, 0.12, 0.66), (0.36, -0.12, 0.65)))
        rest = stop + rng.uniform(0.5, 0.8)
        plan.lean_deg.key(back, (-14.0, 0.0)).key(throw, (14.0, 0.0)).key(stop, (26.0, 0.0))
        plan.height.key(back, 0.95).key(throw, 0.94).key(stop, 0.92)
        plan.path_m.key(back, self.spot(step * 0.3, 0.0)).key(stop, self.spot(step * 0.7, 0.0))
        self.land(back + 0.02, OTHER[side], step, -self.stick * half, 0.32)
        self.land(rest, OTHER[side], 0.04, -self.stick * half)
        return stop + 0.1, rest + 0.2


class OneHandSpin(Drill):
    """Let go with the bottom hand and turn on the spot with the stick held out."""

    kind = "one_hand_spin"

    def rep(self, begin: float) -> tuple[float, float]:
        """Write one rep."""
        rng, plan, side = self.rng, self.plan, self.side
        let_go = begin + 0.35
        out = hands(side, (0.12, 0.30, 0.80 + rng.uniform(-0.06, 0.08)), (0.10, 0.10, 0.60))
        plan.hands.key(let_go, out)
        plan.free_hand.key(begin + 0.1, (0.0, 0.18, self.stick * 0.03, 0.54))
        plan.free_hand.key(let_go, (1.0, 0.10, -self.stick * 0.26, 0.60))
        turns = float(rng.choice([1.0, 1.0, 2.0])) * rng.choice([-1.0, 1.0])
        over = abs(turns) * rng.uniform(0.75, 1.0) / self.pace
        plan.facing.append(
            Facing(let_go + 0.05, None, over_s=over, turn_rad=float(turns * 2 * np.pi))
        )
        stop = let_go + over
        when = let_go
        while when < stop - 0.3:
            wave = hands(side, (0.02, 0.05, 0.03), (0.03, 0.03, 0.02)) * rng.uniform(-1, 1)
            when += rng.uniform(0.22, 0.3)
            plan.hands.key(when, out + wave)
        plan.hands.key(stop, out)
        plan.height.key(let_go, 0.93).key(stop, 0.93)
        plan.free_hand.key(stop, (1.0, 0.10, -self.stick * 0.26, 0.60))
        plan.free_hand.key(stop + 0.35, (0.0, 0.18, self.stick * 0.03, 0.54))
        self.walk(let_go - 0.1, stop + 0.3, 0.17)
        return stop + 0.1, stop + rng.uniform(0.6, 0.8)


class BatSwing(Drill):
    """Swing the stick level round the body like a bat, feet set sideways."""

    kind = "bat_swing"

    def rep(self, begin: float) -> tuple[float, float]:
        """Write one rep."""
        rng, plan, side, stick = self.rng, self.plan, self.side, self.stick
        half, front = plan.stance_m, OTHER[side]
        cock = begin + rng.uniform(0.6, 0.9)
        high = rng.uniform(-0.04, 0.04)
        back = hands(side, (0.02, 0.24, 0.80), (0.05, 0.20, 0.72))
        meet = hands(side, (0.30, 0.02, 0.62 + high), (0.25, -0.05, 0.60 + high))
        wrap = hands(side, (0.10, -0.22, 0.76), (0.14, -0.15, 0.70))
        plan.hands.key(cock, back)
        held = cock + rng.uniform(0.1, 0.4)
        plan.hands.key(held, back)
        hit = held + rng.uniform(0.17, 0.24) / self.pace
        plan.hands.key(hit, meet, (wrap - back) * 3.6)
        stop = hit + rng.uniform(0.17, 0.24)
        plan.hands.key(stop, wrap).key(stop + 0.15, wrap)
        rest = stop + rng.uniform(0.7, 0.9)
        turns = ((plan.pelvis_turn_deg, 38.0, 0.05), (plan.chest_turn_deg, 58.0, 0.0))
        for track, peak, lead in turns:
            track.key(cock, stick * peak).key(held - lead, stick * peak)
            track.key(hit - lead, -stick * peak * 0.2, -stick * peak * 9)
            track.key(stop, -stick * peak).key(rest, 0.0)
        plan.gaze_turn_deg.key(cock, -stick * 10).key(stop, -stick * 15)
        plan.lean_deg.key(cock, (12.0, 0.0)).key(hit, (10.0, stick * 5.0)).key(stop, (6.0, 0.0))
        plan.height.key(cock, 0.92).key(held, 0.92).key(hit, 0.90).key(stop, 0.92)
        self.land(begin + 0.4, front, 0.05, -stick * half * 1.7, turn_rad=0.0)
        self.land(hit - 0.04, front, 0.12, -stick * half * 2.3, turn_rad=-stick * 0.6, swing_s=0.3)
        self.land(rest, front, 0.04, -stick * half)
        return stop + 0.15, rest + 0.2
