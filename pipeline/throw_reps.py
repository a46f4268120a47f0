"""Reps that end in a throw: the high-to-low shot and the throwback pass."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

import numpy as np

from pipeline.bursts import Burst
from pipeline.events import (
    FINISH_SPREAD_S,
    HIGHEST_SPREAD_S,
    START_SPREAD_S,
    event_at,
    finish_frame,
    hands_high_frame,
    start_frame,
)
from pipeline.release import Way, release_event
from pipeline.running import (
    CONTACT_SPREAD_S,
    landing_s,
    last_contact_frame,
    pace_mps,
    plant_frame,
    stop_frame,
)
from pipeline.signals import Signals, top_hand
from pipeline.throws import Throw, find_throws
from pipeline.types import Event, Hand, Rep

LIFTED_OF_STATURE = 0.62
LEAST_DROP_OF_STATURE = 0.12
"""A high-to-low shot has the middle of the hands this high before it, and down by this much."""

LIFT_OF_STATURE = 0.15
"""Hands this far below their highest are still on the way up, or not yet lifted."""

LONGEST_FAKE_S = 2.0
LONGEST_RUN_IN_S = 4.0
ActionEvents = Callable[[Signals, int, int, Hand], tuple[int, dict[str, Event]]]


def find_shot_reps(
    athlete: Signals, defender: Signals | None, told_hand: Hand | None = None
) -> list[Rep]:
    """Find high-to-low shots.

    Parameters
    ----------
    athlete
        Signals over the clip.
    defender
        Not used.
    told_hand
        Side of the top hand where it was told; None = found from the film.

    Returns
    -------
    list of Rep
        With ``start``, ``hands_high``, ``release`` and ``finish``.
    """
    del defender
    reps = _reps_from(athlete, find_throws(athlete, told_hand), high_to_low_rep)
    return _numbered(rep for rep in reps if _is_high_to_low(athlete, rep))


def find_throwback_reps(
    athlete: Signals, defender: Signals | None, told_hand: Hand | None = None
) -> list[Rep]:
    """Find throwback passes.

    Parameters
    ----------
    athlete
        Signals over the clip.
    defender
        Not used.
    told_hand
        Side of the top hand where it was told; None = found from the film.

    Returns
    -------
    list of Rep
        With ``start``, ``plant``, ``last_contact``, ``release`` and ``finish``.
    """
    del defender
    throws = find_throws(athlete, told_hand, standing=True)
    reps = _reps_from(athlete, throws, throwback_rep)
    return _numbered(rep for rep in reps if _stops_a_run(athlete, rep))


def high_to_low_rep(athlete: Signals, defender: Signals | None, burst: Burst) -> Rep:
    """Make a rep of a burst that is known to be a high-to-low shot."""
    del defender
    return throw_rep(athlete, burst, "high_to_low_shot", "down", _shot_events)


def throwback_rep(athlete: Signals, defender: Signals | None, burst: Burst) -> Rep:
    """Make a rep of a burst that is known to be a throwback pass."""
    del defender
    return throw_rep(athlete, burst, "throwback_pass", "level", _throwback_events)


def throw_rep(athlete: Signals, burst: Burst, move: str, way: Way, events_of: ActionEvents) -> Rep:
    """Make a rep of a burst that is known to be a throw.

    Parameters
    ----------
    athlete
        Signals over the clip.
    burst
        With its hand; the higher hand before it where that was not told.
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
    finish = finish_frame(athlete, release.frame, min(burst.latest, time_s.size))
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


def _reps_from(
    athlete: Signals,
    throws: list[Throw],
    rep_of: Callable[[Signals, Signals | None, Burst], Rep],
) -> list[Rep]:
    """Make a rep of each throw; none starts before the one before it has finished."""
    reps: list[Rep] = []
    earliest = 0
    for number, throw in enumerate(throws):
        latest = throws[number + 1].frame if number + 1 < len(throws) else athlete.time_s.size
        burst = Burst(frame=throw.frame, earliest=earliest, latest=latest, hand=throw.hand)
        rep = rep_of(athlete, None, burst)
        reps.append(rep)
        earliest = rep.stop_frame - 1
    return reps


def _numbered(reps: Iterable[Rep]) -> list[Rep]:
    """Give the reps that are left their numbers from 1."""
    return [replace(rep, index=number) for number, rep in enumerate(reps, start=1)]


def _stops_a_run(athlete: Signals, rep: Rep) -> bool:
    """Whether a run was stopped before the throw, seen in the hips: else it is no throwback."""
    return stop_frame(athlete, rep.start_frame, rep.events["release"].frame) is not None


def _is_high_to_low(athlete: Signals, rep: Rep) -> bool:
    """Whether the hands were lifted and came down for the throw: else it is no such shot."""
    high, release = rep.events["hands_high"], rep.events["release"]
    height_m = athlete.hand_height_m.mean(axis=1)
    lifted = height_m[high.frame] > LIFTED_OF_STATURE * athlete.stature_m
    drop_m = height_m[high.frame] - height_m[min(release.frame + 2, height_m.size - 1)]
    return bool(lifted and drop_m > LEAST_DROP_OF_STATURE * athlete.stature_m)


def _shot_events(
    athlete: Signals, earliest: int, release: int, hand: Hand
) -> tuple[int, dict[str, Event]]:
    """Start of the lift and the instant of the hands at their highest."""
    time_s = athlete.time_s
    first = max(earliest, int(np.searchsorted(time_s, time_s[release] - LONGEST_FAKE_S)))
    high = hands_high_frame(athlete, hand, first, max(release, first + 1))
    height_m = athlete.hand_height_m.mean(axis=1)
    low = height_m[earliest:high] < height_m[high] - LIFT_OF_STATURE * athlete.stature_m
    lifting = earliest + int(np.flatnonzero(low)[-1]) if low.any() else high
    start = start_frame(athlete, lifting, earliest)
    return start, {"hands_high": event_at(athlete, float(time_s[high]), spread_s=HIGHEST_SPREAD_S)}


def _throwback_events(
    athlete: Signals, earliest: int, release: int, hand: Hand
) -> tuple[int, dict[str, Event]]:
    """Start of the run-in, the plant and the last foot contact before the release."""
    del hand
    time_s = athlete.time_s
    first = max(earliest, int(np.searchsorted(time_s, time_s[release] - LONGEST_RUN_IN_S)))
    speed = np.linalg.norm(pace_mps(athlete, first, release + 1), axis=-1)
    fastest = first + int(np.argmax(np.where(np.isfinite(speed), speed, -np.inf)))
    start = start_frame(athlete, fastest, earliest)
    stop = stop_frame(athlete, start, release)
    plant = None if stop is None else plant_frame(athlete, start, stop)
    if plant is None:
        return start, {}
    plant_event = event_at(athlete, landing_s(athlete, plant), spread_s=CONTACT_SPREAD_S)
    if not athlete.contact[plant_event.frame : release + 1].any():
        return start, {"plant": plant_event}  # no foot was seen on the ground: no step to measure
    last = last_contact_frame(athlete, plant_event.frame, release)
    return start, {
        "plant": plant_event,
        "last_contact": event_at(athlete, landing_s(athlete, last), spread_s=CONTACT_SPREAD_S),
    }
