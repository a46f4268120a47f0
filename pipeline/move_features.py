"""What a moment of a motion looks like from the body itself: numbers to tell moves apart by."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline.body_frame import BodyFrame
from pipeline.signals import Signals
from pipeline.types import JOINTS, BoolArray, FloatArray, Hand

STEP_S = 0.05
"""Motions are looked at on a grid of this step, whatever the frame rate."""

LONGEST_BRIDGE_S = 0.35
"""Gaps up to this long are bridged by a straight line; longer ones stay unknown."""

BEFORE_S, AFTER_S = 1.6, 0.9
COARSE_S = np.round(np.arange(-BEFORE_S, AFTER_S + 1e-6, 0.1), 2)
FINE_S = np.round(np.arange(-0.45, 0.36, 0.1), 2)
"""Instants about the moment at which everything is read, and those at which the hands are read too."""

EARLIER_S = np.array([-2.8, -2.4, -2.0])
"""Instants at which the path is read as well."""

WAY_S = (-1.2, -0.3)
WAY_BY_CHEST = 0.25
"""The path is seen from the mean direction of the hips in this span before the moment; one who
hardly moves (statures a second) has the direction in which the chest faces."""

TOP_S = (-0.9, -0.05)
ALIKE_HEIGHT = 0.04
"""The higher hand in this span before the moment is the top hand, unless the heights (statures)
differ by less and the hand was told."""

FAR_AWAY = 3.0
"""A defender further away than this many statures is no defender of this rep."""

HAND_CHANNELS = slice(0, 8)
PATH_CHANNELS = ("forward", "left", "speed_forward", "speed_left", "facing_cos", "facing_sin")


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveGrid:
    """A whole motion on an even grid.

    Attributes
    ----------
    time_s
        (n,) every `STEP_S`.
    body
        (n, 18) left hand, right hand (front, left, up), speed of each hand, nose (front, up),
        height of mid-hip, turn of hips against shoulders, left ankle, right ankle; statures.
    path
        (n, 2) place of mid-hip on the ground, statures.
    velocity
        (n, 2) its velocity in the same axes.
    turn_rad
        (n,) direction that the chest faces in those axes.
    defender
        (n, 2) place of the defender in those axes; NaN where there is none.
    known
        (n,) share of what was seen.
    """

    time_s: FloatArray
    body: FloatArray
    path: FloatArray
    velocity: FloatArray
    turn_rad: FloatArray
    defender: FloatArray
    known: FloatArray


def move_grid(frame: BodyFrame, athlete: Signals, defender: Signals | None) -> MoveGrid:
    """Put a motion on the even grid.

    Parameters
    ----------
    frame
        The athlete's body, see `pipeline.body_frame`.
    athlete, defender
        Signals over the same frames; the defender may be None.

    Returns
    -------
    MoveGrid
    """
    stature_m = athlete.stature_m
    time_s = np.arange(frame.time_s[0], frame.time_s[-1] + 1e-9, STEP_S)

    def put(values: FloatArray) -> FloatArray:
        return _on_grid(frame.time_s, values, time_s)

    def joint(name: str) -> FloatArray:
        return frame.joints[:, JOINTS.index(name)]

    def line(part: str) -> FloatArray:
        way = joint(f"left_{part}") - joint(f"right_{part}")
        return np.asarray(np.arctan2(-way[:, 0], way[:, 1]))

    left, right = joint("left_hand"), joint("right_hand")
    # Where one hand is hidden the other stands in for it: both are on the shaft.
    left, right = np.where(np.isfinite(left), left, right), np.where(np.isfinite(right), right, left)
    facing, aside = athlete.facing, athlete.facing[:, ::-1] * [-1.0, 1.0]
    fixed = [
        np.concatenate([hand[:, :1] * facing + hand[:, 1:2] * aside, hand[:, 2:]], axis=1)
        for hand in (left, right)
    ]
    hands = put(np.concatenate([left, right], axis=1))
    speeds = [_speed(put(hand)) for hand in fixed]
    twist = np.angle(np.exp(1j * (line("hip") - line("shoulder"))))
    rest = put(
        np.column_stack([
            joint("nose")[:, [0, 2]], frame.hip_height, twist, joint("left_ankle"),
            joint("right_ankle"),
        ])
    )  # fmt: skip
    places = put(athlete.hips_m / stature_m)
    other = np.full_like(places, np.nan)
    if defender is not None and defender.hips_m.shape == athlete.hips_m.shape:
        other = put(defender.hips_m / stature_m)
    body = np.column_stack([hands, *speeds, rest])
    return MoveGrid(
        time_s=time_s,
        body=body,
        path=places,
        velocity=put(athlete.hips_mps / stature_m),
        turn_rad=put(frame.turn_rad[:, None])[:, 0],
        defender=other,
        known=np.isfinite(body).mean(axis=1),
    )


def _speed(place: FloatArray) -> FloatArray:
    if len(place) < 3:
        return np.zeros(len(place))
    return np.asarray(np.linalg.norm(np.gradient(place, STEP_S, axis=0), axis=1))


def _on_grid(time_s: FloatArray, values: FloatArray, grid_s: FloatArray) -> FloatArray:
    """Mean of the frames about each instant where there are several, else on a straight line."""
    values = np.asarray(values, dtype=float)
    found = np.full((grid_s.size, values.shape[1]), np.nan)
    dense = float(np.median(np.diff(time_s))) < 0.6 * STEP_S
    for column in range(values.shape[1]):
        known = np.isfinite(values[:, column])
        if known.sum() < 2:
            continue
        at_s, value = time_s[known], values[known, column]
        if dense:
            # The integral of the polygon through the samples, between the middles of the grid.
            total = np.concatenate([[0.0], np.cumsum(0.5 * (value[1:] + value[:-1]) * np.diff(at_s))])
            edges = np.concatenate([grid_s - 0.5 * STEP_S, grid_s[-1:] + 0.5 * STEP_S])
            edges = np.clip(edges, at_s[0], at_s[-1])
            wide = np.diff(edges)
            with np.errstate(invalid="ignore", divide="ignore"):
                mean = np.diff(np.interp(edges, at_s, total)) / wide
            found[:, column] = np.where(wide > 0.2 * STEP_S, mean, np.interp(grid_s, at_s, value))
        else:
            found[:, column] = np.interp(grid_s, at_s, value)
        after = np.searchsorted(at_s, grid_s)
        gap_s = at_s[np.minimum(after, at_s.size - 1)] - at_s[np.maximum(after - 1, 0)]
        outside = (grid_s < at_s[0] - STEP_S) | (grid_s > at_s[-1] + STEP_S)
        found[(gap_s > LONGEST_BRIDGE_S) | outside, column] = np.nan
    return found


def mirrored_grid(grid: MoveGrid) -> MoveGrid:
    """Mirror a motion: left and right change places."""
    columns = [3, 4, 5, 0, 1, 2, 7, 6, 8, 9, 10, 11, 15, 16, 17, 12, 13, 14]
    signs = np.ones(18)
    signs[[1, 4, 11, 13, 16]] = -1.0
    flip = np.array([1.0, -1.0])
    return MoveGrid(
        time_s=grid.time_s,
        body=grid.body[:, columns] * signs,
        path=grid.path * flip,
        velocity=grid.velocity * flip,
        turn_rad=-grid.turn_rad,
        defender=grid.defender * flip,
        known=grid.known,
    )


def right_on_top(grid: MoveGrid, rows: np.ndarray, told_hand: Hand | None = None) -> BoolArray:
    """Tell for each row of the grid whether the right hand is the top hand before it."""
    about = _rows(grid, rows, np.arange(*TOP_S, STEP_S))
    with np.errstate(invalid="ignore"):
        higher = grid.body[about, 5] - grid.body[about, 2]
        known = np.isfinite(higher).any(axis=1)
        mean = np.where(known, np.nan_to_num(higher).sum(axis=1), 0.0)
        mean = mean / np.maximum(np.isfinite(higher).sum(axis=1), 1)
    if told_hand is not None:
        mean = np.where(np.abs(mean) < ALIKE_HEIGHT, 1.0 if told_hand == "right" else -1.0, mean)
    return np.asarray(mean >= 0.0)


def features_at(grid: MoveGrid, rows: np.ndarray, right: BoolArray) -> FloatArray:
    """Numbers that tell moves apart, about each of some moments.

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
    for side, one in ((right, grid), (~right, mirrored_grid(grid))):
        if side.any():
            found[side] = _features(one, rows[side])
    return found


