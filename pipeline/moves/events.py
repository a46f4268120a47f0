"""Instants inside a rep: bursts of speed, release, hands high, plant, contacts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline.core.types import Event, Hand
from pipeline.moves.signals import Signals

FINISH_SHARE = 0.20
"""The finish is where the hand's speed is back under this share of its peak."""

QUIET_HAND = 0.30
"""Hands slower than this against the hips are quiet, statures a second."""

QUIET_HIPS = 0.25
"""Hips slower than this along the ground are quiet, statures a second."""

START_SPREAD_S = 0.07
FINISH_SPREAD_S = 0.25
HIGHEST_SPREAD_S = 0.08
"""Standard uncertainty of where a rep starts and ends, and of the top of a hold, which is flat; by
the errors on rendered clips."""

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


def finish_frame(
    signals: Signals, release_frame: int, latest: int, about_s: float | None = None
) -> int:
    """First frame after the release at which the hands are under a fifth of their peak speed.

    Parameters
    ----------
    signals
        Of the athlete.
    release_frame
        Of the release.
    latest
        Frame before which it lies.
    about_s
        The peak is looked for this far to both sides of the release; None = two frames.

    Returns
    -------
    int
    """
    time_s = signals.time_s
    first, stop = max(0, release_frame - 2), release_frame + 3
    if about_s is not None:
        first = int(np.searchsorted(time_s, time_s[release_frame] - about_s))
        stop = int(np.searchsorted(time_s, time_s[release_frame] + about_s, side="right"))
    peak = float(np.nanmax(signals.hand_mps[first:stop].mean(axis=1), initial=0.0))
    speed = signals.hand_mps[release_frame:latest].mean(axis=1)
    after = np.flatnonzero(speed < FINISH_SHARE * peak)
    return release_frame + int(after[0]) if after.size else max(latest - 1, release_frame)


def quiet_frames(signals: Signals, frames: slice = slice(None)) -> np.ndarray:
    """(n,) true where the athlete stands quietly: neither hips nor hands go anywhere."""
    hips = np.linalg.norm(signals.hips_mps[frames], axis=-1)
    hands = signals.hand_mps[frames].mean(axis=1)
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
    quiet = np.flatnonzero(quiet_frames(signals, slice(earliest, active_frame)))
    if quiet.size:
        return earliest + int(quiet[-1])
    hips = np.linalg.norm(signals.hips_mps[earliest:active_frame], axis=-1)
    hands = signals.hand_mps[earliest:active_frame].mean(axis=1)
    activity = np.where(np.isfinite(hips + hands), hips + hands, np.inf)
    return earliest + int(np.argmin(activity))


def hands_high_frame(signals: Signals, hand: Hand | None, start: int, stop: int) -> int:
    """Frame of the greatest height of the top hand in a span."""
    heights = signals.hand_height_m[start:stop]
    column = {"left": 0, "right": 1}
    height = heights.mean(axis=1) if hand is None else heights[:, column[hand]]
    return start + int(np.argmax(np.where(np.isfinite(height), height, -np.inf)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Burst:
    """A moment that may be a rep, before its events are looked for.

    Attributes
    ----------
    frame
        Of a throw: the greatest speed of the top hand to the front and down. Of a dodge: the
        instant at which the way or the pace changes, or at which a defender is nearest.
    earliest, latest
        Frames between which the rep lies; `latest` is not included.
    hand
        Side of the top hand; None where unknown.
    """

    frame: int
    earliest: int
    latest: int
    hand: Hand | None = None
