"""Finds the foot contact that takes a hard change of direction, and where the path turns hard."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from pipeline.core.spline import spline_smooth
from pipeline.core.types import FloatArray
from pipeline.moves.footwork import turn_over_deg
from pipeline.moves.signals import Signals, landings

PUSH_CUTOFF_HZ = 2.0
"""Half-gain frequency of the path in which a push sideways shows; the depth of the hips wavers with
every step, so that a sharper path shows a push in each of them."""

PUSH_S = (-0.02, 0.22)
"""When, from the landing on, a foot pushes the body sideways."""

LOOKED_AT_S = 1.5
"""The path is looked at this far before the first and after the last landing."""

LEAST_TURN_DEG = 15.0
"""Next to a defender, who hides part of the path, at least this much is left of a hard turn."""

INSIDE_FOOT = 0.7
"""Weight of a landing of the foot on the side that the path turns to. In the usual side step the
other foot takes the cut; a crossover is rarer (terms of Andrews et al. 1977, "The cutting
mechanism", from memory; the weight is our own)."""

RIVAL_SHARE = 0.5
"""A second landing that explains the turn as well as this share of the best one leaves the cut
undecided."""

HARD_SHARE = 0.65
"""The first landing with turn and push as hard as this share of the hardest shows to which side the
first change of direction goes: past a defender a second one, back to the line, may be harder."""

USUAL_STEP_S = 0.3
LONG_STEP = 1.5
"""Two landings of one foot further apart than so many steps hide one of the other foot."""


@dataclass(frozen=True, slots=True)
class _Candidate:
    """A landing that was seen, or one that must have been there between two that were."""

    frame: int
    foot: int
    seen: bool


def cut_frame(athlete: Signals, first_s: float, last_s: float) -> int | None:
    """Landing that takes the cut, among those in a span of time.

    Two signs must agree: the way of the hips before and after the landing differs in direction,
    and the hips are pushed sideways while that foot stands. The foot on the outer side of the turn
    is the likelier one.

    Parameters
    ----------
    athlete
        Of the attacker.
    first_s, last_s
        Span in clip time.

    Returns
    -------
    int or None
        Frame of the landing; None where the path does not turn, where two landings explain the
        turn alike, or where the foot that took it was hidden.
    """
    candidates = _candidates(athlete, first_s, last_s)
    if not candidates:
        return None
    turn_deg = np.array([turn_over_deg(athlete, one.frame) for one in candidates])
    push = _pushes(athlete, [one.frame for one in candidates])
    if turn_deg.max() < LEAST_TURN_DEG or not np.isfinite(push).any():
        return None
    push = np.nan_to_num(push)
    hard = turn_deg * np.abs(push)
    first = int(np.argmax(hard >= HARD_SHARE**2 * hard.max()))
    to_left = push[first] > 0.0
    same_way = np.maximum(push if to_left else -push, 0.0)
    back = np.flatnonzero(np.arange(push.size) > first)
    back = back[(push[back] > 0.0) != to_left]
    if back.size:  # whatever comes after he has turned back is another change of direction
        same_way[back[0] :] = 0.0
    score = np.sqrt(turn_deg / turn_deg.max() * same_way / max(float(same_way.max()), 1e-9))
    inside = np.array([(one.foot == 0) == to_left for one in candidates])
    score[inside] *= INSIDE_FOOT
    best, *others = np.argsort(-score)
    if any(score[other] > RIVAL_SHARE * score[best] for other in others):
        return None
    return candidates[best].frame if candidates[best].seen else None


def _candidates(athlete: Signals, first_s: float, last_s: float) -> list[_Candidate]:
    """Landings in a span, seen or due: feet land in turns."""
    time_s = athlete.time_s
    landed = [
        (frame, foot)
        for frame, foot in landings(athlete)
        if first_s - 2.5 * USUAL_STEP_S <= time_s[frame] <= last_s + 2.5 * USUAL_STEP_S
    ]
    steps_s = [
        float(time_s[b] - time_s[a]) for (a, foot), (b, other) in pairwise(landed) if foot != other
    ]
    step_s = float(np.median(steps_s)) if steps_s else USUAL_STEP_S
    found = [_Candidate(frame, foot, seen=True) for frame, foot in landed]
    for (a, foot), (b, other) in pairwise(landed):
        if foot == other and time_s[b] - time_s[a] > LONG_STEP * step_s:
            between_s = 0.5 * float(time_s[a] + time_s[b])
            found.append(_Candidate(_frame_at(athlete, between_s), 1 - foot, seen=False))
    if landed and last_s - time_s[landed[-1][0]] > step_s:
        due_s = float(time_s[landed[-1][0]]) + step_s
        found.append(_Candidate(_frame_at(athlete, due_s), 1 - landed[-1][1], seen=False))
    return sorted(
        (one for one in found if first_s <= time_s[one.frame] <= last_s),
        key=lambda one: one.frame,
    )


def _frame_at(athlete: Signals, at_s: float) -> int:
    return int(np.argmin(np.abs(athlete.time_s - at_s)))


def _pushes(athlete: Signals, frames: list[int]) -> FloatArray:
    """Mean acceleration of the hips to the left of their way over each stance, m/s2."""
    start_s, stop_s = (float(athlete.time_s[frames[i]]) for i in (0, -1))
    about = slice(
        int(np.searchsorted(athlete.time_s, start_s - LOOKED_AT_S)),
        int(np.searchsorted(athlete.time_s, stop_s + LOOKED_AT_S, side="right")),
    )
    time_s, hips_m = athlete.time_s[about], athlete.hips_m[about]
    known = np.isfinite(hips_m[:, 0])
    path_m = spline_smooth(time_s, hips_m, known.astype(float), PUSH_CUTOFF_HZ)
    velocity = np.gradient(path_m, time_s, axis=0)
    change = np.gradient(velocity, time_s, axis=0)
    speed = np.maximum(np.linalg.norm(velocity, axis=-1), 0.5)
    left = (velocity[:, 0] * change[:, 1] - velocity[:, 1] * change[:, 0]) / speed
    left[~known] = np.nan
    means = np.full(len(frames), np.nan)
    for i, frame in enumerate(frames):
        offset_s = time_s - athlete.time_s[frame]
        stance = (offset_s >= PUSH_S[0]) & (offset_s <= PUSH_S[1])
        if np.isfinite(left[stance]).any():
            means[i] = np.nanmean(left[stance])
    return means


HARD_TURN_DEG = 30.0
WAY_S, TURN_TAKES_S = 0.25, 0.2
"""A path turns hard where its ways of this length, so long apart, differ by more than this."""

SLOWEST_WAY = 0.35
"""Slower than so many statures a second, a way has no direction."""

TURN_SEEN_S = 0.6
"""The hardest turn lies this near to the instant of a burst."""

LANDS_BEFORE_S = 0.6
"""The foot that takes it lands at most so long before the middle of the turn, and not after it."""


def speed_mps(athlete: Signals) -> FloatArray:
    """(n,) speed of the hips along the ground; NaN where the path is unknown."""
    return np.asarray(np.linalg.norm(athlete.hips_mps, axis=-1))


def frames_about(athlete: Signals, frame: int, before_s: float, after_s: float) -> slice:
    """Frames from so long before a frame to so long after it, both included."""
    time_s = athlete.time_s
    return slice(
        int(np.searchsorted(time_s, time_s[frame] - before_s - 1e-9)),
        int(np.searchsorted(time_s, time_s[frame] + after_s + 1e-9, side="right")),
    )


def greatest_about(
    athlete: Signals, values: FloatArray, before_s: float, after_s: float
) -> FloatArray:
    """Greatest value about each frame, from so long before it to so long after it.

    Parameters
    ----------
    athlete
        For the times of the frames.
    values
        (n,); NaN where unknown.
    before_s, after_s
        At least 0; the frames at both ends are included.

    Returns
    -------
    numpy.ndarray
        (n,); NaN where no value about the frame is known.
    """
    time_s = athlete.time_s
    first = np.searchsorted(time_s, time_s - before_s - 1e-9)
    stop = np.searchsorted(time_s, time_s + after_s + 1e-9, side="right")
    # reduceat takes the spans between successive bounds: every second one is a window. The value
    # added at the end lets a window stop there.
    bounds = np.column_stack([first, stop]).ravel()
    return np.asarray(np.fmax.reduceat(np.append(values, np.nan), bounds)[::2])


def turn_hardness(athlete: Signals) -> FloatArray:
    """(n,) turn of the path about each frame, deg, times the lesser of the speeds around it, m/s.

    0 where the turn is less than `HARD_TURN_DEG`, or the path is unknown.
    """
    time_s, path_m = athlete.time_s, athlete.hips_m

    def way_m(start_s: float, stop_s: float) -> FloatArray:
        ends = [
            np.clip(np.searchsorted(time_s, time_s + at_s - 1e-9), 0, time_s.size - 1)
            for at_s in (start_s, stop_s)
        ]
        return np.asarray(path_m[ends[1]] - path_m[ends[0]])

    half_s = 0.5 * TURN_TAKES_S
    before, after = way_m(-half_s - WAY_S, -half_s), way_m(half_s, half_s + WAY_S)
    slower_mps = np.minimum(np.linalg.norm(before, axis=-1), np.linalg.norm(after, axis=-1)) / WAY_S
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turn_deg = np.abs(np.degrees(np.arctan2(cross, np.sum(before * after, axis=-1))))
    with np.errstate(invalid="ignore"):
        hard = (turn_deg > HARD_TURN_DEG) & (slower_mps > SLOWEST_WAY * athlete.stature_m)
    return np.where(hard, turn_deg * slower_mps, 0.0)


def cut_contact(athlete: Signals, frame: int) -> int | None:
    """Find the landing of the foot that takes the hard turn near a frame.

    Parameters
    ----------
    athlete
        Signals over the clip.
    frame
        Of the burst.

    Returns
    -------
    int or None
        Frame of the landing; None where the path does not turn hard, or it cannot be found.
    """
    about = frames_about(athlete, frame, TURN_SEEN_S, TURN_SEEN_S)
    hardness = turn_hardness(athlete)[about]
    if not hardness.any():
        return None
    middle_s = float(athlete.time_s[about][int(np.argmax(hardness))])
    return cut_frame(athlete, middle_s - LANDS_BEFORE_S, middle_s)
