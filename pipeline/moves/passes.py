"""Passes after a run that is stopped: the throwback, and the pivot throwback from the weak hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from pipeline.core.types import Event, Hand, Rep
from pipeline.moves.bursts import Burst
from pipeline.moves.events import event_at
from pipeline.moves.footwork import (
    CONTACT_SPREAD_S,
    landing_s,
    last_contact_frame,
    plant_frame,
    stop_frame,
)
from pipeline.moves.signals import Signals, top_hand
from pipeline.moves.throw_detection import WIND_UP_S
from pipeline.moves.throw_reps import ThrowFinder, register_throw, throw_rep
from pipeline.moves.throw_starts import LONGEST_RUN_IN_S, run_in_start

LOW_PASS_COUNTS = 0.4
"""A burst with low hands after a run that was stopped may well be a pass from the side."""


SHORTEST_AFTER_RUN_S = 0.5
"""A plant and a step back lie between the run and the release; they take at least this long."""


def throwback_rep(athlete: Signals, defender: Signals | None, burst: Burst) -> Rep:
    """Make a rep of a burst that is known to be a throwback pass."""
    del defender
    return throw_rep(athlete, burst, "throwback_pass", "level", _throwback_events)


def pivot_throwback_rep(athlete: Signals, defender: Signals | None, burst: Burst) -> Rep:
    """Make a rep of a burst that is known to be a throwback pass out of a pivot.

    The hands change places in the split before it, so that the top hand is told from the wind-up.
    """
    del defender
    wind_up = int(np.searchsorted(athlete.time_s, athlete.time_s[burst.frame] - WIND_UP_S))
    hand = burst.hand or top_hand(athlete, max(wind_up, burst.earliest), burst.frame + 1)
    burst = replace(burst, hand=hand)
    return throw_rep(athlete, burst, "pivot_throwback_pass", "any", _throwback_events)


def _stops_a_run(athlete: Signals, rep: Rep) -> bool:
    """Whether a run was stopped before the throw, seen in the hips: else it is no throwback."""
    return stop_frame(athlete, rep.start_frame, rep.events["release"].frame) is not None


def _throwback_events(
    athlete: Signals, earliest: int, release: int, hand: Hand
) -> tuple[int, dict[str, Event]]:
    """Start of the run-in, the plant and the last foot contact before the release."""
    del hand
    start = run_in_start(athlete, earliest, release, LONGEST_RUN_IN_S, SHORTEST_AFTER_RUN_S)
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


register_throw(
    "throwback_pass",
    ThrowFinder(rep_of=throwback_rep, is_one=_stops_a_run, looked_for={"standing": True}),
)
register_throw(
    "pivot_throwback_pass",
    ThrowFinder(
        rep_of=pivot_throwback_rep,
        is_one=_stops_a_run,
        looked_for={"standing": True, "low_counts": LOW_PASS_COUNTS},
    ),
)
