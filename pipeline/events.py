"""Instants inside a rep by the definitions of the trade: release, hands high, plant, contacts."""

from __future__ import annotations

import numpy as np

from pipeline.signals import SEEN_AXES, Signals, touchdowns
from pipeline.types import Event, FloatArray, Hand

FINISH_SHARE = 0.20
"""The finish is where the hand's speed is back under this share of its peak."""

QUIET_HAND = 0.30
"""Hands slower than this against the hips are quiet, statures a second."""

QUIET_HIPS = 0.25
"""Hips slower than this along the ground are quiet, statures a second."""

RELEASE_SPREAD_S = 0.03
RELEASE_SPREAD_ALONG_VIEW_S = 0.08
"""Standard uncertainty of a release seen from the side, and what a view along the throw adds."""

RELEASE_REACH_S = 0.1
"""The release is looked for this far from the burst's frame."""

STOPPED_SHARE = 0.3
"""A run has stopped at this share of its greatest speed."""

PACE_S = 0.5
LONGEST_STOP_S = 0.30
USUAL_STOP_S = 0.15
"""A foot stops a run within this time, usually; common practice, no source."""

CONTACT_SPREAD_S = 0.02
HIDDEN_CONTACT_SPREAD_S = 0.05
"""A touchdown is told to about this, on top of the frame interval; a hidden one less well."""

WAY_S = 0.3
TURN_TAKES_S = 0.2

SLOWEST_HEADING = 0.5
"""Below this speed of the hips, statures a second, their heading means nothing."""

INSTANT_SPREAD = 0.45
"""Standard uncertainty of an instant, in frames."""


def event_at(signals: Signals, time_s: float, *, spread_s: float = 0.0) -> Event:
    """Event at a time, with the nearest frame and its uncertainty.

    Parameters
    ----------
    signals
        For the frame times.
    time_s
        Instant in clip time.
    spread_s
        Standard uncertainty on top of that of the frame interval.

    Returns
    -------
    Event
    """
    frame = int(np.argmin(np.abs(signals.time_s - time_s)))
    interval_s = float(np.median(np.diff(signals.time_s)))
    return Event(
        time_s=float(time_s),
        frame=frame,
        u_s=float(np.hypot(INSTANT_SPREAD * interval_s, spread_s)),
    )


def release_instant_s(signals: Signals, hand: Hand, frame: int) -> float:
    """Instant of the greatest speed of the top hand against the hips near a frame.

    The speed is the derivative of the cubic spline through the track, on a grid of 1 ms: central
    differences over two frames put the peak of a burst that ends abruptly up to a frame too early.

    Parameters
    ----------
    signals
        Of the athlete.
    hand
        Top hand.
    frame
        Frame of the burst.

    Returns
    -------
    float
        Clip time, s.
    """
    from scipy.interpolate import CubicSpline

    time_s = signals.time_s
    track_m = signals.hand_m[:, 0 if hand == "left" else 1][:, SEEN_AXES]
    near = np.abs(time_s - time_s[frame]) <= 3 * RELEASE_REACH_S
    near &= np.isfinite(track_m).all(axis=1)
    if near.sum() < 4:
        return float(time_s[frame])
    velocity = CubicSpline(time_s[near], track_m[near]).derivative()
    grid_s = time_s[frame] + np.arange(-RELEASE_REACH_S, RELEASE_REACH_S, 0.001)
    grid_s = grid_s[(grid_s >= time_s[near][0]) & (grid_s <= time_s[near][-1])]
    return float(grid_s[np.argmax(np.linalg.norm(velocity(grid_s), axis=-1))])


def release_spread_s(signals: Signals, frame: int) -> float:
    """Give the standard uncertainty of a release on top of the frame interval's, by the view.

    Seen from the side the peak of the hand's speed is in the picture. Where the camera looks along
    the throw, the picture shows the hand's way down after the release better than the release.

    Parameters
    ----------
    signals
        Of the athlete.
    frame
        Frame of the burst.

    Returns
    -------
    float
        In s.
    """
    along_view = float(signals.facing[frame, 1]) ** 2
    return float(np.hypot(RELEASE_SPREAD_S, RELEASE_SPREAD_ALONG_VIEW_S * along_view))


