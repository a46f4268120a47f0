"""What a body shows about a moment, as far as the definitions of the moves ask for it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline.core.types import BoolArray, FloatArray
from pipeline.moves.naming.features import rows_about, seen_right_handed
from pipeline.moves.naming.grid import STEP_S, MoveGrid

BEFORE_RELEASE_S = np.arange(-1.3, -0.04, STEP_S)
ABOUT_RELEASE_S = np.arange(-0.9, 0.31, STEP_S)
RUN_IN_S = np.arange(-0.7, -0.19, STEP_S)
AT_DODGE_S = np.arange(-0.3, 0.01, STEP_S)
FASTEST_RUN_S, SLOWEST_S = np.arange(-1.2, -0.29, STEP_S), np.arange(-0.4, 0.51, STEP_S)
AFTER_DODGE_S = np.arange(0.4, 0.96, STEP_S)
GOING_ON_S, LASTING_S = np.arange(0.3, 0.61, STEP_S), np.arange(0.5, 1.01, STEP_S)
ABOUT_SPIN_S = np.arange(-1.0, 1.01, STEP_S)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """What is seen about each of m moments, the top hand taken for the right one; NaN = not seen.

    Attributes
    ----------
    lowest_hand, highest_hand, hand_at_release
        (m,) height of the top hand above mid-hip, statures.
    trunk_turn_rad, spin_rad
        (m,) how far the chest turns about a throw; the longest way in one sense about a dodge.
    defender_rad, defender_away
        (m,) angle between the run-in and the way to the defender; his distance, statures.
    hand_order_after
        (m,) height of the hand that was on top over the other one, after a dodge, statures.
    hands_apart
        (m,) median distance of the hands, statures.
    run_in, slowest_share, after_share
        (m,) greatest speed of the run before a dodge, statures a second; the least speed about it
        and the speed after it, as shares of that.
    lasting_turn_rad
        (m,) angle between the ways of the run before a dodge and after it.
    hand_at_dodge
        (m,) least height of the top hand above mid-hip about a dodge, statures.
    """

    lowest_hand: FloatArray
    highest_hand: FloatArray
    hand_at_release: FloatArray
    trunk_turn_rad: FloatArray
    spin_rad: FloatArray
    defender_rad: FloatArray
    defender_away: FloatArray
    hand_order_after: FloatArray
    hands_apart: FloatArray
    run_in: FloatArray
    slowest_share: FloatArray
    after_share: FloatArray
    lasting_turn_rad: FloatArray
    hand_at_dodge: FloatArray


def shown_at(grid: MoveGrid, rows: np.ndarray, right: BoolArray) -> Shown:
    """Read what the rules ask for about some moments.

    Parameters
    ----------
    grid
        The motion.
    rows
        (m,) rows of the grid.
    right
        (m,) whether the right hand is on top; the others are mirrored.

    Returns
    -------
    Shown
    """
    rows = np.asarray(rows, dtype=int)
    found = {name: np.full(rows.size, np.nan) for name in Shown.__dataclass_fields__}
    for side, one in seen_right_handed(grid, right):
        for name, values in _shown(one, rows[side]).items():
            found[name][side] = values
    return Shown(**found)


def _shown(grid: MoveGrid, rows: np.ndarray) -> dict[str, FloatArray]:
    top, bottom = grid.body[:, 5], grid.body[:, 2]
    before = _steadied(top[rows_about(grid, rows, BEFORE_RELEASE_S)])
    now = _steadied(top[rows_about(grid, rows, np.array([-STEP_S, 0.0, STEP_S]))])
    turn = grid.turn_rad[rows_about(grid, rows, ABOUT_RELEASE_S)]
    spin = grid.turn_rad[rows_about(grid, rows, ABOUT_SPIN_S)]
    run = _mean(grid.velocity[rows_about(grid, rows, RUN_IN_S)])
    him = rows_about(grid, rows, AT_DODGE_S)
    him_m = _mean(grid.defender[him] - grid.path[him])
    cross = run[:, 0] * him_m[:, 1] - run[:, 1] * him_m[:, 0]
    pace = np.linalg.norm(grid.velocity, axis=1)
    fastest = _fold(np.fmax, _steadied(pace[rows_about(grid, rows, FASTEST_RUN_S)]))
    slowest = _fold(np.fmin, _steadied(pace[rows_about(grid, rows, SLOWEST_S)]))
    after = rows_about(grid, rows, AFTER_DODGE_S)
    later = _mean(grid.velocity[rows_about(grid, rows, LASTING_S)])
    going_on = _steadied(pace[rows_about(grid, rows, GOING_ON_S)])
    bend = run[:, 0] * later[:, 1] - run[:, 1] * later[:, 0]
    spread = rows_about(grid, rows, ABOUT_RELEASE_S)
    apart = np.linalg.norm(grid.body[spread][..., 0:3] - grid.body[spread][..., 3:6], axis=-1)
    return {
        "lowest_hand": _fold(np.fmin, before),
        "highest_hand": _fold(np.fmax, before),
        "hand_at_release": now[:, 1],
        "trunk_turn_rad": _fold(np.fmax, turn) - _fold(np.fmin, turn),
        "spin_rad": _fold(np.fmax, spin) - _fold(np.fmin, spin),
        "defender_rad": np.abs(np.arctan2(cross, np.sum(run * him_m, axis=1))),
        "defender_away": np.linalg.norm(him_m, axis=1),
        "hand_order_after": _mean(top[after] - bottom[after]),
        "run_in": fastest,
        "slowest_share": slowest / np.maximum(fastest, 1e-3),
        "after_share": _fold(np.fmax, going_on) / np.maximum(fastest, 1e-3),
        "lasting_turn_rad": np.abs(np.arctan2(bend, np.sum(run * later, axis=1))),
        "hand_at_dodge": _fold(np.fmin, _steadied(top[rows_about(grid, rows, SLOWEST_S)])),
        "hands_apart": np.asarray(np.nanmedian(np.nan_to_num(apart, nan=0.2), axis=1)),
    }


def _steadied(values: FloatArray) -> FloatArray:
    """Mean of each value and its two neighbours (m, n); NaN beside what was not seen."""
    inner = (values[:, :-2] + values[:, 1:-1] + values[:, 2:]) / 3.0
    return np.concatenate([values[:, :1] + np.nan, inner, values[:, -1:] + np.nan], axis=1)


def _fold(how: np.ufunc, values: FloatArray) -> FloatArray:
    """Least or greatest of what was seen in each row."""
    return np.asarray(how.reduce(values, axis=1))


def _mean(values: FloatArray) -> FloatArray:
    """Mean over the second axis of what was seen; NaN where nothing was."""
    known = np.isfinite(values)
    count = known.sum(axis=1)
    total = np.where(known, values, 0.0).sum(axis=1)
    return np.asarray(np.where(count > 0, total / np.maximum(count, 1), np.nan))
