"""Long films drawn by a seed: ten minutes of one player or of two, filmed by a phone on a stand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from .drawn_set import draw_pair
from .entry import ClipEntry, View
from .moves.common import Order
from .moves.season import VIEW_DISTANCE_M, VIEW_FOV_DEG
from .moves_set import CLEAR_OF_GOAL_M, SIZE_PX
from .scene import GOAL_M

REPS, SHORT_REPS = 50, 8
"""About so many reps: ten minutes, or a minute and a half."""
CELLS_M = (0.020, 0.030)
"""A coarser mesh than in short clips: the figure is small, and 18 000 frames take long."""


def season_clips(seed: int, n_reps: int = REPS, *, paired: bool = False) -> tuple[ClipEntry, ...]:
    """Draw one long film.

    Parameters
    ----------
    seed : int
        The same seed gives the same film.
    n_reps : int
        About how many reps it holds.
    paired : bool
        Whether a second player defends the dodges and stands by otherwise.

    Returns
    -------
    tuple of one ClipEntry
        Named ``season_<seed>``, or ``season_pair_<seed>`` or ``season_short_<seed>``.
    """
    rng = np.random.default_rng([seed, 99])
    level = "youth" if rng.random() < 0.4 else "adult"
    athlete, other = draw_pair(rng, level)
    kind = "season_pair" if paired else "season"
    entry = ClipEntry(
        name=f"{kind}_{seed}" if n_reps == REPS else f"{kind}_short_{seed}",
        move="season",
        level=level,
        fps=30,
        size_px=SIZE_PX,
        athlete=athlete,
        defender=other if paired else None,
        order=Order(
            seed=int(rng.integers(1, 10**6)),
            stature_m=athlete.stature_m,
            stick_hand=str(rng.choice(["left", "right", "right"])),
            n_reps=n_reps,
            place_m=(round(rng.uniform(-2, 2), 1), round(rng.uniform(8.5, 11), 1)),
            yaw_deg=float(rng.integers(-180, 180)),
            speed=round(rng.uniform(0.9, 1.0), 2),
            opponent_stature_m=other.stature_m,
            defended=paired,
        ),
        centre_from_place_m=(0.0, 0.0),
        view=View(
            around_deg=180.0,
            distance_m=VIEW_DISTANCE_M,
            height_m=round(rng.uniform(1.25, 1.6), 2),
            aim_height_m=0.8,
            fov_deg=VIEW_FOV_DEG,
            roll_deg=round(rng.uniform(-0.8, 0.8), 1),
        ),
        sun=(round(rng.uniform(-0.6, 0.6), 2), round(rng.uniform(-0.6, 0.6), 2), 0.7),
        cells_m=CELLS_M,
        noise=round(rng.uniform(1.3, 2.0), 1),
    )
    x, y, _ = entry.camera_m()
    clear = float(np.hypot(x, y)) > CLEAR_OF_GOAL_M + GOAL_M / 2
    return (entry if clear else replace(entry, goal=False, crease=False),)
