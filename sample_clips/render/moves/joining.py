"""One plan of many: choreographies one after the other, and the ways between them."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np

from ..tracks import GRID_HZ, Facing, Floats, HandChange, Plan, Track, Walk, heading_of
from .common import Order, RepWindow, ready_hands
from .throwing import OTHER_FOOT
from .travelling import SHORT_WAY_M, Way, back_up, steps_on, travel

_TURN_DEG = 12.0
"""A player who is to face elsewhere by more than this steps round."""
_CHANGE_S = 0.45


@dataclass(slots=True)
class Standing:
    """Where a player stands at an instant: place (2,), heading, top hand."""

    time_s: float
    place_m: Floats
    yaw_rad: float
    side: str


def shifted(rep: RepWindow, since_s: float) -> RepWindow:
    """Return a rep's window later by ``since_s``."""

    def span(value: tuple[float, float] | None) -> tuple[float, float] | None:
        return None if value is None else (value[0] + since_s, value[1] + since_s)

    return replace(
        rep,
        start_s=rep.start_s + since_s,
        stop_s=rep.stop_s + since_s,
        burst_s=(rep.burst_s[0] + since_s, rep.burst_s[1] + since_s),
        plant_s=None if rep.plant_s is None else rep.plant_s + since_s,
        change_s=span(rep.change_s),
        turns_s=tuple((a + since_s, b + since_s) for a, b in rep.turns_s),
        low_s=span(rep.low_s),
    )


def add_piece(whole: Plan, piece: Plan, since_s: float, duration_s: float) -> None:
    """Append the plan of a piece, which begins and ends at rest, to a longer plan."""
    for item in fields(Plan):
        track = getattr(whole, item.name)
        if isinstance(track, Track) and item.name != "watch_m":
            track.take(getattr(piece, item.name), since_s, duration_s)
    whole.facing += [replace(f, time_s=f.time_s + since_s) for f in piece.facing]
    whole.hand_changes += [
        HandChange(start_s=c.start_s + since_s, stop_s=c.stop_s + since_s)
        for c in piece.hand_changes
    ]
    for step in piece.steps:
        if isinstance(step, Walk):
            whole.steps.append(
                replace(step, start_s=step.start_s + since_s, stop_s=step.stop_s + since_s)
            )
            continue
        pivot = step.pivot
        if pivot is not None:
            pivot = replace(pivot, start_s=pivot.start_s + since_s, stop_s=pivot.stop_s + since_s)
        whole.steps.append(replace(step, time_s=step.time_s + since_s, pivot=pivot))


def end_of(piece: Plan, since_s: float, duration_s: float) -> Standing:
    """Return how a player stands at the end of a piece that was appended."""
    times = np.arange(int(duration_s * GRID_HZ) + 1) / GRID_HZ
    heading = heading_of(piece, times, piece.path_m.at(times))
    odd = len(piece.hand_changes) % 2 == 1
    return Standing(
        time_s=since_s + duration_s,
        place_m=piece.path_m.at(np.array([duration_s]))[0],
        yaw_rad=float(heading[-1]),
        side=OTHER_FOOT[piece.top_side] if odd else piece.top_side,
    )


def start_of_piece(piece: Plan) -> Standing:
    """Return how a player stands at the start of a piece."""
    return Standing(
        time_s=0.0,
        place_m=piece.path_m.at(np.zeros(1))[0],
        yaw_rad=float(piece.facing[0].yaw_rad or 0.0),
        side=piece.top_side,
    )


def go_between(
    plan: Plan, order: Order, rng: np.random.Generator, here: Standing, there: Standing
) -> tuple[float, str]:
    """Change hands if need be, go, and turn; return when the player stands there, and how he went.

    Parameters
    ----------
    plan : Plan
    order : Order
        Of the piece to come: its stick hand carries the stick.
    rng : Generator
    here, there : Standing
        The time of ``there`` is not looked at.
    """
    when = here.time_s
    if here.side != there.side:
        plan.hand_changes.append(HandChange(start_s=when + 0.05, stop_s=when + _CHANGE_S))
        plan.hands.key(when + _CHANGE_S, ready_hands(there.side, rng))
        when += _CHANGE_S
    distance_m = float(np.linalg.norm(there.place_m - here.place_m))
    turn = (there.yaw_rad - here.yaw_rad + np.pi) % (2 * np.pi) - np.pi
    way = Way(
        leave_s=when,
        start_m=here.place_m,
        stop_m=there.place_m,
        yaw_rad=there.yaw_rad,
        foot=str(rng.choice(["left", "right"])),
    )
    if distance_m >= SHORT_WAY_M:
        jog = bool(rng.random() < 0.5)
        still = travel(plan, order, rng, way, jog=jog)
        return still + 0.45, "jog" if jog else "walk"
    if distance_m > 0.05:
        still = back_up(plan, order, rng, way)
        plan.facing.append(Facing(when, there.yaw_rad, over_s=max(0.5, still - when - 0.2)))
        return still + 0.3, "walk"
    if abs(turn) > np.deg2rad(_TURN_DEG):
        still = when + 0.5 + abs(turn) / 3.0
        plan.facing.append(Facing(when, there.yaw_rad, over_s=still - when - 0.2))
        steps_on(plan, when, way.foot, still, 0.36, 0.05)
        return still + 0.3, "turn"
    return when + float(rng.uniform(0.1, 0.4)), "idle"
