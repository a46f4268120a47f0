"""Finds dodges by a change of way or pace in a clip of a known move."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from pipeline.core.types import BoolArray, FloatArray, Hand, Rep
from pipeline.moves.close_gap import SLOWEST_APPROACH, distance_m
from pipeline.moves.cuts import frames_about, greatest_about, speed_mps, turn_hardness
from pipeline.moves.dodge_events import (
    DROP_SHARE,
    LEAST_ROLL_DEG,
    facing_rad,
    hitch_depth,
    roll_near,
    switch_near_s,
)
from pipeline.moves.dodges import angle_cut_rep, hesitation_rep, roll_rep, split_rep
from pipeline.moves.events import Burst, quiet_frames
from pipeline.moves.rep_finder import RepOf, register_finder
from pipeline.moves.signals import Signals, local_peaks

HARD, OTHER_WAY_HARD = 0.3, 0.55
"""A turn counts if it is as hard as this share of the usual; the second for that of a run the other
way than the usual one, which may be the way home."""

TO_AND_FRO = 0.35
"""There is no usual way where the runs, added up, cancel out to less than this share."""

RUNS_ON_S, RUNS_ON_SHARE = 0.6, 0.5
"""After a cut the run goes on with this share of its speed, and so soon."""

BETWEEN_DODGES_S = 1.5
DODGED_WITHIN = 2.8
"""With a defender in view, a dodge is made this near to him, statures, or nearer."""

OF_THE_FASTEST = 0.55
"""A dodge is run into with at least this share of the speed of the clip's fastest ones: slower
runs are jogs back to the start."""

GOES_ON_SHARE = 0.4
"""After a hesitation the run goes on with this share of its speed at least, along its old way."""

HALF, LONGEST_HITCH_S = 0.5, 0.9
"""It is slower than half of its pace for no longer than this: whoever rests has finished."""

SEEN_S = 1.0


def find_split_reps(
    athlete: Signals, defender: Signals | None, given_hand: Hand | None = None
) -> list[Rep]:
    """Find split dodges: hard turns of a run in which the hands change places on the stick.

    Parameters
    ----------
    athlete, defender
        Signals over the clip; with a defender, only what happens near him counts.
    given_hand
        Side of the top hand if known; None = found from the film.

    Returns
    -------
    list of Rep
        As `split_rep` gives them. Where no hands were seen to change, all hard turns.
    """
    turns = _hard_turns(athlete)
    switched = [frame for frame in turns if switch_near_s(athlete, frame) is not None]
    return _reps(athlete, defender, given_hand, switched or turns, split_rep)


def find_angle_cut_reps(
    athlete: Signals, defender: Signals | None, given_hand: Hand | None = None
) -> list[Rep]:
    """Find angle cuts: hard turns of a run; see `find_split_reps` for what is given and taken."""
    return _reps(athlete, defender, given_hand, _hard_turns(athlete), angle_cut_rep)


def find_roll_reps(
    athlete: Signals, defender: Signals | None, given_hand: Hand | None = None
) -> list[Rep]:
    """Find rolls: the body turns further than half round; see `find_split_reps` for the rest."""
    return _reps(athlete, defender, given_hand, _rolls(athlete), roll_rep)


def find_hesitation_reps(
    athlete: Signals, defender: Signals | None, given_hand: Hand | None = None
) -> list[Rep]:
    """Find hesitations: a run slows down and goes on; see `find_split_reps` for the rest."""
    return _reps(athlete, defender, given_hand, _hitches(athlete), hesitation_rep)


def _reps(
    athlete: Signals,
    defender: Signals | None,
    given_hand: Hand | None,
    frames: list[int],
    rep_of: RepOf,
) -> list[Rep]:
    """Make a rep of each frame that may be a dodge; none starts before the last has finished."""
    kept = _without_ways_back(athlete, _near_defender(athlete, defender, frames))
    reps: list[Rep] = []
    earliest = 0
    for number, frame in enumerate(kept):
        if _fastest(athlete, frame) < earliest:
            continue  # it is run into from the burst of the rep before: its end
        latest = kept[number + 1] if number + 1 < len(kept) else athlete.time_s.size
        burst = Burst(frame=frame, earliest=earliest, latest=latest, hand=given_hand)
        rep = rep_of(athlete, defender, burst)
        reps.append(replace(rep, index=len(reps) + 1))
        earliest = rep.stop_frame - 1
    return reps


def _near_defender(athlete: Signals, defender: Signals | None, frames: list[int]) -> list[int]:
    if defender is None:
        return frames
    distance = distance_m(athlete, defender)
    farthest = DODGED_WITHIN * athlete.stature_m
    return [i for i in frames if not np.nanmin(_seen(athlete, distance, i)) > farthest]


def _seen(athlete: Signals, values: FloatArray, frame: int) -> FloatArray:
    """Known values within half a second of a frame; infinity where missing."""
    near = values[frames_about(athlete, frame, 0.5, 0.5)]
    near = near[np.isfinite(near)]
    return near if near.size else np.array([np.inf])


def _without_ways_back(athlete: Signals, frames: list[int]) -> list[int]:
    """Leave out what happens on the way back to the start.

    Between two rests, whatever comes after the first dodge and is run into the other way belongs
    to the way back; and so does what is run into much more slowly than the clip's fastest dodges.
    """
    if not frames:
        return []
    ways = [_run_in(athlete, frame) for frame in frames]
    pace = [float(np.linalg.norm(way)) for way in ways]
    fastest = float(np.median(sorted(pace)[-3:]))
    quiet = quiet_frames(athlete)
    kept: list[int] = []
    first: FloatArray | None = None
    for frame, way, pace_mps in zip(frames, ways, pace, strict=True):
        if pace_mps < OF_THE_FASTEST * fastest:
            continue
        rested = not kept or bool(quiet[kept[-1] : frame].any())
        if rested or first is None:
            first = way
        if not rested and float(way @ first) < 0.0:
            continue
        kept.append(frame)
    return kept


def _fastest(athlete: Signals, frame: int) -> int:
    """Frame of the greatest speed of the hips in the second before another; that one if unknown."""
    before = frames_about(athlete, frame, SEEN_S, 0.0)
    speed = speed_mps(athlete)[before]
    return int(before.start) + int(np.nanargmax(speed)) if np.isfinite(speed).any() else frame


def _run_in(athlete: Signals, frame: int) -> FloatArray:
    """(2,) velocity of the hips at their fastest in the second before a frame; 0 if unknown."""
    return np.asarray(np.nan_to_num(athlete.hips_mps[_fastest(athlete, frame)]))


def _hard_turns(athlete: Signals) -> list[int]:
    """Frames about which the path of a run turns hard, the hardest of those close together.

    Hard is a turn at speed. Who bows out on the way home turns too, but gently; and who stops and
    turns round is slow.
    """
    hardness = np.where(_runs_on(athlete), turn_hardness(athlete), 0.0)
    found = _apart(athlete, hardness, 0.0)
    if not found:
        return []
    ways = np.array([hardness[i] * _run_in(athlete, i) for i in found])
    usual_way = ways.sum(axis=0)
    usual = float(np.median(np.sort(hardness[found])[-3:]))
    to_and_fro = np.linalg.norm(usual_way) < TO_AND_FRO * np.linalg.norm(ways, axis=-1).sum()
    return [
        i
        for i, way in zip(found, ways, strict=True)
        if hardness[i] > (HARD if to_and_fro or way @ usual_way > 0 else OTHER_WAY_HARD) * usual
    ]


def _runs_on(athlete: Signals) -> BoolArray:
    """(n,) whether a run goes on after a frame, to wherever: who stops has finished."""
    speed = np.nan_to_num(speed_mps(athlete))
    before = greatest_about(athlete, speed, SEEN_S, 0.0)
    return np.asarray(greatest_about(athlete, speed, 0.0, RUNS_ON_S) > RUNS_ON_SHARE * before)


def _rolls(athlete: Signals) -> list[int]:
    """Frames in the middle of a turn of much more than half round."""
    rate = np.abs(np.gradient(facing_rad(athlete), athlete.time_s))
    found: list[int] = []
    for frame in _apart(athlete, rate, np.radians(LEAST_ROLL_DEG) / (2 * SEEN_S)):
        turn = roll_near(athlete, frame)
        if turn is None or athlete.time_s[frame] > turn.end_s + BETWEEN_DODGES_S:
            continue
        middle = (turn.start + turn.stop) // 2  # of a double roll the second may be the faster one
        if all(abs(athlete.time_s[middle] - athlete.time_s[i]) > BETWEEN_DODGES_S for i in found):
            found.append(middle)
    return found


def _hitches(athlete: Signals) -> list[int]:
    """Frames at which a run is slowest before it goes on."""
    depth = hitch_depth(athlete)
    drop = np.where(np.isfinite(depth), 1.0 - depth, 0.0)
    goes_on = np.zeros(drop.size, dtype=bool)
    for frame in local_peaks(drop):
        goes_on[frame] = drop[frame] > 1.0 - DROP_SHARE and _goes_on(athlete, frame)
    return _apart(athlete, np.where(goes_on, drop, 0.0), 1.0 - DROP_SHARE)


def _goes_on(athlete: Signals, frame: int) -> bool:
    """Whether a run goes on to where it went before it slowed down, and nearly as fast."""
    after = frames_about(athlete, frame, 0.0, SEEN_S)
    speed = speed_mps(athlete)[after]
    onward = athlete.hips_mps[after.start + int(np.nanargmax(speed))]
    run_in = _run_in(athlete, frame)
    slow = speed_mps(athlete) < HALF * min(float(np.nanmax(speed)), float(np.linalg.norm(run_in)))
    fast = np.flatnonzero(~slow)
    first = fast[fast < frame].max(initial=-1) + 1
    last = fast[fast > frame].min(initial=slow.size) - 1
    if athlete.time_s[last] - athlete.time_s[first] > LONGEST_HITCH_S:
        return False
    return float(run_in @ onward) > GOES_ON_SHARE * float(run_in @ run_in)


def _apart(athlete: Signals, values: FloatArray, least: float) -> list[int]:
    """Peaks above a least value after a run, the greatest of those that are close together."""
    time_s = athlete.time_s
    peaks = [i for i in local_peaks(values) if values[i] > least]
    slowest = SLOWEST_APPROACH * athlete.stature_m
    found: list[int] = []
    for frame in sorted(peaks, key=lambda i: -values[i]):
        fast = float(np.linalg.norm(_run_in(athlete, frame))) > slowest
        if fast and all(abs(time_s[frame] - time_s[i]) > BETWEEN_DODGES_S for i in found):
            found.append(frame)
    return sorted(found)


register_finder("split_dodge", find_reps=find_split_reps, rep_of=split_rep)
register_finder("angle_cut_dodge", find_reps=find_angle_cut_reps, rep_of=angle_cut_rep)
register_finder("roll_dodge", find_reps=find_roll_reps, rep_of=roll_rep)
register_finder("hesitation_dodge", find_reps=find_hesitation_reps, rep_of=hesitation_rep)
