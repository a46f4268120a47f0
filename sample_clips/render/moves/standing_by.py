"""A second player of a long film: defends where a piece has a defender, else keeps clear."""

from __future__ import annotations

from collections.abc import Callable
from itertools import product

import numpy as np

from ..tracks import Floats, HandChange, Plan, Track, Walk
from .common import Choreography, Order, hands
from .joining import Standing, add_piece

CLEAR_M, APART_M = 1.7, 1.1
"""How far he keeps from where the athlete goes, standing and on his ways."""
_DETOURS_M = (0.0, 1.2, -1.2, 2.2, -2.2)
_SAMPLE_S = 1 / 15


class SecondPlayer:
    """Writes the plan of the second player, piece after piece, beside the athlete's.

    Parameters
    ----------
    order : Order
    rng : Generator
    athlete : Plan
        Of the athlete, whom he watches; every way of his is written after the athlete's.
    spot : callable
        Draws a place inside the picture.
    """

    def __init__(
        self,
        order: Order,
        rng: np.random.Generator,
        athlete: Plan,
        spot: Callable[[], tuple[float, float]],
    ) -> None:
        self.rng, self.athlete, self.spot = rng, athlete, spot
        self.plan = Plan(
            top_side="right",
            stance_m=0.13 * order.opponent_stature_m,
            watch_m=athlete.path_m,
        )
        self.now: Standing | None = None

    def bring(self, piece: Choreography, arrive_s: float) -> float:
        """Bring him to where he is needed, or out of the way; return when that is done.

        Parameters
        ----------
        piece : Choreography
            What comes next.
        arrive_s : float
            When the athlete is ready for it.
        """
        guard, now = piece.defender, self.now
        there = self._wait_at(piece, arrive_s) if guard is None else guard.path_m.at(np.zeros(1))[0]
        side = self.plan.top_side if guard is None else guard.top_side
        if now is None:
            if guard is not None:
                self.plan.top_side = side
            self.now = Standing(0.0, there, 0.0, self.plan.top_side)
            self._stand(0.0, there)
            return arrive_s
        if guard is not None and side != now.side:
            change = HandChange(start_s=now.time_s + 0.05, stop_s=now.time_s + 0.5)
            self.plan.hand_changes.append(change)
            now.side = side
        if np.linalg.norm(there - now.place_m) < 0.1:
            return max(arrive_s, now.time_s + 0.6)
        return max(arrive_s, self._go(now, there, arrive_s) + 0.3)

    def play(self, piece: Choreography, begin_s: float) -> None:
        """Play his part in a piece, or stand by."""
        if self.now is None:
            return
        stop_s, place = begin_s + piece.duration_s, self.now.place_m
        if piece.defender is not None:
            add_piece(self.plan, piece.defender, begin_s, piece.duration_s)
            place = piece.defender.path_m.at(np.array([piece.duration_s]))[0]
        else:
            self._stand(begin_s, place)
            self._stand(stop_s, place)
        self.now = Standing(stop_s, place, 0.0, self.now.side)

    def _go(self, now: Standing, there: Floats, arrive_s: float) -> float:
        """Walk to a place, round the athlete or after he has passed; return when he is there."""
        line = there - now.place_m
        across = np.array([-line[1], line[0]]) / np.linalg.norm(line)
        mps = self.rng.uniform(1.2, 1.9)
        best: tuple[float, float, list[tuple[float, Floats]]] | None = None
        delays = (0.0, 0.5 * (arrive_s - now.time_s), arrive_s - now.time_s)
        for delay, detour in product(delays, _DETOURS_M):
            leave = now.time_s + delay
            middle = (now.place_m + there) / 2 + across * detour
            length = float(np.linalg.norm(middle - now.place_m)) * 2
            stop = leave + 0.8 + length / mps
            keys = [(leave, now.place_m), ((leave + stop) / 2, middle), (stop, there)]
            room = self._room(keys, now.time_s, max(stop, arrive_s))
            if best is None or room > best[0] + 0.05:
                best = (room, stop, keys)
            if room > APART_M:
                break
        if best is None:
            return arrive_s
        _, stop, keys = best
        self._stand(now.time_s, now.place_m)
        for when, place in keys:
            self._stand(when, place)
        _key_way(self.plan.path_m, keys)
        walk = Walk(start_s=keys[0][0], stop_s=stop + 0.2, period_s=0.42, last_foot="left")
        self.plan.steps.append(walk)
        self.now = Standing(stop, there, 0.0, now.side)
        return stop

    def _room(self, keys: list[tuple[float, Floats]], start_s: float, stop_s: float) -> float:
        """Return the least distance from the athlete between two times, going a way."""
        when = np.arange(start_s, stop_s, _SAMPLE_S)
        if not len(when):
            return np.inf
        track = Track(2)
        _key_way(track, keys)
        apart = track.at(when) - self.athlete.path_m.at(when)
        return float(np.linalg.norm(apart, axis=1).min())

    def _stand(self, when: float, place: Floats) -> None:
        """Stand by, upright, the stick held low."""
        plan = self.plan
        side = plan.top_side if self.now is None else self.now.side
        low = self.rng.uniform(-0.01, 0.01)
        plan.path_m.key(when, place)
        plan.height.key(when, 0.96)
        plan.lean_deg.key(when, (5.0, 0.0))
        held = hands(side, (0.16, 0.16, 0.58 + low), (0.17, -0.04, 0.48 + low))
        plan.hands.key(max(when, self._changed_s()), held)

    def _changed_s(self) -> float:
        """Return when the last change of hands is over."""
        changes = self.plan.hand_changes
        return changes[-1].stop_s if changes else 0.0

    def _wait_at(self, piece: Choreography, arrive_s: float) -> Floats:
        """Return the nearest of some places off the athlete's way to a piece and in it."""
        path = piece.athlete.path_m.at(np.arange(0.0, piece.duration_s, 0.1))
        if self.now is not None:
            way = self.athlete.path_m.at(np.arange(self.now.time_s, arrive_s, 0.1))
            path = np.concatenate([path, way])
        home = np.asarray(self.spot()) if self.now is None else self.now.place_m
        places = [home] + [np.asarray(self.spot()) for _ in range(40)]
        places.sort(key=lambda place: float(np.linalg.norm(place - home)))

        def room(place: Floats) -> float:
            return float(np.linalg.norm(path - place, axis=1).min())

        clear = [place for place in places if room(place) > CLEAR_M]
        return clear[0] if clear else max(places, key=room)


def _key_way(track: Track, keys: list[tuple[float, Floats]]) -> None:
    """Write a way of three places into a path: at rest at both ends, walking on in the middle."""
    (start_s, start), (middle_s, middle), (stop_s, stop) = keys
    track.key(start_s, start).key(stop_s, stop)
    track.key(middle_s, middle, (stop - start) / max(stop_s - start_s, 0.1) * 1.3)
