"""Shots and passes: the reps of each, with their events."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from pipeline.core.spline import runs
from pipeline.core.types import Event, FloatArray, Hand, Rep
from pipeline.moves.events import (
    HIGHEST_SPREAD_S,
    Burst,
    event_at,
    hands_high_frame,
    start_frame,
)
from pipeline.moves.footwork import (
    CONTACT_SPREAD_S,
    landing_s,
    last_contact_frame,
    plant_frame,
    stop_frame,
)
from pipeline.moves.signals import Signals, landings, top_hand, touchdowns
from pipeline.moves.throw_detection import WIND_UP_S
from pipeline.moves.throw_reps import (
    LONGEST_RUN_IN_S,
    ThrowFinder,
    not_before,
    register_throw,
    run_in_start,
    run_start,
    throw_rep,
    wind_up_start,
)

LIFTED_OF_STATURE = 0.62
LEAST_DROP_OF_STATURE = 0.12
"""A high-to-low shot has the middle of the hands this high before it, and down by this much."""

LIFT_OF_STATURE = 0.15
"""Hands this far below their highest are still on the way up, or not yet lifted."""

LEAST_RISE_OF_STATURE = 0.15
"""A low-to-high shot lifts the top hand by this much at least out of the low fake."""

SHARE_OF_RISE = 0.6
"""Of several dips before a shot the last one counts that rises by this share of the greatest."""

LONGEST_FAKE_S = 2.0

LONGEST_STRIDE_S = 0.8
LANDS_LATE_S = 0.04
"""The foot that a shot is taken off lands at most so long before the release, and may be seen to
stand so much later than it touches."""

PLANT_SPREAD_S = {"step": 0.03, "run": 0.05}
"""Standard uncertainty of a landing from a step and from a run, on top of the frame interval's; by
the errors on simulated motions."""

RUNNING = 0.6
SET = 1.4
"""Hips faster than the first at the release run, slower than the second step, statures a second."""


def high_to_low_rep(athlete: Signals, defender: Signals | None, burst: Burst) -> Rep:
    """Make a rep of a burst that is known to be a high-to-low shot."""
    del defender
    return throw_rep(athlete, burst, "high_to_low_shot", "down", _high_to_low_events)


def low_to_high_rep(athlete: Signals, defender: Signals | None, burst: Burst) -> Rep:
    """Make a rep of a burst that is known to be a low-to-high shot."""
    del defender
    return throw_rep(athlete, burst, "low_to_high_shot", "any", _low_to_high_events)


def on_the_run_rep(athlete: Signals, defender: Signals | None, burst: Burst) -> Rep:
    """Make a rep of a burst that is known to be a shot on the run."""
    del defender
    return throw_rep(athlete, burst, "on_the_run_shot", "any", _on_the_run_events)


def step_down_rep(athlete: Signals, defender: Signals | None, burst: Burst) -> Rep:
    """Make a rep of a burst that is known to be a step-down shot."""
    del defender
    return throw_rep(athlete, burst, "step_down_shot", "any", _step_down_events)


def _is_high_to_low(athlete: Signals, rep: Rep) -> bool:
    """Whether the hands were lifted and came down for the throw: else it is no such shot."""
    high, release = rep.events["hands_high"], rep.events["release"]
    height_m = athlete.hand_height_m.mean(axis=1)
    lifted = height_m[high.frame] > LIFTED_OF_STATURE * athlete.stature_m
    drop_m = height_m[high.frame] - height_m[min(release.frame + 2, height_m.size - 1)]
    return bool(lifted and drop_m > LEAST_DROP_OF_STATURE * athlete.stature_m)


def _is_low_to_high(athlete: Signals, rep: Rep) -> bool:
    """Whether the top hand was lifted out of a dip before the throw: else it is no such shot."""
    if "hands_low" not in rep.events:
        return False
    height_m = _height_m(athlete, rep.stick_hand or "right")
    rise_m = height_m[rep.events["hands_high"].frame] - height_m[rep.events["hands_low"].frame]
    return bool(rise_m > LEAST_RISE_OF_STATURE * athlete.stature_m)


def _pace_at_release(athlete: Signals, rep: Rep) -> float:
    """Speed of the hips along the ground at the release, statures a second."""
    release = rep.events["release"].frame
    return float(np.linalg.norm(athlete.hips_mps[release])) / athlete.stature_m


def _high_to_low_events(
    athlete: Signals, earliest: int, release: int, hand: Hand
) -> tuple[int, dict[str, Event]]:
    """Start of the lift and the instant of the hands at their highest."""
    time_s = athlete.time_s
    first = not_before(athlete, earliest, release, LONGEST_FAKE_S)
    high = hands_high_frame(athlete, hand, first, max(release, first + 1))
    height_m = athlete.hand_height_m.mean(axis=1)
    low = height_m[earliest:high] < height_m[high] - LIFT_OF_STATURE * athlete.stature_m
    lifting = earliest + int(np.flatnonzero(low)[-1]) if low.any() else high
    start = start_frame(athlete, lifting, earliest)
    return start, {"hands_high": event_at(athlete, float(time_s[high]), spread_s=HIGHEST_SPREAD_S)}


def _low_to_high_events(
    athlete: Signals, earliest: int, release: int, hand: Hand
) -> tuple[int, dict[str, Event]]:
    """Start of the dip, the top hand at its lowest, and at its highest after that."""
    first = not_before(athlete, earliest, release, LONGEST_FAKE_S)
    height_m = _height_m(athlete, hand)
    low = _last_dip(height_m[first : release + 1])
    if low is None:
        return wind_up_start(athlete, earliest, release), {}
    low += first
    high = hands_high_frame(athlete, hand, low, max(release, low + 1))
    above = height_m[earliest:low] > height_m[low] + LIFT_OF_STATURE * athlete.stature_m
    dipping = earliest + int(np.flatnonzero(above)[-1]) if above.any() else low
    start = start_frame(athlete, dipping, earliest)
    return start, {
        name: event_at(athlete, float(athlete.time_s[frame]), spread_s=HIGHEST_SPREAD_S)
        for name, frame in (("hands_low", low), ("hands_high", high))
    }


def _height_m(athlete: Signals, hand: Hand) -> FloatArray:
    """(n,) height of the top hand above the ground."""
    return athlete.hand_height_m[:, 0 if hand == "left" else 1]


def _last_dip(height_m: FloatArray) -> int | None:
    """Index of the lowest sample before the lift that a shot follows; None for unknown heights.

    Of all dips from which the hand rises nearly as far as from the deepest, it is the last: hands
    that hang down between two shots are no fake.
    """
    known = np.isfinite(height_m)
    if not known.any():
        return None
    # The greatest height that follows each sample, less its own height.
    highest_after = np.maximum.accumulate(np.where(known, height_m, -np.inf)[::-1])[::-1]
    rise_m = np.where(known, highest_after - height_m, -np.inf)
    enough = rise_m >= SHARE_OF_RISE * rise_m.max()
    start, stop = runs(enough)[-1]
    return start + int(np.argmax(rise_m[start:stop]))


def _on_the_run_events(
    athlete: Signals, earliest: int, release: int, hand: Hand
) -> tuple[int, dict[str, Event]]:
    """Start of the run and the last landing before the release."""
    del hand
    start = run_start(athlete, earliest, release)
    return start, _plant(athlete, start, release, (0, 1), PLANT_SPREAD_S["run"])


def _step_down_events(
    athlete: Signals, earliest: int, release: int, hand: Hand
) -> tuple[int, dict[str, Event]]:
    """Start of the wind-up and the landing of the front foot."""
    del hand
    start = wind_up_start(athlete, earliest, release)
    # Front is where the chest faces as the ball leaves.
    ahead_m = athlete.foot_m[release, :, :2] @ athlete.facing[release]
    front = (int(np.argmax(ahead_m)),) if np.isfinite(ahead_m).all() else (0, 1)
    return start, _plant(athlete, start, release, front, PLANT_SPREAD_S["step"])


def _plant(
    athlete: Signals, start: int, release: int, feet: tuple[int, ...], spread_s: float
) -> dict[str, Event]:
    """Last landing of one of the feet within a stride before the release, if one was seen."""
    first = not_before(athlete, start, release, LONGEST_STRIDE_S)
    last = int(np.searchsorted(athlete.time_s, athlete.time_s[release] + LANDS_LATE_S))
    seen = [frame for frame, foot in landings(athlete) if foot in feet]
    stood = [frame for frame, _, foot in touchdowns(athlete) if foot in feet and frame > 0]
    # A contact without a swing before it may be a foot that only was lost and seen again.
    for frames in (seen, stood):
        landed = [frame for frame in frames if first < frame <= last]
        if landed:
            at_s = landing_s(athlete, landed[-1])
            at_s = min(at_s, float(athlete.time_s[release]))
            return {"plant": event_at(athlete, at_s, spread_s=spread_s)}
    return {}


def _runs_at_release(athlete: Signals, rep: Rep) -> bool:
    return _pace_at_release(athlete, rep) > RUNNING


def _is_set(athlete: Signals, rep: Rep) -> bool:
    return not _pace_at_release(athlete, rep) > SET


register_throw("high_to_low_shot", ThrowFinder(rep_of=high_to_low_rep, is_one=_is_high_to_low))
register_throw(
    "low_to_high_shot",
    ThrowFinder(rep_of=low_to_high_rep, is_one=_is_low_to_high, looked_for={"down_share": 0.0}),
)
register_throw("on_the_run_shot", ThrowFinder(rep_of=on_the_run_rep, is_one=_runs_at_release))
register_throw("step_down_shot", ThrowFinder(rep_of=step_down_rep, is_one=_is_set))


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

    The hands change places in the split before it, so that the top hand is found at the wind-up.
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
    plant = None if stop is None else plant_frame(athlete, start, stop, release)
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
