"""A script: what a simulated body does over some seconds, and where in it a rep lies."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from models.moves.classifier import NOT_A_REP
from pipeline.core.types import FloatArray

RATE_HZ = 60.0
"""Scripts are written on this grid; films are sampled from it at their own rate."""

GO = slice(0, 2)
CHEST, TWIST, HIP = 2, 3, 4
LEAN = slice(5, 7)
HEAD = 7
LEFT = slice(8, 11)
RIGHT = slice(11, 14)
HANDS = slice(8, 14)
N_CONTROLS = 14
"""Columns of the controls: velocity of mid-hip forward and left of the script's own direction
(statures a second); where the chest faces against that direction, and the hips against the chest
(rad, anticlockwise from above); height of mid-hip (statures); lean of the trunk to the front and to
the left (rad); pitch of the head (rad, up); the left and the right hand from mid-hip: to the front
of the chest, to its left, up (statures)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Script:
    """Controls of a body over some seconds.

    Attributes
    ----------
    controls
        (n, `N_CONTROLS`) at `RATE_HZ`.
    label
        Key of the move, `OTHER` for a rep of a move that is not taught, or `NOT_A_REP`.
    start_s, stop_s, key_s
        Window of the rep and its key instant (release, or the change of way or pace); NaN if none.
    right_on_top
        Whether the right hand is the top hand at the start.
    """

    controls: FloatArray
    label: str = NOT_A_REP
    start_s: float = float("nan")
    stop_s: float = float("nan")
    key_s: float = float("nan")
    right_on_top: bool = True

    @property
    def duration_s(self) -> float:
        """Length of the script."""
        return float(len(self.controls) / RATE_HZ)


def grid_s(duration_s: float) -> FloatArray:
    """Give the times of the rows of a script of that length."""
    return np.asarray(np.arange(max(2, round(duration_s * RATE_HZ))) / RATE_HZ)


def curve(time_s: FloatArray, keys: Sequence[tuple[float, ...]]) -> FloatArray:
    """Smooth curve (n, columns) through keys (time, value, ...) that does not overshoot them.

    Keys are put into order, and those closer than a frame are left out.
    """
    from scipy.interpolate import PchipInterpolator

    ordered = sorted(keys, key=lambda key: key[0])
    kept = [ordered[0]]
    for key in ordered[1:]:
        if key[0] - kept[-1][0] > 0.5 / RATE_HZ:
            kept.append(key)
    table = np.array(kept, dtype=float)
    if len(table) == 1:
        return np.tile(table[0, 1:], (time_s.size, 1))
    inside = np.clip(time_s, table[0, 0], table[-1, 0])
    return np.asarray(PchipInterpolator(table[:, 0], table[:, 1:])(inside))


def mirrored_script(script: Script) -> Script:
    """Return the same done by the other side of the body."""
    controls = script.controls.copy()
    controls[:, [1, CHEST, TWIST, 6]] *= -1.0
    controls[:, LEFT] = script.controls[:, RIGHT] * [1.0, -1.0, 1.0]
    controls[:, RIGHT] = script.controls[:, LEFT] * [1.0, -1.0, 1.0]
    return replace(script, controls=controls, right_on_top=not script.right_on_top)


def joined(scripts: Sequence[Script], blends_s: Sequence[float]) -> tuple[FloatArray, list[float]]:
    """Put scripts one after the other, each beginning the way the one before it ended up facing.

    Parameters
    ----------
    scripts
        At least one.
    blends_s
        Time of the passage from each script to the next one.

    Returns
    -------
    tuple
        Controls (n, `N_CONTROLS`) with velocity and chest against the direction of the first
        script, and the time at which each script starts.
    """
    parts: list[FloatArray] = []
    starts: list[float] = []
    direction, rows = 0.0, 0
    for number, script in enumerate(scripts):
        controls = script.controls.copy()
        if number:
            last = parts[-1][-1]
            direction = last[CHEST] - controls[0, CHEST]
            controls = _turned(controls, direction)
            n_blend = max(2, round(blends_s[number - 1] * RATE_HZ))
            part = (np.arange(1, n_blend + 1) / (n_blend + 1))[:, None]
            part = part**3 * (10 - 15 * part + 6 * part**2)
            parts.append(last + part * (controls[0] - last))
            rows += n_blend
        starts.append(rows / RATE_HZ)
        parts.append(controls)
        rows += len(controls)
    return np.concatenate(parts), starts


def _turned(controls: FloatArray, angle: float) -> FloatArray:
    turned = controls.copy()
    cosine, sine = np.cos(angle), np.sin(angle)
    turned[:, 0] = cosine * controls[:, 0] - sine * controls[:, 1]
    turned[:, 1] = sine * controls[:, 0] + cosine * controls[:, 1]
    turned[:, CHEST] += angle
    return turned
