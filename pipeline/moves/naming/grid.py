"""A whole motion on an even grid of time, in the body frame: the input of naming."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline.core.types import JOINTS, FloatArray
from pipeline.moves.body_frame import BodyFrame
from pipeline.moves.signals import Signals

STEP_S = 0.05
"""Motions are looked at on a grid of this step, whatever the frame rate."""

LONGEST_BRIDGE_S = 0.35
"""Gaps up to this long are bridged by a straight line; longer ones stay unknown."""


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
        (n, 2) place of the defender in those axes; NaN where missing.
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
        The athlete's body, see `pipeline.moves.body_frame`.
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
    left, right = (
        np.where(np.isfinite(left), left, right),
        np.where(np.isfinite(right), right, left),
    )
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
            total = np.concatenate(
                [[0.0], np.cumsum(0.5 * (value[1:] + value[:-1]) * np.diff(at_s))]
            )
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
