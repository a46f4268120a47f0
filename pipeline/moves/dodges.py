"""Makes a rep of a burst that is known to be a split, an angle cut, a roll or a hesitation."""

from __future__ import annotations

from collections.abc import Callable

from pipeline.core.types import Event, Rep
from pipeline.moves.close_gap import burst_end_frame, fastest_before
from pipeline.moves.cuts import cut_contact
from pipeline.moves.dodge_events import (
    HITCH_SPREAD_S,
    LEFT_STANCE_SPREAD_S,
    ROLL_END_SPREAD_S,
    SLOWEST_SPREAD_S,
    SWITCH_SPREAD_S,
    contact_event,
    hitch_contact,
    pivot_contact,
    roll_near,
    slowest_frame,
    switch_near_s,
)
from pipeline.moves.events import FINISH_SPREAD_S, Burst, event_at, start_frame
from pipeline.moves.signals import Signals, top_hand

DodgeEvents = Callable[[Signals, Burst], dict[str, Event]]


def split_rep(athlete: Signals, defender: Signals | None, burst: Burst) -> Rep:
    """Make a rep of a burst that is known to be a split dodge.

    The stick hand is the top hand at the key event, the plant, and so the one that the rep starts
    with; after ``hands_switched`` the other hand is on top.

    Parameters
    ----------
    athlete
        Signals over the clip.
    defender
        Not used.
    burst
        About the hard turn of the path. Its hand stands in where the film does not show which one
        is on top at first: whoever splits ends with the stick in the other hand.

    Returns
    -------
    Rep
        With ``start``, ``dodge_start``, ``plant``, ``hands_switched`` and ``finish``.
    """
    del defender
    return _rep(athlete, burst, "split_dodge", _split_events)


def angle_cut_rep(athlete: Signals, defender: Signals | None, burst: Burst) -> Rep:
    """Make a rep of a burst that is known to be an angle cut.

    The events are ``start``, ``dodge_start``, ``plant`` and ``finish``.
    """
    del defender
    return _rep(athlete, burst, "angle_cut_dodge", _cut_events)


def roll_rep(athlete: Signals, defender: Signals | None, burst: Burst) -> Rep:
    """Make a rep of a burst that is known to be a roll.

    The events are ``start``, ``dodge_start``, ``plant`` (of the foot on which the body turns),
    ``roll_end`` and ``finish``.
    """
    del defender
    return _rep(athlete, burst, "roll_dodge", _roll_events)


def hesitation_rep(athlete: Signals, defender: Signals | None, burst: Burst) -> Rep:
    """Make a rep of a burst that is known to be a hesitation.

    The events are ``start``, ``dodge_start``, ``plant``, ``slowest`` and ``finish``.
    """
    del defender
    return _rep(athlete, burst, "hesitation_dodge", _hitch_events)


def _rep(athlete: Signals, burst: Burst, move: str, events_of: DodgeEvents) -> Rep:
    """Make a rep from the events of its move, its run-in and its burst away."""
    time_s = athlete.time_s
    own = {
        name: event
        for name, event in events_of(athlete, burst).items()
        if burst.earliest <= event.frame < burst.latest
    }
    about = own["dodge_start"].frame if "dodge_start" in own else burst.frame
    about = max(about, burst.earliest)
    start = start_frame(athlete, fastest_before(athlete, about, burst.earliest), burst.earliest)
    last = max((event.frame for event in own.values()), default=burst.frame)
    finish = min(burst_end_frame(athlete, max(last, about)), max(burst.latest - 1, last))
    if move == "split_dodge":
        hand = top_hand(athlete, start, about + 1, burst.hand) or burst.hand
    else:
        hand = burst.hand or top_hand(athlete, start, about + 1)
    return Rep(
        index=1,
        start_s=float(time_s[start]),
        stop_s=float(time_s[finish]),
        start_frame=start,
        stop_frame=finish + 1,
        move=move,
        stick_hand=hand,
        events={
            "start": event_at(athlete, float(time_s[start]), spread_s=LEFT_STANCE_SPREAD_S),
            **own,
            "finish": event_at(athlete, float(time_s[finish]), spread_s=FINISH_SPREAD_S),
        },
    )


def _cut_events(athlete: Signals, burst: Burst) -> dict[str, Event]:
    return contact_event(athlete, cut_contact(athlete, burst.frame))


def _split_events(athlete: Signals, burst: Burst) -> dict[str, Event]:
    plant = cut_contact(athlete, burst.frame)
    events = contact_event(athlete, plant)
    switched_s = switch_near_s(athlete, burst.frame if plant is None else plant)
    if switched_s is not None:
        events["hands_switched"] = event_at(athlete, switched_s, spread_s=SWITCH_SPREAD_S)
    return events


def _roll_events(athlete: Signals, burst: Burst) -> dict[str, Event]:
    turn = roll_near(athlete, burst.frame)
    if turn is None:
        return contact_event(athlete, cut_contact(athlete, burst.frame))
    events = contact_event(athlete, pivot_contact(athlete, turn))
    return events | {"roll_end": event_at(athlete, turn.end_s, spread_s=ROLL_END_SPREAD_S)}


def _hitch_events(athlete: Signals, burst: Burst) -> dict[str, Event]:
    slowest = slowest_frame(athlete, burst.frame)
    if slowest is None:
        return {}
    events = contact_event(athlete, hitch_contact(athlete, slowest), HITCH_SPREAD_S)
    slowest_s = float(athlete.time_s[slowest])
    return events | {"slowest": event_at(athlete, slowest_s, spread_s=SLOWEST_SPREAD_S)}
