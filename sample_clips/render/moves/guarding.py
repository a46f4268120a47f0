"""The defender of a dodge: waits low, gives ground, bites on the fake, recovers, comes back."""

from __future__ import annotations

import numpy as np

from ..tracks import Floats, Plan, Track, Walk
from .common import Order, hands

CLEAR_M = 0.95
"""The hips of attacker and defender stay this far apart."""
_SAMPLE_S = 1 / 60


class Guard:
    """Writes a defender who answers the dodges of an attacker's path."""

    def __init__(self, order: Order, rng: np.random.Generator, spot: Floats, watch: Track) -> None:
        self.rng, self.spot, self.watch = rng, spot, watch
        self.side = "right" if rng.random() < 0.8 else "left"
        stance_m = 0.15 * order.opponent_stature_m
        self.plan = plan = Plan(top_side=self.side, stance_m=stance_m, watch_m=watch)
        self.low = hands(self.side, (0.30, 0.10, 0.60), (0.24, -0.09, 0.47))
        plan.path_m.key(0.0, spot)
        plan.height.key(0.0, 0.87)
        plan.lean_deg.key(0.0, (17.0, 0.0))
        plan.hands.key(0.0, self.low)

    def answer(self, go: float, cut: float, still: float, bite: Floats, follow: Floats) -> None:
        """Write one rep.

        Parameters
        ----------
        go, cut, still : float
            When the attacker leaves, plants, and stands again at the end, s.
        bite : array (2,)
            Where he is shortly after the plant, from his spot: the ground he gave and the fake that
            he took.
        follow : array (2,)
            How far he runs after the attacker from there.
        """
        rng, spot, plan = self.rng, self.spot, self.plan
        late = rng.uniform(0.10, 0.28)
        home = cut + 0.75 * (still - cut)
        times = [go + 0.5, cut - 0.2 + late, cut + 0.3 + late, cut + 1.1 + late, home]
        points = [spot, spot + 0.6 * bite, spot + bite, spot + bite + follow, spot]
        points = self._clear_of(times, points)
        for when, point in zip(times, points, strict=True):
            plan.path_m.key(when, point)
        plan.height.key(go, 0.88).key(cut, 0.85).key(cut + 0.6, 0.88).key(cut + 1.3, 0.93)
        plan.height.key(home, 0.90)
        plan.lean_deg.key(cut, (18.0, 0.0)).key(cut + 1.3, (7.0, 0.0)).key(home, (15.0, 0.0))
        plan.hands.key(go, self.low).key(cut + late, self.low)
        if rng.random() < 0.6:
            poke = hands(self.side, (0.36, 0.08, 0.64), (0.25, -0.07, 0.50))
            plan.hands.key(cut + late + 0.25, poke)
        plan.hands.key(cut + late + 0.75, self.low)
        plan.steps.append(
            Walk(
                start_s=go + 0.2,
                stop_s=still,
                period_s=rng.uniform(0.29, 0.36),
                last_foot="left",
                lift_m=0.05,
            )
        )

    def _clear_of(self, times: list[float], points: list[Floats]) -> list[Floats]:
        """Push the way points, but not the spot itself, apart from the attacker's path."""
        when = np.arange(times[0], times[-1], _SAMPLE_S)
        theirs = self.watch.at(when)
        for _ in range(30):
            track = Track(2).key(times[0] - 0.5, points[0])
            for time_s, point in zip(times, points, strict=True):
                track.key(time_s, point)
            apart = track.at(when) - theirs
            distance = np.linalg.norm(apart, axis=1)
            i = int(distance.argmin())
            if distance[i] >= CLEAR_M:
                break
            push = apart[i] / max(distance[i], 1e-6) * (CLEAR_M + 0.05 - distance[i])
            near = np.exp(-(((np.array(times) - when[i]) / 0.5) ** 2))
            near[[0, -1]] = 0.0
            near /= max(near.max(), 1e-6)
            points = [p + push * share for p, share in zip(points, near, strict=True)]
        return points
