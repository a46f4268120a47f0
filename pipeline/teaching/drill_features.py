"""The numbers by which a drill is known again: heights, speeds and turns of the body on even times.

Heights, speeds and turns come out alike from any camera; how far a hand is in front of the body or
beside it does not, for that is depth to most cameras, so it counts little.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline.core.types import JOINTS, BoolArray, FloatArray
from pipeline.moves.body_frame import BodyFrame

RATE_HZ = 25.0
CUTOFF_HZ = 5.0

KNOWN_WITHIN_S = 0.25
"""An instant further than this from the next frame in which a body was seen is not known."""

_PARTS = ("shoulder", "elbow", "hand", "knee", "ankle")
_SIDES = ("left", "right")

_WEIGHTS = {
    "shoulder_up": (0.02, 0.013),
    "elbow_up": (0.02, 0.040),
    "hand_up": (0.12, 0.104),
    "knee_up": (0.03, 0.026),
    "ankle_up": (0.08, 0.041),
    "elbow_forward": (0.01, 0.040),
    "elbow_left": (0.01, 0.037),
    "hand_forward": (0.01, 0.062),
    "hand_left": (0.01, 0.080),
    "hand_rising": (0.10, 0.363),
    "ankle_rising": (0.03, 0.320),
    "hip_up": (0.04, 0.013),
    "pace_forward": (0.07, 0.870),
    "pace_left": (0.04, 0.284),
    "push_forward": (0.05, 2.156),
    "push_left": (0.14, 1.800),
    "turn": (0.26, 1.748),
}
"""Per number: its share of the squared distance, and the spread (root mean square about the mean,
on rendered film) in which it is counted. The shares follow, rounded, a regression that tells the
same move by another body before another camera from everything else."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MotionTrack:
    """One person's motion at `RATE_HZ`.

    Attributes
    ----------
    time_s
        (n,) even instants, clip time.
    values
        (n, `N_COLUMNS`) the numbers, each times the root of its weight over its spread, so that
        the squared distance of two moments is a sum over columns; finite.
    known
        (n,) whether the body was seen about then.
    """

    time_s: FloatArray
    values: FloatArray
    known: BoolArray


def _columns() -> tuple[tuple[str, ...], FloatArray, FloatArray]:
    """Names of the columns, the share of each in the squared distance, and what it is times."""
    names = [f"{part}_up" for part in _PARTS for _ in _SIDES]
    names += [f"{part}_{way}" for part in ("elbow", "hand") for way in ("forward", "left")
              for _ in _SIDES]  # fmt: skip
    names += [f"{part}_rising" for part in ("hand", "ankle") for _ in _SIDES]
    names += ["hip_up", "pace_forward", "pace_left", "push_forward", "push_left", "turn"]
    total = sum(weight for weight, _ in _WEIGHTS.values())
    shares = np.array([_WEIGHTS[name][0] / total / names.count(name) for name in names])
    spreads = np.array([_WEIGHTS[name][1] for name in names])
    return tuple(names), shares, np.sqrt(shares) / spreads


COLUMNS, SHARES, _FACTORS = _columns()
N_COLUMNS = len(COLUMNS)
"""A pair of columns of the same name is left and right. Two unrelated moments differ in a column by
twice its share on the average, squared."""


def motion_track(frame: BodyFrame) -> MotionTrack:
    """See a motion as the numbers by which a drill is known again.

    Parameters
    ----------
    frame
        The body over the whole clip; `pipeline.moves.body_frame.mirrored` gives its mirror image.

    Returns
    -------
    MotionTrack
    """
    n = int(np.floor((frame.time_s[-1] - frame.time_s[0]) * RATE_HZ)) + 1
    time_s = frame.time_s[0] + np.arange(n) / RATE_HZ
    seen = np.isfinite(frame.joints[:, JOINTS.index("left_hip")]).all(axis=-1)

    def calm(values: FloatArray) -> FloatArray:
        return _low_passed(_on_even_times(frame.time_s, values, time_s))

    def joint(name: str) -> FloatArray:
        return calm(frame.joints[:, JOINTS.index(name)])

    places = {
        part: [joint(f"{side}_{part}") for side in _SIDES] for part in _PARTS
    }  # fmt: skip
    columns = [place[:, 2] for part in _PARTS for place in places[part]]
    columns += [
        place[:, axis] for part in ("elbow", "hand") for axis in (0, 1) for place in places[part]
    ]
    columns += [_rate(place[:, 2]) for part in ("hand", "ankle") for place in places[part]]
    height = calm(frame.hip_height[:, None])[:, 0]
    pace = calm(frame.velocity)
    turn = calm(frame.turn_rad[:, None])[:, 0]
    along, aside = np.cos(turn), np.sin(turn)
    # Where the ground is pushed: the change of the velocity as such, seen from the body.
    push_x = _rate(pace[:, 0] * along - pace[:, 1] * aside)
    push_y = _rate(pace[:, 0] * aside + pace[:, 1] * along)
    columns += [
        height - np.median(height), pace[:, 0], pace[:, 1], push_x * along + push_y * aside,
        push_y * along - push_x * aside, _rate(turn),
    ]  # fmt: skip
    return MotionTrack(
        time_s=time_s,
        values=np.column_stack(columns) * _FACTORS,
        known=_near(frame.time_s[seen], time_s),
    )


def _on_even_times(at_s: FloatArray, values: FloatArray, time_s: FloatArray) -> FloatArray:
    """Straight lines between the known samples of each column; 0 where there are hardly any."""
    found = np.zeros((time_s.size, values.shape[1]))
    for column in range(values.shape[1]):
        known = np.isfinite(values[:, column])
        if known.sum() > 1:
            found[:, column] = np.interp(time_s, at_s[known], values[known, column])
    return found


def _low_passed(values: FloatArray) -> FloatArray:
    """Butterworth low-pass of second order, forwards and backwards."""
    from scipy.signal import butter, filtfilt

    if len(values) < 2:
        return values
    b, a = butter(2, CUTOFF_HZ / (0.5 * RATE_HZ))
    return np.asarray(filtfilt(b, a, values, axis=0, padlen=min(9, len(values) - 1)))


def _rate(values: FloatArray) -> FloatArray:
    """Change a second."""
    return np.asarray(np.gradient(values) * RATE_HZ) if values.size > 1 else np.zeros(values.shape)


def _near(at_s: FloatArray, time_s: FloatArray) -> BoolArray:
    """Whether each instant has one of the others near it."""
    if not at_s.size:
        return np.zeros(time_s.size, dtype=bool)
    after = np.clip(np.searchsorted(at_s, time_s), 0, at_s.size - 1)
    before = np.maximum(after - 1, 0)
    gap_s = np.minimum(np.abs(at_s[after] - time_s), np.abs(time_s - at_s[before]))
    return np.asarray(gap_s <= KNOWN_WITHIN_S)
