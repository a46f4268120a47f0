"""Where a throw begins: the body leaves quiet stance for a wind-up or for a run."""

from __future__ import annotations

import numpy as np

from pipeline.core.arrays import runs
from pipeline.moves.events import QUIET_HIPS, quiet_frames, start_frame
from pipeline.moves.footwork import pace_mps
from pipeline.moves.signals import Signals
from pipeline.moves.throw_detection import WIND_UP_S

LONGEST_RUN_IN_S = 4.0
LONGEST_WIND_UP_S, SHORTEST_WIND_UP_S = 3.0, 0.3
"""A run-in is at its fastest at most so long before the release; a shot from a stand begins between
the other two before it."""

REST_S = 0.08
SHORTEST_MOVE_S = 0.1
"""A hand that turns round at the end of the wind-up is quiet for less than the first; what goes on
for less than the second is no move, but noise."""


def not_before(athlete: Signals, earliest: int, frame: int, longest_s: float) -> int:
    """First frame that lies at most so long before another, and not before the earliest."""
    time_s = athlete.time_s
    return max(earliest, int(np.searchsorted(time_s, time_s[frame] - longest_s)))


def run_in_start(
    athlete: Signals, earliest: int, release: int, longest_s: float, shortest_s: float = 0.0
) -> int:
    """Frame at which the body leaves quiet stance for the run before a throw.

    Parameters
    ----------
    athlete
        Signals over the clip.
    earliest, release
        Frames of the last rep's finish and of the release.
    longest_s, shortest_s
        The run is at its fastest at most and at least so long before the release.

    Returns
    -------
    int
    """
    first = not_before(athlete, earliest, release, longest_s)
    last = not_before(athlete, first, release, shortest_s)
    speed = np.linalg.norm(pace_mps(athlete, first, last + 1), axis=-1)
    fastest = first + int(np.argmax(np.where(np.isfinite(speed), speed, -np.inf)))
    return start_frame(athlete, fastest, earliest)


def wind_up_start(athlete: Signals, earliest: int, release: int) -> int:
    """Frame at which the body leaves quiet stance for a shot from a stand.

    Parameters
    ----------
    athlete
        Signals over the clip.
    earliest, release
        Frames of the last rep's finish and of the release.

    Returns
    -------
    int
    """
    first = not_before(athlete, earliest, release, LONGEST_WIND_UP_S)
    # Hands that are held still for a moment at the end of the wind-up are no rest before it.
    stop = not_before(athlete, first, release, SHORTEST_WIND_UP_S)
    quiet, time_s = quiet_frames(athlete)[first:stop], athlete.time_s[first:stop]
    for begin, stop in runs(~quiet):
        inside = begin > 0 and stop < quiet.size
        if inside and time_s[stop] - time_s[begin - 1] < SHORTEST_MOVE_S:
            quiet[begin:stop] = True
    rests = [stop for begin, stop in runs(quiet) if time_s[stop - 1] - time_s[begin] >= REST_S]
    if rests:
        return first + rests[-1] - 1
    return start_frame(athlete, not_before(athlete, first, release, WIND_UP_S), first)


def run_start(athlete: Signals, earliest: int, release: int) -> int:
    """Frame at which the hips leave their place for a run; the hands may be busy before it.

    Parameters
    ----------
    athlete, earliest, release
        As for `wind_up_start`.

    Returns
    -------
    int
    """
    first = not_before(athlete, earliest, release, LONGEST_RUN_IN_S)
    speed = np.linalg.norm(athlete.hips_mps[first : release + 1], axis=-1)
    speed = np.where(np.isfinite(speed), speed, 0.0)
    slow = speed[: int(np.argmax(speed)) + 1] < QUIET_HIPS * athlete.stature_m
    return first + (int(np.flatnonzero(slow)[-1]) if slow.any() else int(np.argmin(speed)))