def _rows(grid: MoveGrid, rows: np.ndarray, offsets_s: FloatArray) -> np.ndarray:
    offsets = np.round(np.asarray(offsets_s) / STEP_S).astype(int)
    return np.asarray(np.clip(rows[:, None] + offsets, 0, grid.time_s.size - 1))


def _features(grid: MoveGrid, rows: np.ndarray) -> FloatArray:
    coarse, fine = _rows(grid, rows, COARSE_S), _rows(grid, rows, FINE_S)
    path = _path_features(grid, rows)
    parts = [
        grid.body[coarse].reshape(rows.size, -1),
        grid.body[fine][..., HAND_CHANNELS].reshape(rows.size, -1),
        *path.values(),
        grid.known[coarse].mean(axis=1, keepdims=True),
        _summary(grid, rows, path),
    ]
    return np.concatenate(parts, axis=1).astype(np.float32)


def _way(grid: MoveGrid, rows: np.ndarray) -> FloatArray:
    """(m, 2) unit direction from which the path is seen."""
    before = grid.velocity[_rows(grid, rows, np.arange(*WAY_S, STEP_S))]
    known = np.isfinite(before[..., 0])
    mean = np.nan_to_num(before).sum(axis=1) / np.maximum(known.sum(axis=1), 1)[:, None]
    turn = np.nan_to_num(grid.turn_rad[_rows(grid, rows, np.array([-0.5]))[:, 0]])
    way = mean + WAY_BY_CHEST * np.column_stack([np.cos(turn), np.sin(turn)])
    return np.asarray(way / np.maximum(np.linalg.norm(way, axis=1, keepdims=True), 1e-9))


def _path_features(grid: MoveGrid, rows: np.ndarray) -> dict[str, FloatArray]:
    """Place, velocity and facing about the moment along and across the way, and the defender."""
    way = _way(grid, rows)
    across = np.column_stack([-way[:, 1], way[:, 0]])
    axes = np.stack([way, across], axis=1)
    about = _rows(grid, rows, np.concatenate([EARLIER_S, COARSE_S]))
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
        return np.asarray(values[_rows(grid, rows, np.arange(start_s, stop_s + 1e-9, STEP_S))])

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
    18 * COARSE_S.size
    + 8 * FINE_S.size
    + 10 * (COARSE_S.size + EARLIER_S.size)
    + 1
    + N_SUMMARY
)
