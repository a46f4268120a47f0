"""Reps that end in a throw: where they start, and what is common to shots and passes."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from pipeline.core.spline import runs
from pipeline.core.types import Event, Hand, Rep
from pipeline.moves.events import (
    FINISH_SPREAD_S,
    QUIET_HIPS,
    START_SPREAD_S,
    Burst,
    event_at,
    finish_frame,
    quiet_frames,
    start_frame,
)
from pipeline.moves.footwork import pace_mps
from pipeline.moves.release import Way, release_event
from pipeline.moves.rep_finder import RepOf, register_finder
from pipeline.moves.signals import Signals, top_hand
from pipeline.moves.throw_detection import BURST_S, WIND_UP_S, Throw, find_throws

ThrowEvents = Callable[[Signals, int, int, Hand], tuple[int, dict[str, Event]]]
"""Of the signals, the earliest frame, the frame of the release and the top hand: the frame at which
the rep starts, and the move's own events."""


def throw_rep(athlete: Signals, burst: Burst, move: str, way: Way, events_of: ThrowEvents) -> Rep:
    """Make a rep of a burst that is known to be a throw.

    Parameters
    ----------
    athlete
        Signals over the clip.
    burst
        With its hand; the higher hand before it where unknown.
    move, way
        Key of the move, and where the top hand goes at the release.
    events_of
        Gives the frame at which the rep starts, and the move's own events.

    Returns
    -------
    Rep
        With ``start``, the move's own events, ``release`` and ``finish``.
    """
    time_s = athlete.time_s
    hand = burst.hand or top_hand(athlete, burst.earliest, burst.frame + 1) or "right"
    release = release_event(athlete, hand, burst.frame, way)
    start, events = events_of(athlete, burst.earliest, release.frame, hand)
    # Seen along the throw, the hand is slow at the release and fast only in the follow-through.
    about_s = BURST_S if way == "any" else None
    finish = finish_frame(athlete, release.frame, min(burst.latest, time_s.size), about_s)
    events = {
        "start": event_at(athlete, float(time_s[start]), spread_s=START_SPREAD_S),
        **events,
        "release": release,
        "finish": event_at(athlete, float(time_s[finish]), spread_s=FINISH_SPREAD_S),
    }
    return Rep(
        index=1,
        start_s=float(time_s[start]),
        stop_s=float(time_s[finish]),
        start_frame=start,
        stop_frame=finish + 1,
        move=move,
        stick_hand=hand,
        events=events,
    )


def reps_from(athlete: Signals, throws: list[Throw], rep_of: RepOf) -> list[Rep]:
    """Make a rep of each throw; none starts before the one before it has finished.

    Parameters
    ----------
    athlete
        Signals over the clip.
    throws
        In the order of the clip.
    rep_of
        Makes a rep of one burst.

    Returns
    -------
    list of Rep
        As many as there are throws; not numbered yet.
    """
    reps: list[Rep] = []
    earliest = 0
    for number, throw in enumerate(throws):
        latest = throws[number + 1].frame if number + 1 < len(throws) else athlete.time_s.size
        burst = Burst(frame=throw.frame, earliest=earliest, latest=latest, hand=throw.hand)
        rep = rep_of(athlete, None, burst)
        reps.append(rep)
        earliest = rep.stop_frame - 1
    return reps


def numbered(reps: Iterable[Rep]) -> list[Rep]:
    """Give the reps that are left their numbers from 1."""
    return [replace(rep, index=number) for number, rep in enumerate(reps, start=1)]


@dataclass(frozen=True, slots=True, kw_only=True)
class ThrowFinder:
    """Finds the reps of one kind of throw in a clip of that known move.

    Attributes
    ----------
    rep_of
        Makes a rep of one burst.
    is_one
        Whether a rep shows what makes it this kind of throw.
    looked_for
        How bursts are looked for: the keywords of `find_throws`.
    """

    rep_of: RepOf
    is_one: Callable[[Signals, Rep], bool]
    looked_for: Mapping[str, Any] = field(default_factory=dict)

    def __call__(
        self, athlete: Signals, defender: Signals | None, given_hand: Hand | None = None
    ) -> list[Rep]:
        """Find the reps.

        Parameters
        ----------
        athlete
            Signals over the clip.
        defender
            Not used.
        given_hand
            Side of the top hand if known; None = found from the film.

        Returns
        -------
        list of Rep
            Numbered from 1, with the events that `rep_of` gives them.
        """
        del defender
        throws = find_throws(athlete, given_hand, **self.looked_for)
        reps = reps_from(athlete, throws, self.rep_of)
        return numbered(rep for rep in reps if self.is_one(athlete, rep))


def register_throw(move: str, finder: ThrowFinder) -> None:
    """Register what finds the reps of a throw, as `register_finder` does."""
    register_finder(move, find_reps=finder, rep_of=finder.rep_of)


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
