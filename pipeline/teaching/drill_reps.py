"""Reps of a taught drill: their window, hand and events, as those of any move."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from pipeline.core.move_table import MOVE_INFO
from pipeline.core.types import Event, Hand, Rep
from pipeline.moves.body_frame import BodyFrame, mirrored
from pipeline.moves.events import FINISH_SPREAD_S, START_SPREAD_S, Burst, event_at
from pipeline.moves.finders import FINDERS
from pipeline.moves.signals import Signals, top_hand
from pipeline.moves.throw_detection import throwing_speed
from pipeline.teaching.classifier_check import looks_of
from pipeline.teaching.drill_features import motion_track
from pipeline.teaching.drills import Drill, DrillMatch, find_drill

SAME_REP = 0.4
"""A rep of the move that a drill is like, found by that move's own rules, is this rep if the two
share so much of the time that they take together."""

ENDS = ("start", "finish")


def find_drill_reps(
    drill: Drill,
    frame: BodyFrame,
    athlete: Signals,
    defender: Signals | None,
    given_hand: Hand | None = None,
) -> list[Rep]:
    """Find the reps of a drill in a clip.

    Parameters
    ----------
    drill
        As it was taught.
    frame
        The athlete's body over the clip.
    athlete, defender
        Signals over the clip.
    given_hand
        Side of the top hand if known.

    Returns
    -------
    list of Rep
        With ``start`` and ``finish``, the events that were marked in the examples, and those of the
        move that the drill is like.
    """
    looks = None if drill.look is None else looks_of(frame, athlete, defender)
    found = find_drill(drill, motion_track(frame), motion_track(mirrored(frame)), looks)
    like = (
        () if drill.like is None else FINDERS[drill.like].find_reps(athlete, defender, given_hand)
    )
    return [
        _rep(number, drill, one, athlete, defender, given_hand, list(like))
        for number, one in enumerate(found, start=1)
    ]


def events_like(
    move: str,
    window_s: tuple[float, float],
    athlete: Signals,
    defender: Signals | None,
    hand: Hand | None,
    found: list[Rep],
) -> dict[str, Event]:
    """Events of a built-in move within a window that is known to be such a rep.

    Parameters
    ----------
    move
        Key of the move.
    window_s
        Start and stop.
    athlete, defender, hand
        As for `find_drill_reps`.
    found
        Reps that the move's own rules found in the clip: the one that lies in the window is taken,
        else the busiest moment of the window counts as the burst.

    Returns
    -------
    dict of str to Event
        Without start and finish.
    """
    rep = max(found, key=lambda one: _shared(one, window_s), default=None)
    if rep is None or _shared(rep, window_s) < SAME_REP:
        start, stop = (int(frame) for frame in np.searchsorted(athlete.time_s, window_s))
        stop = min(max(stop, start + 2), athlete.time_s.size)
        start = min(start, stop - 1)
        frame = start + _busiest(move, athlete, start, stop, hand)
        rep = FINDERS[move].rep_of(
            athlete, defender, Burst(frame=frame, earliest=start, latest=stop, hand=hand)
        )
    return {
        name: event
        for name, event in rep.events.items()
        if name not in ENDS and window_s[0] <= event.time_s <= window_s[1]
    }


def _rep(
    number: int,
    drill: Drill,
    found: DrillMatch,
    athlete: Signals,
    defender: Signals | None,
    given_hand: Hand | None,
    like: list[Rep],
) -> Rep:
    """Make a rep of a find."""
    window_s = (found.start_s, found.stop_s)
    start, stop = (int(frame) for frame in np.searchsorted(athlete.time_s, window_s))
    stop = min(stop, athlete.time_s.size - 1)
    hand = given_hand or _hand(drill, found) or top_hand(athlete, start, stop + 1)
    events: dict[str, Event] = {}
    if drill.like is not None:
        events = events_like(drill.like, window_s, athlete, defender, hand, like)
    events |= carried_events(found.events_s, drill.event_u_s, athlete)
    events = dict(sorted(events.items(), key=lambda item: item[1].time_s))
    return Rep(
        index=number,
        start_s=float(athlete.time_s[start]),
        stop_s=float(athlete.time_s[stop]),
        start_frame=start,
        stop_frame=stop + 1,
        move=drill.name,
        stick_hand=hand,
        events={
            "start": event_at(athlete, found.start_s, spread_s=START_SPREAD_S),
            **events,
            "finish": event_at(athlete, found.stop_s, spread_s=FINISH_SPREAD_S),
        },
    )


def carried_events(
    events_s: Mapping[str, float], event_u_s: Mapping[str, float], athlete: Signals
) -> dict[str, Event]:
    """Events at given instants with given standard uncertainties."""
    return {
        name: event_at(athlete, instant_s, spread_s=event_u_s[name])
        for name, instant_s in events_s.items()
    }


def _hand(drill: Drill, found: DrillMatch) -> Hand | None:
    """Top hand of the examples, or the other one in a mirror."""
    if drill.hand is None or found.side == "same":
        return drill.hand
    return "left" if drill.hand == "right" else "right"


def _shared(rep: Rep, window_s: tuple[float, float]) -> float:
    """Time that a rep and a window share, against the time that they take together."""
    both_s = min(rep.stop_s, window_s[1]) - max(rep.start_s, window_s[0])
    return both_s / max(max(rep.stop_s, window_s[1]) - min(rep.start_s, window_s[0]), 1e-9)


def _busiest(move: str, athlete: Signals, start: int, stop: int, hand: Hand | None) -> int:
    """Frame of the window, from 0, of the quickest hand, or of the hardest push of the ground."""
    if MOVE_INFO[move].throws:
        speed = throwing_speed(athlete)[start:stop]
        activity = speed.max(axis=1) if hand is None else speed[:, ("left", "right").index(hand)]
    else:
        push = np.gradient(athlete.hips_mps, athlete.time_s, axis=0)[start:stop]
        activity = np.linalg.norm(push, axis=1)
    return int(np.argmax(np.where(np.isfinite(activity), activity, -np.inf)))
