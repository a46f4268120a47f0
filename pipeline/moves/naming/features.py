"""What a moment of a motion looks like from the body itself: features that separate moves."""

from __future__ import annotations

import numpy as np

from pipeline.core.types import BoolArray, FloatArray, Hand
from pipeline.moves.naming.grid import STEP_S, MoveGrid, mirrored_grid

BEFORE_S, AFTER_S = 1.6, 0.9
COARSE_S = np.round(np.arange(-BEFORE_S, AFTER_S + 1e-6, 0.1), 2)
FINE_S = np.round(np.arange(-0.45, 0.36, 0.1), 2)
"""Instants about the moment at which everything is read, and more at which the hands are."""

EARLIER_S = np.array([-2.8, -2.4, -2.0])
"""Instants at which the path is read as well."""

WAY_S = (-1.2, -0.3)
WAY_BY_CHEST = 0.25
"""The path is seen from the mean direction of the hips in this span before the moment; one who
hardly moves (statures a second) has the direction in which the chest faces."""

TOP_S = (-0.9, -0.05)
ALIKE_HEIGHT = 0.04
"""The higher hand in this span before the moment is the top hand, unless the heights (statures)
differ by less and the hand is known."""

FAR_AWAY = 3.0
"""A defender further away than this many statures is no defender of this rep."""

HAND_CHANNELS = slice(0, 8)


def right_on_top(grid: MoveGrid, rows: np.ndarray, given_hand: Hand | None = None) -> BoolArray:
    """Tell for each row of the grid whether the right hand is the top hand before it."""
    about = rows_about(grid, rows, np.arange(*TOP_S, STEP_S))
    with np.errstate(invalid="ignore"):
        higher = grid.body[about, 5] - grid.body[about, 2]
        known = np.isfinite(higher).any(axis=1)
        mean = np.where(known, np.nan_to_num(higher).sum(axis=1), 0.0)
        mean = mean / np.maximum(np.isfinite(higher).sum(axis=1), 1)
    if given_hand is not None:
        mean = np.where(np.abs(mean) < ALIKE_HEIGHT, 1.0 if given_hand == "right" else -1.0, mean)
    return np.asarray(mean >= 0.0)


def features_at(grid: MoveGrid, rows: np.ndarray, right: BoolArray) -> FloatArray:
    """Features that separate moves, about each of some moments.

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
    numpy.ndarray
        (m, `N_FEATURES`) float32; NaN where something was not seen.
    """
    rows = np.asarray(rows, dtype=int)
    found = np.full((rows.size, N_FEATURES), np.nan, np.float32)
    for side, one in seen_right_handed(grid, right):
        found[side] = _features(one, rows[side])
    return found


def seen_right_handed(grid: MoveGrid, right: BoolArray) -> list[tuple[BoolArray, MoveGrid]]:
    """Give the moments with the right hand on top with the motion, the others with its mirror."""
    sides = [(right, grid), (~right, mirrored_grid(grid))]
    return [(side, one) for side, one in sides if side.any()]


def rows_about(grid: MoveGrid, rows: np.ndarray, offsets_s: FloatArray) -> np.ndarray:
    """(m, n) rows of the grid at n offsets from each of m rows, kept inside the grid."""
    offsets = np.round(np.asarray(offsets_s) / STEP_S).astype(int)
    return np.asarray(np.clip(rows[:, None] + offsets, 0, grid.time_s.size - 1))


def _features(grid: MoveGrid, rows: np.ndarray) -> FloatArray:
    coarse, fine = rows_about(grid, rows, COARSE_S), rows_about(grid, rows, FINE_S)
    path = _path_features(grid, rows)
    parts = [
        grid.body[coarse].reshape(rows.size, -1),
        grid.body[fine][..., HAND_CHANNELS].reshape(rows.size, -1),
        *path.values(),
        grid.known[coarse].mean(axis=1, keepdims=True),
        _summary(grid, rows, path),
    ]
    return np.asarray(np.concatenate(parts, axis=1), dtype=np.float32)


def _way(grid: MoveGrid, rows: np.ndarray) -> FloatArray:
    """(m, 2) unit direction from which the path is seen."""
    before = grid.velocity[rows_about(grid, rows, np.arange(*WAY_S, STEP_S))]
    known = np.isfinite(before[..., 0])
    mean = np.nan_to_num(before).sum(axis=1) / np.maximum(known.sum(axis=1), 1)[:, None]
    turn = np.nan_to_num(grid.turn_rad[rows_about(grid, rows, np.array([-0.5]))[:, 0]])
    way = mean + WAY_BY_CHEST * np.column_stack([np.cos(turn), np.sin(turn)])
    return np.asarray(way / np.maximum(np.linalg.norm(way, axis=1, keepdims=True), 1e-9))


