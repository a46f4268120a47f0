"""Where the path of a run turns hard, and the foot contact that takes it."""

from __future__ import annotations

import numpy as np

from pipeline.core.types import FloatArray
from pipeline.moves.cuts import cut_frame
from pipeline.moves.signals import Signals

LEAST_TURN_DEG = 30.0
WAY_S, TURN_TAKES_S = 0.25, 0.2
"""A path turns hard where its ways of this length, so long apart, differ by more than this."""

SLOWEST_WAY = 0.35
"""Slower than so many statures a second, a way has no direction."""

TURN_SEEN_S = 0.6
"""The hardest turn lies this near to the instant of a burst."""

LANDS_BEFORE_S = 0.6
"""The foot that takes it lands at most so long before the middle of the turn, and not after it."""


def speed_mps(athlete: Signals) -> FloatArray:
    """(n,) speed of the hips along the ground; NaN where the path is unknown."""
    return np.asarray(np.linalg.norm(athlete.hips_mps, axis=-1))


def frames_about(athlete: Signals, frame: int, before_s: float, after_s: float) -> slice:
    """Frames from so long before a frame to so long after it, both included."""
    time_s = athlete.time_s
    return slice(
        int(np.searchsorted(time_s, time_s[frame] - before_s - 1e-9)),
        int(np.searchsorted(time_s, time_s[frame] + after_s + 1e-9, side="right")),
    )


def greatest_about(
    athlete: Signals, values: FloatArray, before_s: float, after_s: float
) -> FloatArray:
    """Greatest value about each frame, from so long before it to so long after it.

    Parameters
    ----------
    athlete
        For the times of the frames.
    values
        (n,); NaN where unknown.
    before_s, after_s
        At least 0; the frames at both ends are included.

    Returns
    -------
    numpy.ndarray
        (n,); NaN where no value about the frame is known.
    """
    time_s = athlete.time_s
    first = np.searchsorted(time_s, time_s - before_s - 1e-9)
    stop = np.searchsorted(time_s, time_s + after_s + 1e-9, side="right")
    # reduceat takes the spans between successive bounds: every second one is a window. The value
    # added at the end lets a window stop there.
    bounds = np.column_stack([first, stop]).ravel()
    return np.asarray(np.fmax.reduceat(np.append(values, np.nan), bounds)[::2])


def turn_hardness(athlete: Signals) -> FloatArray:
    """(n,) turn of the path about each frame, deg, times the lesser of the speeds around it, m/s.

    0 where the turn is less than `LEAST_TURN_DEG`, or the path is unknown.
    """
    time_s, path_m = athlete.time_s, athlete.hips_m

    def way_m(start_s: float, stop_s: float) -> FloatArray:
        ends = [
            np.clip(np.searchsorted(time_s, time_s + at_s - 1e-9), 0, time_s.size - 1)
            for at_s in (start_s, stop_s)
        ]
        return np.asarray(path_m[ends[1]] - path_m[ends[0]])

    half_s = 0.5 * TURN_TAKES_S
    before, after = way_m(-half_s - WAY_S, -half_s), way_m(half_s, half_s + WAY_S)
    slower_mps = np.minimum(np.linalg.norm(before, axis=-1), np.linalg.norm(after, axis=-1)) / WAY_S
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turn_deg = np.abs(np.degrees(np.arctan2(cross, np.sum(before * after, axis=-1))))
    with np.errstate(invalid="ignore"):
        hard = (turn_deg > LEAST_TURN_DEG) & (slower_mps > SLOWEST_WAY * athlete.stature_m)
    return np.where(hard, turn_deg * slower_mps, 0.0)


def cut_contact(athlete: Signals, frame: int) -> int | None:
    """Find the landing of the foot that takes the hard turn near a frame.

    Parameters
    ----------
    athlete
        Signals over the clip.
    frame
        Of the burst.

    Returns
    -------
    int or None
        Frame of the landing; None where the path does not turn hard, or it cannot be told.
    """
    about = frames_about(athlete, frame, TURN_SEEN_S, TURN_SEEN_S)
    hardness = turn_hardness(athlete)[about]
    if not hardness.any():
        return None
    middle_s = float(athlete.time_s[about][int(np.argmax(hardness))])
    return cut_frame(athlete, middle_s - LANDS_BEFORE_S, middle_s)
