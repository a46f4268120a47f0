"""A whole training hour in small: reps of many moves and all that lies between, in one plan.

The phone stands still and looks along the order's yaw at the order's place; everything happens
inside its picture. A season lasts ``n_reps * SECONDS_PER_REP`` and holds about ``n_reps`` reps.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np

from ..tracks import Floats, Plan
from . import foreign
from .between import PASTIMES, pass_time
from .common import Choreography, Order, Pastime, RepWindow, direction
from .joining import (
    Standing,
    add_piece,
    end_of,
    go_between,
    shifted,
    start_of_piece,
)
from .standing_by import SecondPlayer
from .throwing import OTHER_FOOT, sign_of

SECONDS_PER_REP = 12.0
VIEW_DISTANCE_M, VIEW_FOV_DEG = 8.2, 70.0
"""Where the phone is, from the middle, and what its longer side takes in."""
NEAR_M, FAR_M, EDGE_M = 2.0, 2.6, 0.9
"""How far towards the phone and away from it the players go, and how far inside the edges."""
LONGEST_WAY_S = 12.0
"""Getting ready for a piece takes less than this."""

Choreographer = Callable[[Order], Choreography]
_STANDING = ("high_to_low_shot", "low_to_high_shot", "step_down_shot")
_TRIES = 150


class _Season:
    """Writes one season, piece after piece."""

    def __init__(self, order: Order, moves: Mapping[str, Choreographer]) -> None:
        self.order, self.rng, self.moves = order, np.random.default_rng(order.seed), dict(moves)
        self.middle = np.asarray(order.place_m, dtype=float)
        self.view = direction(float(np.deg2rad(order.yaw_deg)))
        self.across = np.array([-self.view[1], self.view[0]])
        self.until = order.n_reps * SECONDS_PER_REP
        self.reps: list[RepWindow] = []
        self.pastimes: list[Pastime] = []
        self.bag: list[str] = []
        self.fun: list[str] = []
        self.athlete = Plan(top_side=order.stick_hand, stance_m=0.105 * order.stature_m)
        self.now: Standing | None = None
        self.second = (
            SecondPlayer(order, self.rng, self.athlete, self.spot) if order.defended else None
        )

    # What is in the picture ------------------------------------------------------------------

    def inside(self, path_m: Floats) -> bool:
        """Whether a path (n, 2) stays where the phone sees a whole body."""
        away = (path_m - self.middle) @ self.view
        wide = np.abs((path_m - self.middle) @ self.across)
        slope = np.tan(np.deg2rad(VIEW_FOV_DEG / 2))
        room = (VIEW_DISTANCE_M + away) * slope - EDGE_M
        return bool((away > -NEAR_M).all() and (away < FAR_M).all() and (wide < room).all())

    def spot(self) -> tuple[float, float]:
        """Draw a place inside the picture."""
        while True:
            point = self.middle + self.view * self.rng.uniform(-NEAR_M, FAR_M)
            point = point + self.across * self.rng.uniform(-6, 6)
            if self.inside(point[None]):
                return float(round(point[0], 2)), float(round(point[1], 2))

    # Pieces ------------------------------------------------------------------------------------

    def piece(self, name: str, write: Choreographer) -> tuple[Order, Choreography] | None:
        """Draw a piece until it stays in the picture; None if it never does."""
        for tried in range(_TRIES):
            order = self._order_of(name, anywhere=tried > _TRIES / 3)
            found = write(order)
            times = np.arange(0.0, found.duration_s, 1 / 30)
            paths = [found.athlete.path_m.at(times)]
            if self.order.defended and found.defender is not None:
                paths.append(found.defender.path_m.at(times))
            if all(self.inside(path) for path in paths):
                return order, found
        return None

    def _order_of(self, name: str, *, anywhere: bool) -> Order:
        rng, order = self.rng, self.order
        stay = not anywhere and rng.random() < 0.45
        here = self.now.place_m if self.now is not None and stay else None
        place = self.spot() if here is None else (float(here[0]), float(here[1]))
        strong = order.stick_hand
        side = strong if rng.random() < 0.7 else OTHER_FOOT[strong]
        if name == "pivot_throwback_pass":
            side = OTHER_FOOT[strong]
        elif name in PASTIMES and self.now is not None:
            side = self.now.side
        return replace(
            order,
            seed=int(rng.integers(1, 10**9)),
            stick_hand=side,
            n_reps=int(rng.choice([1, 2, 3], p=[0.45, 0.35, 0.2])),
            place_m=place,
            yaw_deg=float(np.rad2deg(self._yaw_of(name, np.asarray(place), side))),
            speed=order.speed * float(rng.uniform(0.9, 1.08)),
            sizes=(),
            flip=bool(rng.random() < 0.5),
            kind=str(rng.choice(list(foreign.KINDS))) if name == "unknown" else "",
            delays_s=(float(rng.uniform(0.05, 0.3)),) if rng.random() < 0.2 else (),
        )

    def _yaw_of(self, name: str, place: Floats, side: str) -> float:
        """Draw a heading: shots at the goal, talk to the phone, runs mostly across the picture."""
        rng = self.rng
        goal = float(np.arctan2(-place[1], -place[0])) + rng.uniform(-0.2, 0.2)
        if name in _STANDING:
            return goal
        if name == "on_the_run_shot" and rng.random() < 0.6:
            return goal - sign_of(side) * rng.uniform(0.6, 1.2)
        if name == "talk":
            phone = self.middle - self.view * VIEW_DISTANCE_M - place
            return float(np.arctan2(phone[1], phone[0])) + rng.uniform(-0.2, 0.2)
        if name in PASTIMES and self.now is not None and rng.random() < 0.6:
            return self.now.yaw_rad
        if name in PASTIMES:
            return float(rng.uniform(-np.pi, np.pi))
        across = self.across * rng.choice([-1.0, 1.0])
        return float(np.arctan2(across[1], across[0]) + rng.uniform(-0.7, 0.7))

    def next_name(self, time_s: float) -> str:
        """Draw what comes next: a move whenever reps are behind their even rate."""
        taught = sum(rep.foreign is None for rep in self.reps)
        behind = taught < time_s / SECONDS_PER_REP + self.rng.uniform(-1.0, 1.0)
        names, all_names = (self.bag, self.moves) if behind else (self.fun, PASTIMES)
        if not names:
            names += [str(n) for n in self.rng.permutation(list(all_names))]
        return names.pop()

    def add(self, name: str) -> bool:
        """Append a piece and the way to it, if it fits; return False if it lasts too long."""
        write = self.moves.get(name) or (lambda order: pass_time(order, name))
        drawn = self.piece(name, write)
        if drawn is None:
            return True
        order, found = drawn
        there = start_of_piece(found.athlete)
        if self.now is None:
            arrive, how = 0.0, "idle"
            self.athlete.top_side = there.side
        elif self.now.time_s + LONGEST_WAY_S + found.duration_s > self.until:
            return False
        else:
            arrive, how = go_between(self.athlete, order, self.rng, self.now, there)
            self.pastimes.append(Pastime(kind=how, start_s=self.now.time_s, stop_s=arrive))
        if self.second is not None:
            arrive = self.second.bring(found, arrive)
            self.second.play(found, arrive)
        add_piece(self.athlete, found.athlete, arrive, found.duration_s)
        self.now = end_of(found.athlete, arrive, found.duration_s)
        for rep in found.reps:
            hand = rep.stick_hand or order.stick_hand
            self.reps.append(replace(shifted(rep, arrive), move=name, stick_hand=hand))
        self.pastimes += [
            Pastime(kind=p.kind, start_s=p.start_s + arrive, stop_s=p.stop_s + arrive)
            for p in found.pastimes
        ]
        return True

    def finish(self) -> Choreography:
        """Stand until the end."""
        if self.now is not None and self.until - self.now.time_s > 0:
            self.pastimes.append(Pastime(kind="idle", start_s=self.now.time_s, stop_s=self.until))
        return Choreography(
            athlete=self.athlete,
            defender=None if self.second is None else self.second.plan,
            reps=self.reps,
            duration_s=self.until,
            pastimes=self.pastimes,
        )


def choreograph_season(order: Order, moves: Mapping[str, Choreographer]) -> Choreography:
    """Return one long plan with reps of all the moves given, and what lies between them.

    Parameters
    ----------
    order : Order
        ``place_m`` is the middle of the picture, ``yaw_deg`` the direction in which the phone
        looks, ``n_reps`` about how many reps there are, ``defended`` whether a second player is
        there, who defends the dodges and stands by otherwise.
    moves : mapping
        What writes the plan of each move.
    """
    season = _Season(order, moves)
    misses = 0
    while misses < 4:
        time_s = 0.0 if season.now is None else season.now.time_s
        if not season.add(season.next_name(time_s)):
            misses += 1
    return season.finish()
