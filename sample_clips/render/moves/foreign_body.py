"""Moves of the whole body that the program is never taught: slides with a poke, jacks, burpees."""

from __future__ import annotations

import numpy as np

from .common import hands
from .foreign_common import OTHER, Drill


class SlideAndPoke(Drill):
    """Defensive slide steps in a low stance, a poke check, back again with another."""

    kind = "slide_and_poke"

    def rep(self, begin: float) -> tuple[float, float]:
        """Write one rep."""
        rng, plan, side = self.rng, self.plan, self.side
        low = hands(side, (0.28, 0.10, 0.60), (0.22, -0.09, 0.47))
        set_s = begin + 0.5
        plan.hands.key(set_s, low)
        plan.height.key(set_s, 0.86)
        plan.lean_deg.key(set_s, (17.0, 0.0))
        half = plan.stance_m * 1.35
        way = float(rng.choice([-1.0, 1.0]))
        when, at = set_s, 0.0
        self.land(begin + 0.4, "left", 0.04, half)
        self.land(set_s + 0.05, "right", 0.04, -half)
        when = set_s + 0.1
        plan.path_m.key(when, self.place)
        for _leg in range(2):
            lead = "left" if way > 0 else "right"
            for _ in range(int(rng.integers(3, 5))):
                size = rng.uniform(0.36, 0.52) * self.order.stature_m / 1.8
                period = rng.uniform(0.34, 0.44) / self.pace
                sign = 1.0 if lead == "left" else -1.0
                self.land(when + 0.5 * period, lead, 0.04, at + way * size + sign * half, 0.24)
                self.land(when + period, OTHER[lead], 0.04, at + way * size - sign * half, 0.24)
                at += way * size
                when += period
                plan.path_m.key(when, self.spot(0.0, at), self.left * way * size / period * 0.8)
            plan.path_m.key(when + 0.12, self.spot(0.0, at + way * 0.03))
            poke = hands(side, (0.40, 0.07, 0.66), (0.28, -0.05, 0.53))
            plan.hands.key(when - 0.05, low).key(when + 0.12, poke)
            plan.hands.key(when + 0.28, low)
            when += 0.4
            plan.path_m.key(when, self.spot(0.0, at))
            way = -way
        plan.height.key(when, 0.86)
        plan.lean_deg.key(when, (17.0, 0.0))
        still = when + 1.5
        self.walk(when + 0.1, still, 0.4)
        return when - 0.1, still


class JumpingJacks(Drill):
    """A few jumping jacks with the stick in one hand."""

    kind = "jumping_jacks"

    def rep(self, begin: float) -> tuple[float, float]:
        """Write one rep."""
        rng, plan, stick = self.rng, self.plan, self.stick
        half = plan.stance_m
        side_hands = hands(self.side, (0.06, 0.27, 0.50), (0.06, 0.27, 0.36))
        up_hands = hands(self.side, (0.06, 0.16, 1.08), (0.06, 0.22, 0.96))
        free_low = np.array([1.0, 0.06, -stick * 0.27, 0.48])
        free_high = np.array([1.0, 0.06, -stick * 0.16, 1.08])
        when = begin + 0.5
        plan.hands.key(when, side_hands)
        plan.free_hand.key(begin + 0.05, (0.0, *self.carry[3:]))
        plan.free_hand.key(when, free_low)
        plan.height.key(when, 0.92)
        n_jacks = int(rng.integers(3, 6))
        for _ in range(n_jacks):
            for wide, own, free in ((2.6, up_hands, free_high), (0.9, side_hands, free_low)):
                beat = rng.uniform(0.38, 0.46) / self.pace
                plan.height.key(when + 0.08, 0.93).key(when + 0.5 * beat, 1.03)
                when += beat
                plan.height.key(when, 0.92)
                plan.hands.key(when, own)
                plan.free_hand.key(when, free)
                for foot, sign in (("left", 1.0), ("right", -1.0)):
                    self.land(when - 0.06, foot, 0.04, sign * half * wide, beat - 0.14, sign * 0.15)
        stop = when
        plan.hands.key(stop + 0.05, side_hands)
        plan.free_hand.key(stop + 0.05, free_low)
        still = stop + rng.uniform(0.8, 1.1)
        self.stance(still - 0.1)
        return stop, still


class Burpees(Drill):
    """Squat, kick the feet back to a plank with the hands on the ground, come in, jump up."""

    kind = "burpees"

    def rep(self, begin: float) -> tuple[float, float]:
        """Write one rep."""
        rng, plan, side = self.rng, self.plan, self.side
        half, size = plan.stance_m, self.order.stature_m / 1.8
        pace = self.pace
        squat = begin + rng.uniform(0.6, 0.8) / pace
        on_ground = hands(side, (0.34, 0.13, 0.05), (0.34, -0.13, 0.05))
        plan.hands.key(squat, on_ground)
        plan.height.key(squat, 0.46)
        plan.lean_deg.key(squat, (62.0, 0.0))
        plan.path_m.key(squat, self.spot(0.0, 0.0))
        back = squat + rng.uniform(0.4, 0.5) / pace
        plank = hands(side, (0.40, 0.13, 0.05), (0.40, -0.13, 0.05))
        # The hips go back and the hands stay: they are told from the hips.
        shift = -(0.40 - 0.34) * self.order.stature_m
        plan.hands.key(back, plank)
        plan.height.key(back, 0.50)
        plan.lean_deg.key(back, (74.0, 0.0))
        plan.path_m.key(back, self.spot(shift, 0.0))
        hold = back + rng.uniform(0.1, 0.35)
        plan.hands.key(hold, plank)
        plan.height.key(hold, 0.47)
        plan.lean_deg.key(hold, (76.0, 0.0))
        plan.path_m.key(hold, self.spot(shift, 0.0))
        come = hold + rng.uniform(0.4, 0.5) / pace
        plan.hands.key(come, on_ground)
        plan.height.key(come, 0.50)
        plan.lean_deg.key(come, (58.0, 0.0))
        plan.path_m.key(come, self.spot(0.0, 0.0))
        up = come + rng.uniform(0.35, 0.45) / pace
        plan.height.key(up, 1.0, 2.2)
        plan.lean_deg.key(up, (0.0, 0.0))
        plan.hands.key(up, hands(side, (0.12, 0.13, 1.0), (0.12, -0.13, 1.0)))
        plan.height.key(up + 0.16, 1.13).key(up + 0.36, 0.95, -1.6).key(up + 0.5, 0.88)
        plan.hands.key(up + 0.2, hands(side, (0.10, 0.13, 1.12), (0.10, -0.13, 1.12)))
        plan.lean_deg.key(up + 0.5, (10.0, 0.0))
        for foot, sign in (("left", 1.0), ("right", -1.0)):
            self.land(back, foot, -0.66 * size + shift, sign * half, 0.34, 0.0, 0.06)
            self.land(come, foot, 0.0, sign * half * 1.2, 0.36, sign * 0.2, 0.10)
            self.land(up + 0.34, foot, 0.04, sign * half * 1.1, 0.32, sign * 0.15, 0.16)
        stop = up + 0.55
        return stop, stop + rng.uniform(0.6, 0.9)
