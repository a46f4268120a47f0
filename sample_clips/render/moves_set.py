"""Clips of every taught move, and of moves that are never taught, drawn at random by a seed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from zlib import crc32

import numpy as np

from .drawn_set import draw_pair
from .entry import ClipEntry, View
from .moves import foreign
from .moves.common import Floats, Order, direction
from .performance import CHOREOGRAPHERS
from .scene import GOAL_M

CLIPS_PER_MOVE = 2
FPS, FPS_SHARE = (30, 60), (0.75, 0.25)
SIZE_PX = (960, 540)
DISTANCE_M = (6.2, 11.5)
"""The phone stands just so far away that the whole action is in the picture."""
BODY_MARGIN_M = 0.75
"""Room at both sides of mid-hip for arms and stick."""
NEAREST_M = 4.2
"""No player comes nearer to the phone."""
CLEAR_OF_GOAL_M = 2.8
"""Where phone or players come nearer to the goal line, the goal is left away."""
TRIES = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class OfSet:
    """How the clips of one move are drawn.

    Attributes
    ----------
    reps : (least, most)
    sizes : (low, high), optional
        Of a rep, in the unit of the move's `Order.sizes`; without it the choreography draws them.
    defended_share : float
        Share of clips with a defender.
    least_from_line_deg : int
        How far from the line of the run the phone stands where a defender may be hidden.
    """

    reps: tuple[int, int] = (3, 4)
    sizes: tuple[float, float] | None = None
    defended_share: float = 0.0
    least_from_line_deg: int = 0


MOVES_OF_SET: dict[str, OfSet] = {
    "high_to_low_shot": OfSet(sizes=(0.88, 1.14)),
    "throwback_pass": OfSet(reps=(3, 3), sizes=(0.40, 1.0), least_from_line_deg=20),
    "close_gap_dodge": OfSet(
        reps=(3, 3), sizes=(0.85, 2.0), defended_share=1.0, least_from_line_deg=35
    ),
    "split_dodge": OfSet(sizes=(0.17, 0.36), defended_share=0.5, least_from_line_deg=30),
    "angle_cut_dodge": OfSet(sizes=(62.0, 122.0), defended_share=0.5, least_from_line_deg=25),
    "roll_dodge": OfSet(sizes=(262.0, 345.0), defended_share=0.5, least_from_line_deg=30),
    "hesitation_dodge": OfSet(sizes=(0.05, 0.42), defended_share=0.5, least_from_line_deg=30),
    "low_to_high_shot": OfSet(sizes=(0.34, 0.54)),
    "on_the_run_shot": OfSet(reps=(3, 3), sizes=(3.0, 4.6)),
    "step_down_shot": OfSet(sizes=(-0.5, 0.9)),
    "pivot_throwback_pass": OfSet(reps=(3, 3), sizes=(0.7, 1.9)),
}
"""Every taught move of the set; a new one is one line here."""
FOREIGN = OfSet(reps=(2, 3))


def moves_clips(seed: int) -> tuple[ClipEntry, ...]:
    """Draw bodies, views, hands and choreographies.

    Parameters
    ----------
    seed : int
        The same seed gives the same clips, whatever other moves are in the table.

    Returns
    -------
    tuple of ClipEntry
        `CLIPS_PER_MOVE` of each taught move, ``moves_<seed>_<move>_<number>``, and one of each
        kind that is never taught, ``moves_<seed>_unknown_<kind>``.
    """
    taught = [
        draw_clip(move, seed, number)
        for move in MOVES_OF_SET
        for number in range(1, CLIPS_PER_MOVE + 1)
    ]
    return (*taught, *(draw_clip("unknown", seed, 1, kind) for kind in foreign.KINDS))


def draw_clip(move: str, seed: int, number: int, kind: str = "") -> ClipEntry:
    """Draw one clip; ``kind`` names the move that is never taught, for the move ``unknown``.

    Raises
    ------
    ValueError
        If no draw fits into the picture.
    """
    rng = np.random.default_rng([seed, crc32(f"{move} {kind}".encode()), number])
    of_set = FOREIGN if kind else MOVES_OF_SET[move]
    name = f"moves_{seed}_{move}_{kind or number}"
    for _ in range(TRIES):
        entry = _framed(_draw(rng, name, move, of_set, kind), rng)
        if entry.view.distance_m <= DISTANCE_M[1]:
            return entry
    message = f"{name}: the action does not fit into the picture"
    raise ValueError(message)


def _draw(rng: np.random.Generator, name: str, move: str, of_set: OfSet, kind: str) -> ClipEntry:
    """Draw everything but how far away the phone stands."""
    level = "youth" if rng.random() < 0.4 else "adult"
    athlete, defender = draw_pair(rng, level)
    defended = bool(rng.random() < of_set.defended_share)
    n_reps = int(rng.integers(of_set.reps[0], of_set.reps[1] + 1))
    sizes = () if of_set.sizes is None else rng.uniform(*of_set.sizes, n_reps).round(3)
    least_deg = of_set.least_from_line_deg
    return ClipEntry(
        name=name,
        move=move,
        level=level,
        fps=int(rng.choice(FPS, p=FPS_SHARE)),
        size_px=SIZE_PX,
        athlete=athlete,
        defender=defender if defended else None,
        order=Order(
            seed=int(rng.integers(1, 10**6)),
            stature_m=athlete.stature_m,
            stick_hand=str(rng.choice(["left", "right"])),
            n_reps=n_reps,
            place_m=(round(rng.uniform(-3, 3), 1), round(rng.uniform(8, 13), 1)),
            yaw_deg=float(rng.integers(-180, 180)),
            speed=round(rng.uniform(0.86, 1.04), 2),
            sizes=tuple(float(size) for size in sizes),
            flip=bool(rng.random() < 0.4),
            opponent_stature_m=defender.stature_m,
            defended=defended,
            kind=kind,
        ),
        view=View(
            around_deg=float(rng.choice([-1, 1]) * rng.integers(least_deg, 181 - least_deg)),
            distance_m=DISTANCE_M[0],
            height_m=round(rng.uniform(1.15, 1.6), 2),
            aim_height_m=0.8,
            fov_deg=float(rng.integers(63, 71)),
            roll_deg=round(rng.uniform(-1.0, 1.0), 1),
        ),
        sun=(round(rng.uniform(-0.6, 0.6), 2), round(rng.uniform(-0.6, 0.6), 2), 0.7),
        noise=round(rng.uniform(1.3, 2.2), 1),
    )


def _framed(entry: ClipEntry, rng: np.random.Generator) -> ClipEntry:
    """Return the entry with the phone aimed at the middle of the action, just far enough away."""
    order, view = entry.order, entry.view
    choreography = CHOREOGRAPHERS[entry.move](order)
    when = np.arange(0.0, choreography.duration_s, 0.1)
    plans = [p for p in (choreography.athlete, choreography.defender) if p is not None]
    paths: Floats = np.concatenate([plan.path_m.at(when) for plan in plans])
    yaw = float(np.deg2rad(order.yaw_deg))
    ahead, left = direction(yaw), direction(yaw + np.pi / 2)
    around = paths - np.asarray(order.place_m)
    along = np.stack([around @ ahead, around @ left], axis=1)
    middle = (along.min(axis=0) + along.max(axis=0)) / 2
    out = direction(float(np.deg2rad(view.around_deg)))
    towards = (along - middle) @ out
    aside = np.abs((along - middle) @ np.array([-out[1], out[0]]))
    slope = 0.97 * np.tan(np.deg2rad(view.fov_deg) / 2)
    needed = max(
        float((towards + (aside + BODY_MARGIN_M) / slope).max()), float(towards.max()) + NEAREST_M
    )
    distance_m = max(needed, DISTANCE_M[0]) + rng.uniform(0.0, 0.6)
    framed = replace(
        entry,
        centre_from_place_m=(round(float(middle[0]), 2), round(float(middle[1]), 2)),
        view=replace(view, distance_m=round(distance_m, 1)),
    )
    spots = np.vstack([paths, framed.camera_m()[:2]])
    beside = np.clip(spots[:, 0], -0.5 * GOAL_M, 0.5 * GOAL_M)
    free_m = float(np.hypot(spots[:, 0] - beside, spots[:, 1]).min())
    return framed if free_m > CLEAR_OF_GOAL_M else replace(framed, goal=False, crease=False)
