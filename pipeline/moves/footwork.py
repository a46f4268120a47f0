"""The way of the hips and the feet that carry it: run-ins, stops, turns and touchdowns."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from pipeline.core.types import FloatArray
from pipeline.moves.signals import Signals, landings, touchdowns

STOPPED_SHARE = 0.3
"""A run has stopped at this share of its greatest speed."""

PACE_S = 0.5
LONGEST_STOP_S = 0.30
"""A foot that landed longer before the stop than this did not stop the run; chosen on
rendered clips."""

FURTHEST_AHEAD = 0.45
"""The hips come to rest over the foot that stops them, at the furthest. It lands at most this far
ahead of them, statures: a leg of 0.53 of stature (Drillis and Contini 1966) stretched forward by
60 degrees."""

PATH_LATE_S = 0.1
"""The path of the hips is smoothed, so its furthest point may come too early by this time."""

LONGEST_RUNNING_STEP_S = 0.45
"""A foot that lands later after the other one no longer runs."""

CONTACT_SPREAD_S = 0.02
"""A touchdown is known to about this, on top of the frame interval."""

WAY_S = 0.3
TURN_TAKES_S = 0.2

SLOWEST_HEADING = 0.5
"""Below this speed of the hips, statures a second, their heading means nothing."""


def pace_mps(signals: Signals, start: int, stop: int) -> FloatArray:
    """Velocity of the hips averaged over `PACE_S`: a run has a pace, a step out and back has none.

    Parameters
    ----------
    signals
        Of the athlete.
    start, stop
        Span of frames.

    Returns
    -------
    numpy.ndarray
        (stop - start, 2) in m/s; NaN where unknown.
    """
    time_s = signals.time_s
    frames = np.arange(start, stop)
    before = np.clip(np.searchsorted(time_s, time_s[frames] - PACE_S / 2), start, None)
    after = np.clip(np.searchsorted(time_s, time_s[frames] + PACE_S / 2), None, stop - 1)
    span_s = np.maximum(time_s[after] - time_s[before], 0.5 * PACE_S)
    return np.asarray((signals.hips_m[after] - signals.hips_m[before]) / span_s[:, None])


def run_in_direction(signals: Signals, start: int, stop: int) -> FloatArray:
    """(2,) unit direction of the fastest run of the hips in a span."""
    velocity = pace_mps(signals, start, stop)
    speed = np.linalg.norm(velocity, axis=-1)
    fast = speed > 0.8 * np.nanmax(speed)
    direction = velocity[fast].mean(axis=0)
    return np.asarray(direction / max(float(np.linalg.norm(direction)), 1e-9))


def stop_frame(signals: Signals, start: int, release: int) -> int | None:
    """Frame at which the run-in before a throwback has stopped.

    Parameters
    ----------
    signals
        Of the athlete.
    start, release
        Frames of the rep's start and of the release.

    Returns
    -------
    int or None
        First frame after its peak at which the hips' speed along the run-in is under
        `STOPPED_SHARE` of that peak; None when there was no run that stopped.
    """
    if release - start < 3 or not np.isfinite(pace_mps(signals, start, release)).any():
        return None
    along = signals.hips_mps[start:release] @ run_in_direction(signals, start, release)
    if not np.isfinite(along).any():
        return None
    peak = int(np.nanargmax(along))
    slow = np.flatnonzero(along[peak:] < STOPPED_SHARE * along[peak])
    return start + peak + int(slow[0]) if slow.size else None


def plant_frame(signals: Signals, start: int, stop: int, release: int) -> int | None:
    """First contact of the foot that stops the run: the last landing before the stop.

    That foot lands before the hips are furthest forward; one that lands later no longer stops them.

    Parameters
    ----------
    signals
        Of the athlete.
    start, stop, release
        Frames of the rep's start, of the stop (`stop_frame`) and of the release.

    Returns
    -------
    int or None
        None when no foot was seen to land within `LONGEST_STOP_S` before the stop: the foot that
        stopped the run was hidden. None too when two feet may have stopped it.
    """
    time_s = signals.time_s
    forward_m = signals.hips_m[start:release] @ run_in_direction(signals, start, release)
    furthest_s = float(time_s[start + int(np.nanargmax(forward_m))])
    last = int(np.searchsorted(time_s, furthest_s + PATH_LATE_S))
    if any(stop < frame <= last for frame, _ in landings(signals)):
        return None  # one foot landed before the hips slowed, another before they turned: which?
    stop = min(stop, last)
    steps = [frame for frame, _ in landings(signals) if start < frame <= stop]
    landed = steps[:1] + [
        frame
        for previous, frame in pairwise(steps)
        if time_s[frame] - time_s[previous] < LONGEST_RUNNING_STEP_S
    ]
    if not landed or signals.time_s[stop] - landing_s(signals, landed[-1]) > LONGEST_STOP_S:
        return None
    goes_on_m = float(np.nanmax(forward_m) - forward_m[landed[-1] - start])
    return None if goes_on_m > FURTHEST_AHEAD * signals.stature_m else landed[-1]


def landing_s(signals: Signals, frame: int) -> float:
    """Instant of a touchdown: between the last frame in the air and the first on the ground.

    Parameters
    ----------
    signals
        For the frame times.
    frame
        First frame in which the foot stands.

    Returns
    -------
    float
        Clip time, s.
    """
    return float(0.5 * (signals.time_s[max(frame - 1, 0)] + signals.time_s[frame]))


def last_contact_frame(signals: Signals, after: int, release: int) -> int:
    """Frame of the last foot to touch down between two frames; `after` itself if none does."""
    landed = [first for first, _, _ in touchdowns(signals) if after < first <= release]
    return landed[-1] if landed else after


def turn_over_deg(signals: Signals, landing: int) -> float:
    """Turn of the path of the hips over a foot contact.

    The way over the last `WAY_S` up to just after the landing is compared with the way of that
    length from `TURN_TAKES_S` after it.

    Parameters
    ----------
    signals
        Of the athlete.
    landing
        Frame of the touchdown.

    Returns
    -------
    float
        Angle in deg; 0 where the path is unknown or the athlete hardly moves.
    """
    time_s, path_m = signals.time_s, signals.hips_m

    def way_m(start_s: float, stop_s: float) -> FloatArray:
        ends = [int(np.argmin(np.abs(time_s - time_s[landing] - t))) for t in (start_s, stop_s)]
        return np.asarray(path_m[ends[1]] - path_m[ends[0]])

    before = way_m(-WAY_S, 0.05)
    after = way_m(TURN_TAKES_S, TURN_TAKES_S + WAY_S)
    shortest_m = SLOWEST_HEADING * signals.stature_m * WAY_S
    lengths = [float(np.linalg.norm(way)) for way in (before, after)]
    if not np.isfinite(lengths).all() or min(lengths) < shortest_m:
        return 0.0
    cross = before[0] * after[1] - before[1] * after[0]
    return float(np.abs(np.degrees(np.arctan2(cross, before @ after))))
