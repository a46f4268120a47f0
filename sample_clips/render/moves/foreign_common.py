"""What the never taught moves share: a player who does one thing on the spot, and again."""

from __future__ import annotations

from abc import ABC, abstractmethod

import numpy as np

from ..tracks import Facing, Floats, Land, Plan, Walk
from .common import Choreography, Order, RepWindow, direction, ready_hands

OTHER = {"left": "right", "right": "left"}


class Drill(ABC):
    """Writes a row of reps of one kind from one spot; a kind writes its own `rep`."""

    kind = ""

    def __init__(self, order: Order) -> None:
        self.order, self.rng = order, np.random.default_rng(order.seed)
        self.side = order.stick_hand
        self.stick = 1.0 if self.side == "left" else -1.0
        """Side of the stick: +1 left, -1 right."""
        self.pace = order.speed * self.rng.uniform(0.85, 1.1)
        self.yaw = float(np.deg2rad(order.yaw_deg))
        self.ahead, self.left = direction(self.yaw), direction(self.yaw + np.pi / 2)
        self.place = np.asarray(order.place_m, dtype=float)
        self.carry = ready_hands(self.side, self.rng)
        self.plan = Plan(top_side=self.side, stance_m=0.105 * order.stature_m)
        self.plan.facing.append(Facing(0.0, self.yaw))
        self.stand(0.0)

    def stand(self, when: float) -> None:
        """Stand on the spot with the stick carried at one time."""
        plan = self.plan
        plan.path_m.key(when, self.place)
        plan.height.key(when, 0.955)
        plan.hands.key(when, self.carry)
        plan.lean_deg.key(when, (6.0, 0.0))
        plan.free_hand.key(when, (0.0, *self.carry[3:]))
        for track in (
            plan.chest_turn_deg, plan.pelvis_turn_deg, plan.gaze_turn_deg, plan.gaze_down_deg,
        ):  # fmt: skip
            track.key(when, 0.0)

    def spot(self, ahead_m: float, left_m: float) -> Floats:
        """Return a place by its distance ahead and to the left of the spot."""
        place: Floats = self.place + self.ahead * ahead_m + self.left * left_m
        return place

    def land(
        self, when: float, foot: str, ahead_m: float, left_m: float, swing_s: float = 0.28,
        turn_rad: float = 0.0, lift_m: float = 0.08,
    ) -> None:  # fmt: skip
        """Land one foot, ``ahead_m`` and ``left_m`` from the spot."""
        x, y = self.spot(ahead_m, left_m)
        self.plan.steps.append(
            Land(
                time_s=when,
                foot=foot,
                mid_foot_m=(float(x), float(y)),
                yaw_rad=self.yaw + turn_rad,
                swing_s=swing_s,
                lift_m=lift_m,
            )
        )

    def stance(self, when: float, swing_s: float = 0.28) -> None:
        """Bring both feet back under the body, one after the other, by ``when``."""
        half = self.plan.stance_m
        self.land(when - 0.2, "left", 0.04, half, swing_s, 0.12)
        self.land(when, "right", 0.04, -half, swing_s, -0.12)

    def walk(self, start_s: float, stop_s: float, period_s: float, last_foot: str = "left") -> None:
        """Let the feet follow the hips for a while."""
        self.plan.steps.append(
            Walk(start_s=start_s, stop_s=stop_s, period_s=period_s, last_foot=last_foot)
        )

    @abstractmethod
    def rep(self, begin: float) -> tuple[float, float]:
        """Write one rep that leaves the stance at ``begin``; return the end of it, and of all."""

    def row(self) -> Choreography:
        """Write all reps of the order."""
        reps: list[RepWindow] = []
        next_s = 0.0
        for _ in range(self.order.n_reps):
            begin = next_s + self.rng.uniform(0.5, 1.1)
            self.stand(begin)
            stop, still = self.rep(begin)
            self.stand(still)
            reps.append(
                RepWindow(
                    start_s=next_s,
                    stop_s=stop,
                    burst_s=(begin + 0.25, stop),
                    run_yaw_rad=self.yaw,
                    stick_hand=self.side,
                    foreign=self.kind,
                )
            )
            next_s = still
        return Choreography(athlete=self.plan, defender=None, reps=reps, duration_s=next_s + 0.6)