def _path_features(grid: MoveGrid, rows: np.ndarray) -> dict[str, FloatArray]:
    """Place, velocity and facing about the moment along and across the way, and the defender."""
    way = _way(grid, rows)
    across = np.column_stack([-way[:, 1], way[:, 0]])
    axes = np.stack([way, across], axis=1)
    about = rows_about(grid, rows, np.concatenate([EARLIER_S, COARSE_S]))
    place = grid.path[about] - grid.path[rows][:, None]
    place = np.einsum("mij,mkj->mki", axes, place)
    velocity = np.einsum("mij,mkj->mki", axes, grid.velocity[about])
    angle = grid.turn_rad[about] - np.arctan2(way[:, 1], way[:, 0])[:, None]
    now = grid.turn_rad[rows][:, None]
    other = grid.defender[about] - grid.path[about]
    other = np.einsum("mij,mkj->mki", axes, other)
    far = np.linalg.norm(other, axis=-1)
    with np.errstate(invalid="ignore"):
        near = far < FAR_AWAY
    nearness = np.where(near, 1.0 - far / FAR_AWAY, 0.0)
    return {
        "place": place.reshape(rows.size, -1),
        "velocity": velocity.reshape(rows.size, -1),
        "cosine": np.cos(angle),
        "sine": np.sin(angle),
        "turned": grid.turn_rad[about] - now,
        "nearness": nearness,
        "other_ahead": np.where(near, other[..., 0] / FAR_AWAY, 0.0),
        "other_aside": np.where(near, other[..., 1] / FAR_AWAY, 0.0),
    }


def _summary(grid: MoveGrid, rows: np.ndarray, path: dict[str, FloatArray]) -> FloatArray:
    """Heights, drops, speeds and turns about the moment."""

    def span(values: FloatArray, start_s: float, stop_s: float) -> FloatArray:
        return np.asarray(values[rows_about(grid, rows, np.arange(start_s, stop_s + 1e-9, STEP_S))])

    filled = np.where(np.isfinite(grid.body), grid.body, np.nanmean(_some(grid.body), axis=0))
    top, bottom = filled[:, 5] + filled[:, 10], filled[:, 2] + filled[:, 10]
    snap = filled[:, 7]
    velocity = np.nan_to_num(grid.velocity)
    pace = np.linalg.norm(velocity, axis=1)
    turn = np.nan_to_num(grid.turn_rad)
    before, after = (span(velocity, *s).mean(axis=1) for s in ((-0.7, -0.2), (0.25, 0.7)))
    bend = np.arctan2(
        before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0], np.sum(before * after, axis=1)
    )
    higher = filled[:, 5] - filled[:, 2]
    apart = np.linalg.norm(filled[:, 0:3] - filled[:, 3:6], axis=1)
    turned = span(turn, -0.9, 0.6) - turn[rows][:, None]
    columns = [
        span(top, -1.2, -0.05).max(axis=1), span(top, -1.2, -0.05).min(axis=1), top[rows],
        span(top, -1.2, -0.05).max(axis=1) - top[rows], bottom[rows],
        span(bottom, -1.2, -0.05).max(axis=1), span(bottom, -1.2, -0.05).min(axis=1),
        span(snap, -0.15, 0.15).max(axis=1), span(snap, -1.5, -0.3).max(axis=1),
        span(snap, 0.3, 0.9).max(axis=1), span(pace, -0.7, -0.2).mean(axis=1),
        span(pace, -0.4, 0.4).min(axis=1), span(pace, 0.25, 0.8).max(axis=1),
        span(pace, -2.0, -0.3).max(axis=1), np.cos(bend), np.sin(bend),
        turned.max(axis=1), turned.min(axis=1), np.ptp(turned, axis=1),
        span(turn, 0.4, 0.8).mean(axis=1) - span(turn, -0.9, -0.5).mean(axis=1),
        span(higher, -0.9, -0.4).mean(axis=1), span(higher, 0.4, 0.9).mean(axis=1),
        span(apart, -0.6, 0.6).max(axis=1), span(apart, -0.6, 0.6).mean(axis=1),
        span(filled[:, 10], -0.9, 0.5).min(axis=1), span(filled[:, 10], -0.9, 0.5).max(axis=1),
        path["nearness"].max(axis=1),
    ]  # fmt: skip
    return np.column_stack(columns)


def _some(body: FloatArray) -> FloatArray:
    """Put a row of zeros to what was never seen, so that a mean exists."""
    return np.where(np.isfinite(body).any(axis=0), body, 0.0)


N_SUMMARY = 27
N_FEATURES = (
    18 * COARSE_S.size + 8 * FINE_S.size + 10 * (COARSE_S.size + EARLIER_S.size) + 1 + N_SUMMARY
)
