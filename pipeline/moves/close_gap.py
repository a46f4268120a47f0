"""Reps of the dodge at a defender: the run at him, the cut, the burst past."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from pipeline.core.types import Event, FloatArray, Hand, Rep
from pipeline.moves.cuts import cut_frame
from pipeline.moves.events import FINISH_SPREAD_S, START_SPREAD_S, Burst, event_at, start_frame
from pipeline.moves.footwork import CONTACT_SPREAD_S, landing_s, turn_over_deg
from pipeline.moves.rep_finder import register_finder
from pipeline.moves.signals import Signals, landings, local_peaks, top_hand

SLOWEST_APPROACH = 0.4
"""Least speed of the hips in an approach, statures a second: a slow walk. Adults walk at 0.5 or
more by choice (0.94 m/s for the oldest, R. W. Bohannon and A. W. Andrews, *Physiotherapy* 97, 2011,
182-189), and teaching begins at a walk."""

SHARE_OF_FASTEST = 0.6
SHARE_OTHER_WAY = 0.92
OTHER_WAY_NEAREST = 1.0
OTHER_WAY_SEEN = 0.9
"""A run at the defender is at least this fast against the clip's fastest ones. One the other way
may be the jog back to the start: it has to reach the second share, to come nearer (statures) and
to have been seen in most of its frames, for a path across a gap is no more than a guess."""

CUT_BEFORE_NEAREST_S = 0.9
"""The cut comes at most this long before the attacker is nearest to the defender."""

CUT_AFTER_NEAREST_S = 0.1

HARD_TURN_DEG = 30.0
BURST_S = 1.2
BETWEEN_DODGES_S = 1.5
NEAREST_PASS = 1.6
"""The attacker comes at least this near to the defender, statures."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Run:
    """A run at the defender: frame nearest to him, mean velocity (2,), how well it was seen."""

    near: int
    from_front: bool
    way_mps: FloatArray
    well_seen: bool


def find_dodge_reps(
    athlete: Signals, defender: Signals | None, given_hand: Hand | None = None
) -> list[Rep]:
    """Find dodges at a defender.

    A rep is a fast run that brings the attacker close to the defender from his front and past him.
    Without a defender in view, it is a fast run whose path turns hard.

    Parameters
    ----------
    athlete, defender
        Signals over the clip.
    given_hand
        Side of the top hand if known; None = found from the film.

    Returns
    -------
    list of Rep
        With ``start``, ``dodge_start``, ``plant`` and ``finish``.
    """
    reps: list[Rep] = []
    earliest = 0
    for near in _passes(athlete, defender):
        burst = Burst(frame=near, earliest=earliest, latest=athlete.time_s.size, hand=given_hand)
        rep = close_gap_rep(athlete, defender, burst)
        reps.append(replace(rep, index=len(reps) + 1))
        earliest = rep.stop_frame - 1
    return reps


def close_gap_rep(athlete: Signals, defender: Signals | None, burst: Burst) -> Rep:
    """Make a rep of a burst that is known to be a run at a defender and past him.

    Parameters
    ----------
    athlete
        Signals over the clip.
    defender
        Not used.
    burst
        The frame is the one nearest to him, or that of the hard turn.

    Returns
    -------
    Rep
        With ``start``, ``dodge_start``, ``plant`` and ``finish``.
    """
    del defender
    time_s, near = athlete.time_s, burst.frame
    start = start_frame(athlete, fastest_before(athlete, near, burst.earliest), burst.earliest)
    finish = burst_end_frame(athlete, near)
    began = event_at(athlete, float(time_s[start]), spread_s=START_SPREAD_S)
    events: dict[str, Event] = {"start": began}
    cut = _cut_frame(athlete, near)
    if cut is not None:
        event = event_at(athlete, landing_s(athlete, cut), spread_s=CONTACT_SPREAD_S)
        events |= {"dodge_start": event, "plant": event}
    events["finish"] = event_at(athlete, float(time_s[finish]), spread_s=FINISH_SPREAD_S)
    return Rep(
        index=1,
        start_s=float(time_s[start]),
        stop_s=float(time_s[finish]),
        start_frame=start,
        stop_frame=finish + 1,
        move="close_gap_dodge",
        stick_hand=burst.hand or top_hand(athlete, start, near + 1),
        events=events,
    )


