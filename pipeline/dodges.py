"""Reps of the dodge at a defender: the run at him, the cut, the burst past."""

from __future__ import annotations

import numpy as np

from pipeline.events import event_at, start_frame
from pipeline.running import CONTACT_SPREAD_S, landing_s, turn_over_deg
from pipeline.signals import Signals, local_peaks, top_hand, touchdowns
from pipeline.types import Event, FloatArray, Hand, Rep

SLOWEST_APPROACH = 1.2
"""Least speed of the hips in an approach, statures a second."""

SHARE_OF_FASTEST = 0.6
SHARE_OTHER_WAY = 0.92
"""A run at the defender is at least this fast against the clip's fastest ones; one the other way
has to reach the second share, for it may be the jog back to the start."""

CUT_BEFORE_NEAREST_S = 0.9
"""The cut comes at most this long before the attacker is nearest to the defender."""

CUT_AFTER_NEAREST_S = 0.1
CUT_BEFORE_HIDING_S = 0.1
PAST_S = 0.3

SHARE_OF_TURN = 0.8
RUN_UP_LANDINGS = 4
"""The rhythm of a run is told from this many landings."""

HARD_TURN_DEG = 30.0
LEAST_TURN_DEG = 15.0
"""Next to a defender, who hides part of the path, at least this much is left of a hard turn."""

BURST_S = 1.2
BETWEEN_DODGES_S = 1.5
NEAREST_PASS = 1.6
"""The attacker comes at least this near to the defender, statures."""


def find_dodge_reps(
    athlete: Signals, defender: Signals | None, told_hand: Hand | None = None
) -> list[Rep]:
    """Find dodges at a defender.

    A rep is a fast run that brings the attacker close to the defender from his front and past him.
    Without a defender in view, it is a fast run whose path turns hard.

    Parameters
    ----------
    athlete, defender
        Signals over the clip.
    told_hand
        Side of the top hand where it was told; None = found from the film.

    Returns
    -------
    list of Rep
        With ``start``, ``dodge_start``, ``plant`` and ``finish``.
    """
    time_s = athlete.time_s
    reps: list[Rep] = []
    earliest = 0
    for near in _passes(athlete, defender):
        start = start_frame(athlete, _fastest_before(athlete, near, earliest), earliest)
        finish = _finish(athlete, near)
        events: dict[str, Event] = {"start": event_at(athlete, float(time_s[start]))}
        cut = _cut_frame(athlete, near)
        if cut is not None:
            event = event_at(athlete, landing_s(athlete, cut), spread_s=CONTACT_SPREAD_S)
            events |= {"dodge_start": event, "plant": event}
        events["finish"] = event_at(athlete, float(time_s[finish]))
        reps.append(
            Rep(
                index=len(reps) + 1,
                start_s=float(time_s[start]),
                stop_s=float(time_s[finish]),
                start_frame=start,
                stop_frame=finish + 1,
                move="close_gap_dodge",
                stick_hand=told_hand or top_hand(athlete, start, near + 1),
                events=events,
            )
        )
        earliest = finish
    return reps


def distance_m(athlete: Signals, defender: Signals) -> FloatArray:
    """(n,) distance between the hips of two people along the ground."""
    return np.asarray(np.linalg.norm(athlete.hips_m - defender.hips_m, axis=-1))


def _passes(athlete: Signals, defender: Signals | None) -> list[int]:
    """Frames at which the attacker is nearest to the defender on a fast run from his front."""
    time_s, stature_m = athlete.time_s, athlete.stature_m
    if defender is None:
        return _hard_turns(athlete)
    distance = distance_m(athlete, defender)
    runs_at_him: list[tuple[int, FloatArray]] = []
    for near in local_peaks(-distance):
        if distance[near] > NEAREST_PASS * stature_m:
            continue
        before = int(np.searchsorted(time_s, time_s[near] - 0.8))
        approach = athlete.hips_mps[before : near + 1]
        toward = defender.hips_m[before : near + 1] - athlete.hips_m[before : near + 1]
        toward = toward / np.maximum(np.linalg.norm(toward, axis=-1, keepdims=True), 1e-9)
        closing = float(np.nanmax(np.sum(approach * toward, axis=-1), initial=0.0))
        # The defender faces the one he guards; on the way back the attacker comes from behind.
        faced = -np.nanmean(np.sum(defender.facing[before : near + 1] * toward, axis=-1))
        if closing > SLOWEST_APPROACH * stature_m and faced > 0.0:
            runs_at_him.append((near, np.nanmean(approach, axis=0)))
    return _without_ways_back(runs_at_him, time_s)


