"""Clips drawn at random by a seed: a set that nothing was tuned on is one new seed away."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from . import people
from .entry import ClipEntry, View
from .moves.common import Order
from .people import Person

MOVES = ("high_to_low_shot", "throwback_pass", "close_gap_dodge")
CLIPS_PER_MOVE = 6

YOUTHS = (
    people.YOUTH, people.BOY, people.BOY_GUARD, people.SLIM_BOY, people.SLIM_GIRL,
)  # fmt: skip
ADULTS = (
    people.ADULT, people.LEFTY, people.GUARD, people.WOMAN, people.WOMAN_GUARD,
    people.HELMET_MAN, people.HELMET_GUARD, people.TALL_MAN, people.HEAVY_MAN,
    people.STRONG_WOMAN, people.PLAIN_GUARD,
)  # fmt: skip

STATURE_M = {"youth": (1.42, 1.68), "adult": (1.62, 1.95)}
SIZES = {
    "high_to_low_shot": (0.88, 1.14),
    "throwback_pass": (0.40, 1.0),
    "close_gap_dodge": (0.85, 2.0),
}
_REPS = {"high_to_low_shot": 4, "throwback_pass": 3, "close_gap_dodge": 3}
DISTANCE_M = {
    "high_to_low_shot": (6.4, 7.8),
    "throwback_pass": (7.6, 8.8),
    "close_gap_dodge": (8.8, 9.8),
}
LEAST_FROM_LINE_DEG = {"high_to_low_shot": 0, "throwback_pass": 25, "close_gap_dodge": 35}
"""How far from the line of the run the phone stands: along it, one player hides the other."""


def drawn_clips(seed: int) -> tuple[ClipEntry, ...]:
    """Draw bodies, views, sizes and choreographies of every move.

    Parameters
    ----------
    seed : int
        The same seed gives the same clips.

    Returns
    -------
    tuple of ClipEntry
        `CLIPS_PER_MOVE` of each move, named ``drawn_<seed>_<move>_<number>``.
    """
    return tuple(
        _draw(seed, move, number) for move in MOVES for number in range(1, CLIPS_PER_MOVE + 1)
    )


def _draw(seed: int, move: str, number: int) -> ClipEntry:
    rng = np.random.default_rng([seed, MOVES.index(move), number])
    level = "youth" if rng.random() < 0.4 else "adult"
    athlete, defender = draw_pair(rng, level)
    least_deg = LEAST_FROM_LINE_DEG[move]
    sizes = rng.uniform(*SIZES[move], _REPS[move])
    return ClipEntry(
        name=f"drawn_{seed}_{move}_{number}",
        move=move,
        level=level,
        fps=int(rng.choice([30, 60])),
        athlete=athlete,
        defender=defender if move == "close_gap_dodge" else None,
        order=Order(
            seed=int(rng.integers(1, 10**6)),
            stature_m=athlete.stature_m,
            stick_hand=str(rng.choice(["left", "right"])),
            n_reps=_REPS[move],
            place_m=(round(rng.uniform(-3, 3), 1), round(rng.uniform(8, 13), 1)),
            yaw_deg=float(rng.integers(-180, 180)),
            speed=round(rng.uniform(0.9, 1.0), 2),
            sizes=tuple(float(size) for size in np.round(sizes, 2)),
            flip=bool(rng.random() < 0.5),
            opponent_stature_m=defender.stature_m,
        ),
        view=View(
            around_deg=float(rng.choice([-1, 1]) * rng.integers(least_deg, 181 - least_deg)),
            distance_m=round(rng.uniform(*DISTANCE_M[move]), 1),
            height_m=round(rng.uniform(1.15, 1.6), 2),
            aim_height_m=0.85 if move == "high_to_low_shot" else 0.7,
            fov_deg=float(rng.integers(63, 71)),
            roll_deg=round(rng.uniform(-1.0, 1.0), 1),
        ),
        sun=(round(rng.uniform(-0.6, 0.6), 2), round(rng.uniform(-0.6, 0.6), 2), 0.7),
        noise=round(rng.uniform(1.3, 2.2), 1),
    )


def draw_pair(rng: np.random.Generator, level: str) -> tuple[Person, Person]:
    """Draw two players in different jerseys."""
    first = _draw_person(rng, level)
    while True:
        second = _draw_person(rng, level)
        if second.clothes.jersey != first.clothes.jersey:
            return first, second


def _draw_person(rng: np.random.Generator, level: str) -> Person:
    """Draw a body near one of the invented players, in clothes of another."""
    return draw_person(rng, YOUTHS if level == "youth" else ADULTS, STATURE_M[level])


def draw_person(
    rng: np.random.Generator, models: tuple[Person, ...], stature_range_m: tuple[float, float]
) -> Person:
    """Draw a body near one of some players, in the clothes of another of them."""
    body, wearer = (models[rng.integers(len(models))] for _ in range(2))
    shape = body.shape | {
        part: round(float(np.clip(body.shape[part] + rng.uniform(-0.1, 0.1), 0.25, 0.8)), 2)
        for part in ("muscle", "weight", "proportions")
    }
    stature_m = round(rng.uniform(*stature_range_m), 2)
    clothes = replace(wearer.clothes, long_hair=body.clothes.long_hair)
    return Person(shape=shape, stature_m=stature_m, clothes=clothes)