def distance_m(athlete: Signals, defender: Signals) -> FloatArray:
    """(n,) distance between the hips of two people along the ground."""
    return np.asarray(np.linalg.norm(athlete.hips_m - defender.hips_m, axis=-1))


def _passes(athlete: Signals, defender: Signals | None) -> list[int]:
    """Frames at which the attacker is nearest to the defender on a fast run from his front."""
    time_s, stature_m = athlete.time_s, athlete.stature_m
    if defender is None:
        return _hard_turns(athlete)
    distance = distance_m(athlete, defender)
    runs_at_him: list[_Run] = []
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
        if closing > SLOWEST_APPROACH * stature_m:
            runs_at_him.append(
                _Run(
                    near=near,
                    from_front=bool(faced > 0.0),
                    way_mps=np.nanmean(approach, axis=0),
                    well_seen=bool(
                        distance[near] < OTHER_WAY_NEAREST * stature_m
                        and athlete.known[before : near + 1].mean() > OTHER_WAY_SEEN
                    ),
                )
            )
    return _without_ways_back(runs_at_him, time_s)


def _without_ways_back(runs_at_him: list[_Run], time_s: FloatArray) -> list[int]:
    """Leave out slow runs, runs the other way that are not faster, and runs too close together."""
    if not runs_at_him:
        return []
    pace = [float(np.linalg.norm(run.way_mps)) for run in runs_at_him]
    # Over the runs from behind too: a jog home is slower, and the other way.
    fastest = float(np.median(sorted(pace)[-3:]))
    usual_way = np.sum([run.way_mps for run in runs_at_him], axis=0)
    found: list[int] = []
    for run, pace_mps in zip(runs_at_him, pace, strict=True):
        if not run.from_front:
            continue
        same_way = float(run.way_mps @ usual_way) > 0.0
        enough = (SHARE_OF_FASTEST if same_way else SHARE_OTHER_WAY) * fastest
        apart = not found or time_s[run.near] - time_s[found[-1]] > BETWEEN_DODGES_S
        if pace_mps >= enough and apart and (same_way or run.well_seen):
            found.append(run.near)
    return found


def _hard_turns(athlete: Signals) -> list[int]:
    """Landings of fast runs over which the path turns hard; the hardest of those close together."""
    time_s = athlete.time_s
    speed = np.linalg.norm(athlete.hips_mps, axis=-1)
    landed = {frame for frame, _ in landings(athlete)}
    fast = [i for i in landed if speed[i] > SLOWEST_APPROACH * athlete.stature_m]
    found: list[int] = []
    for turn_deg, frame in sorted(((turn_over_deg(athlete, i), i) for i in fast), reverse=True):
        apart = all(abs(time_s[frame] - time_s[other]) > BETWEEN_DODGES_S for other in found)
        if turn_deg > HARD_TURN_DEG and apart:
            found.append(frame)
    return sorted(found)


def fastest_before(athlete: Signals, near: int, earliest: int) -> int:
    """Frame of the fastest running within 1.5 s before another."""
    first = max(earliest, int(np.searchsorted(athlete.time_s, athlete.time_s[near] - 1.5)))
    speed = np.linalg.norm(athlete.hips_mps[first : near + 1], axis=-1)
    return first + int(np.argmax(np.where(np.isfinite(speed), speed, -np.inf)))


def _cut_frame(athlete: Signals, near: int) -> int | None:
    """Landing that carries the hard turn of the path, close to the defender."""
    near_s = float(athlete.time_s[near])
    return cut_frame(athlete, near_s - CUT_BEFORE_NEAREST_S, near_s + CUT_AFTER_NEAREST_S)


def burst_end_frame(athlete: Signals, near: int) -> int:
    """End of the burst past the defender: the hips slow to half, or `BURST_S` has gone by."""
    time_s = athlete.time_s
    latest = min(int(np.searchsorted(time_s, time_s[near] + BURST_S)), time_s.size - 1)
    speed = np.linalg.norm(athlete.hips_mps[near : latest + 1], axis=-1)
    peak = np.nanmax(speed, initial=0.0)
    slow = np.flatnonzero(speed < 0.5 * peak)
    after_peak = slow[slow > int(np.nanargmax(speed))] if np.isfinite(speed).any() else slow
    return near + int(after_peak[0]) if after_peak.size else latest


register_finder("close_gap_dodge", find_reps=find_dodge_reps, rep_of=close_gap_rep)