def finish_frame(signals: Signals, release_frame: int, latest: int) -> int:
    """First frame after the release at which the hands are under a fifth of their peak speed."""
    speed = signals.hand_mps.mean(axis=1)
    peak = float(np.nanmax(speed[max(0, release_frame - 2) : release_frame + 3]))
    after = np.flatnonzero(speed[release_frame:latest] < FINISH_SHARE * peak)
    return release_frame + int(after[0]) if after.size else max(latest - 1, release_frame)


def quiet_frames(signals: Signals) -> np.ndarray:
    """(n,) true where the athlete stands quietly: neither hips nor hands go anywhere."""
    hips = np.linalg.norm(signals.hips_mps, axis=-1)
    hands = signals.hand_mps.mean(axis=1)
    with np.errstate(invalid="ignore"):
        return np.asarray(
            (hips < QUIET_HIPS * signals.stature_m) & (hands < QUIET_HAND * signals.stature_m)
        )


def start_frame(signals: Signals, active_frame: int, earliest: int) -> int:
    """Frame at which the body leaves quiet stance for the action at `active_frame`.

    Where reps follow each other without a rest, the frame of least activity in between.

    Parameters
    ----------
    signals
        Of the athlete.
    active_frame
        A frame inside the action.
    earliest
        Frame before which the rep cannot start (the last rep's finish).

    Returns
    -------
    int
    """
    if active_frame <= earliest:
        return earliest
    quiet = np.flatnonzero(quiet_frames(signals)[earliest:active_frame])
    if quiet.size:
        return earliest + int(quiet[-1])
    hips = np.linalg.norm(signals.hips_mps, axis=-1)[earliest:active_frame]
    hands = signals.hand_mps.mean(axis=1)[earliest:active_frame]
    activity = np.where(np.isfinite(hips + hands), hips + hands, np.inf)
    return earliest + int(np.argmin(activity))


def hands_high_frame(signals: Signals, hand: Hand | None, start: int, stop: int) -> int:
    """Frame of the greatest height of the top hand in a span."""
    heights = signals.hand_height_m[start:stop]
    column = {"left": 0, "right": 1}
    height = heights.mean(axis=1) if hand is None else heights[:, column[hand]]
    return start + int(np.argmax(np.where(np.isfinite(height), height, -np.inf)))


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


def plant_instant(signals: Signals, start: int, release: int) -> tuple[float, float] | None:
    """First contact of the foot that stops the run before a throwback.

    The hips' speed along the run-in falls from its peak towards a stop or a way back; the plant is
    the last foot to touch down before that speed has fallen to `STOPPED_SHARE` of its peak. When no
    foot was seen to land within `LONGEST_STOP_S` before that, the foot that did the stopping was
    hidden, and the plant is put `USUAL_STOP_S` before it, with a wider uncertainty.

    Parameters
    ----------
    signals
        Of the athlete.
    start, release
        Frames of the rep's start and of the release.

    Returns
    -------
    tuple of float or None
        Instant and its standard uncertainty in s, without that of the frame interval; None when
        there was no run that stopped.
    """
    if release - start < 3 or not np.isfinite(signals.hips_mps[start:release]).any():
        return None
    along = signals.hips_mps[start:release] @ run_in_direction(signals, start, release)
    peak = int(np.nanargmax(along))
    slow = np.flatnonzero(along[peak:] < STOPPED_SHARE * along[peak])
    if slow.size == 0:
        return None
    stopped = start + peak + int(slow[0])
    landed = [first for first, _, _ in touchdowns(signals) if start < first <= stopped]
    stopped_s = float(signals.time_s[stopped])
    if landed and stopped_s - landing_s(signals, landed[-1]) <= LONGEST_STOP_S:
        return landing_s(signals, landed[-1]), CONTACT_SPREAD_S
    return stopped_s - USUAL_STOP_S, HIDDEN_CONTACT_SPREAD_S


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

    The way over the last `WAY_S` up to just after the landing is held against the way of that
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