def _without_ways_back(runs_at_him: list[tuple[int, FloatArray]], time_s: FloatArray) -> list[int]:
    """Leave out slow runs, runs the other way that are not faster, and runs too close together."""
    if not runs_at_him:
        return []
    pace = [float(np.linalg.norm(way)) for _, way in runs_at_him]
    fastest = float(np.median(sorted(pace)[-3:]))
    usual_way = np.sum([way for _, way in runs_at_him], axis=0)
    found: list[int] = []
    for (near, way), pace_mps in zip(runs_at_him, pace, strict=True):
        same_way = float(way @ usual_way) > 0.0
        enough = (SHARE_OF_FASTEST if same_way else SHARE_OTHER_WAY) * fastest
        apart = not found or time_s[near] - time_s[found[-1]] > BETWEEN_DODGES_S
        if pace_mps >= enough and apart:
            found.append(near)
    return found


def _hard_turns(athlete: Signals) -> list[int]:
    """Landings of fast runs over which the path turns hard; the hardest of those close together."""
    time_s = athlete.time_s
    speed = np.linalg.norm(athlete.hips_mps, axis=-1)
    landed = {first for first, _, _ in touchdowns(athlete)}
    fast = [i for i in landed if speed[i] > SLOWEST_APPROACH * athlete.stature_m]
    found: list[int] = []
    for turn_deg, frame in sorted(((turn_over_deg(athlete, i), i) for i in fast), reverse=True):
        apart = all(abs(time_s[frame] - time_s[other]) > BETWEEN_DODGES_S for other in found)
        if turn_deg > HARD_TURN_DEG and apart:
            found.append(frame)
    return sorted(found)


def _fastest_before(athlete: Signals, near: int, earliest: int) -> int:
    first = max(earliest, int(np.searchsorted(athlete.time_s, athlete.time_s[near] - 1.5)))
    speed = np.linalg.norm(athlete.hips_mps[first : near + 1], axis=-1)
    return first + int(np.argmax(np.where(np.isfinite(speed), speed, -np.inf)))


def _cut_frame(athlete: Signals, near: int) -> int | None:
    """Touchdown that carries the hard turn of the path, close to the defender.

    The last foot contact before the turn is the first over which the way before and the way after
    differ about as much as they ever do.
    """
    time_s = athlete.time_s
    close = int(np.searchsorted(time_s, time_s[near] - CUT_BEFORE_NEAREST_S))
    latest = int(np.searchsorted(time_s, time_s[near] + CUT_AFTER_NEAREST_S))
    landed = [first for first, _, _ in touchdowns(athlete) if close <= first <= latest]
    turns = [turn_over_deg(athlete, frame) for frame in landed]
    hardest = max(turns, default=0.0)
    if hardest < LEAST_TURN_DEG:
        # The defender may hide the turn itself: the last landing seen on the way to him, then.
        past = int(np.searchsorted(time_s, time_s[near] + PAST_S))
        hidden = not athlete.known[near:past].all()
        before = [f for f in landed if time_s[near] - time_s[f] > CUT_BEFORE_HIDING_S]
        return before[-1] if before and hidden else None
    cut = next(f for f, turn in zip(landed, turns, strict=True) if turn >= SHARE_OF_TURN * hardest)
    return None if _missed_a_landing(athlete, cut) else cut


def _missed_a_landing(athlete: Signals, cut: int) -> bool:
    """Whether the turn belongs to a later landing, due by the rhythm of the run but not seen."""
    time_s = athlete.time_s
    landed = [first for first, _, _ in touchdowns(athlete)]
    run_up = [f for f in landed if f <= cut][-RUN_UP_LANDINGS:]
    if len(run_up) < RUN_UP_LANDINGS:
        return False
    step_s = float(np.median(np.diff(time_s[run_up])))
    due_s = float(time_s[cut]) + step_s
    if any(abs(float(time_s[f]) - due_s) < 0.5 * step_s for f in landed):
        return False
    due = int(np.argmin(np.abs(time_s - due_s)))
    return SHARE_OF_TURN * turn_over_deg(athlete, due) > turn_over_deg(athlete, cut)


def _finish(athlete: Signals, near: int) -> int:
    """End of the burst past the defender: the hips slow to half, or `BURST_S` has gone by."""
    time_s = athlete.time_s
    latest = min(int(np.searchsorted(time_s, time_s[near] + BURST_S)), time_s.size - 1)
    speed = np.linalg.norm(athlete.hips_mps[near : latest + 1], axis=-1)
    peak = np.nanmax(speed, initial=0.0)
    slow = np.flatnonzero(speed < 0.5 * peak)
    after_peak = slow[slow > int(np.nanargmax(speed))] if np.isfinite(speed).any() else slow
    return near + int(after_peak[0]) if after_peak.size else latest
