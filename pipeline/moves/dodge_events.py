"""Instants inside a dodge: its plant, the turn of a roll, the hitch, the switch of hands."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline.core.spline import spline_smooth
from pipeline.core.types import Event, FloatArray
from pipeline.moves.cuts import frames_about, greatest_about, speed_mps
from pipeline.moves.events import event_at
from pipeline.moves.footwork import CONTACT_SPREAD_S, landing_s
from pipeline.moves.signals import Signals, landings

DROP_SHARE = 0.6
DROP_WITHIN_S = 0.4
"""A hesitation starts where the hips are slower than this share of what they were within so long:
a change of speed of more than 40 % within 0.4 s."""

LONGEST_STANCE_S = 0.45
"""A foot that landed longer before does not carry what happens now."""

HITCH_SEEN_S = 0.8
"""The slowest instant of a hesitation lies this near to the instant of its burst."""

ROLL_SEEN_S = 1.2
"""The fastest turn of a roll lies this near to the instant of its burst."""

STILL_TURNING = 0.1
"""A roll lasts while the hips turn faster than this share of their fastest turn."""

ROLL_SHARE = 0.05
"""It begins and ends at this share of its whole turn."""

LEAST_ROLL_DEG = 200.0
"""A body that turns back where it came from turns half round; one that rolls turns further."""

PIVOT_LANDS_S = (-0.25, 0.15)
"""When the pivot foot lands, from the instant at which the hips begin to turn."""

SWITCH_SPREAD_S = 0.05
SLOWEST_SPREAD_S = 0.07
HITCH_SPREAD_S = 0.07
LEFT_STANCE_SPREAD_S = 0.11
ROLL_END_SPREAD_S = 0.08
"""Standard uncertainties of these instants on top of that of the frame interval."""


def contact_event(
    athlete: Signals, landing: int | None, spread_s: float = CONTACT_SPREAD_S
) -> dict[str, Event]:
    """Give the start of a dodge and its plant, the same contact; nothing where it is unknown."""
    if landing is None:
        return {}
    event = event_at(athlete, landing_s(athlete, landing), spread_s=spread_s)
    return {"dodge_start": event, "plant": event}


def slowest_frame(athlete: Signals, frame: int) -> int | None:
    """Frame near another at which the hips are slowest between two faster spells.

    Parameters
    ----------
    athlete
        Signals over the clip.
    frame
        Of the burst.

    Returns
    -------
    int or None
        None where the hips were not followed, or do not slow down by `DROP_SHARE` and gather speed
        again.
    """
    speed = speed_mps(athlete)
    about = frames_about(athlete, frame, HITCH_SEEN_S, HITCH_SEEN_S)
    dip = hitch_depth(athlete)[about]
    if not np.isfinite(dip).any() or np.nanmin(dip) > DROP_SHARE:
        return None
    deepest = about.start + int(np.nanargmin(dip))
    near = frames_about(athlete, deepest, 0.3, 0.3)
    return int(near.start) + int(np.nanargmin(speed[near]))


def hitch_depth(athlete: Signals) -> FloatArray:
    """(n,) speed of the hips over the lesser of their greatest speeds within 1 s before and after.

    1 or more where they do not slow down for a while; NaN where that is unknown.
    """
    speed = speed_mps(athlete)
    before, after = (greatest_about(athlete, speed, *span_s) for span_s in ((1.0, 0.0), (0.0, 1.0)))
    return np.asarray(speed / np.maximum(np.minimum(before, after), 1e-9))


def hitch_contact(athlete: Signals, slowest: int) -> int | None:
    """Last landing before the speed of the hips has dropped by more than 40 % within 0.4 s."""
    speed = speed_mps(athlete)
    first = frames_about(athlete, slowest, 1.0, 0.0).start
    dropped = speed < DROP_SHARE * greatest_about(athlete, speed, DROP_WITHIN_S, 0.0)
    frames = first + np.flatnonzero(dropped[first : slowest + 1])
    return _last_landing(athlete, float(athlete.time_s[frames[0]])) if frames.size else None


def _last_landing(athlete: Signals, instant_s: float) -> int | None:
    """Last landing up to an instant; None where none was seen for longer than a stance."""
    landed = [f for f, _ in landings(athlete) if landing_s(athlete, f) <= instant_s + 1e-9]
    if not landed or instant_s - landing_s(athlete, landed[-1]) > LONGEST_STANCE_S:
        return None
    return landed[-1]


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """A turn of the body about the vertical, one way without a stop.

    Attributes
    ----------
    start, stop
        Frames between which the hips turn; the last one included.
    begin_s, end_s
        Instants at which 5 and 95 % are turned.
    turn_deg
        Anticlockwise seen from above.
    """

    start: int
    stop: int
    begin_s: float
    end_s: float
    turn_deg: float


def facing_rad(athlete: Signals) -> FloatArray:
    """(n,) direction that the chest faces, anticlockwise seen from above, without jumps."""
    return np.asarray(np.unwrap(np.arctan2(athlete.facing[:, 1], athlete.facing[:, 0])))


def roll_near(athlete: Signals, frame: int) -> Turn | None:
    """Find the turn of a roll near a frame, or None where the body does not turn far enough.

    Parameters
    ----------
    athlete
        Signals over the clip.
    frame
        Of the burst.

    Returns
    -------
    Turn or None
        From where the body begins to turn to where it turns slower than `STILL_TURNING` of its
        fastest.
    """
    facing = facing_rad(athlete)
    rate = np.gradient(facing, athlete.time_s)
    about = frames_about(athlete, frame, ROLL_SEEN_S, ROLL_SEEN_S)
    turns = []
    for way in (1.0, -1.0):
        peak = about.start + int(np.argmax(way * rate[about]))
        slow = way * rate < STILL_TURNING * way * rate[peak]
        before, after = np.flatnonzero(slow[:peak]), np.flatnonzero(slow[peak:])
        start = int(before[-1]) + 1 if before.size else 0
        stop = peak + int(after[0]) if after.size else rate.size - 1
        turn_deg = float(np.degrees(facing[stop] - facing[start]))
        if abs(turn_deg) >= LEAST_ROLL_DEG:
            turns.append(_turn(athlete, facing, start, stop))
    # Of a double roll, one way and back the other way, the first counts.
    return min(turns, key=lambda turn: turn.start, default=None)


def _turn(athlete: Signals, facing: FloatArray, start: int, stop: int) -> Turn:
    share = (facing[start : stop + 1] - facing[start]) / (facing[stop] - facing[start])
    begin_s, end_s = np.interp(
        [ROLL_SHARE, 1.0 - ROLL_SHARE],
        np.maximum.accumulate(share),
        athlete.time_s[start : stop + 1],
    )
    return Turn(
        start=start,
        stop=stop,
        begin_s=float(begin_s),
        end_s=float(end_s),
        turn_deg=float(np.degrees(facing[stop] - facing[start])),
    )


def pivot_contact(athlete: Signals, turn: Turn) -> int | None:
    """Landing of the foot on which a roll turns: it stands for most of the turn's first half."""
    time_s = athlete.time_s
    half_s = 0.5 * (turn.begin_s + turn.end_s)
    turning = (time_s >= turn.begin_s) & (time_s <= half_s)
    best: int | None = None
    longest = 0
    for frame, foot in landings(athlete):
        offset_s = float(time_s[frame]) - turn.begin_s
        if PIVOT_LANDS_S[0] <= offset_s <= PIVOT_LANDS_S[1]:
            standing = int(athlete.contact[turning, foot].sum())
            if standing > longest or (best is not None and standing == longest):
                best, longest = frame, standing
    return best


SWITCH_SEEN_S = (-0.25, 0.95)
"""When the hands have changed places, from the plant of a split."""

HELD_S = 0.3
"""One hand is on top for so long before, and the other for so long after."""

ON_TOP = 0.02
"""The top hand is higher than the other by this share of stature on average, at least."""

CHANGED_SHARE = 0.5
HANDS_CUTOFF_HZ = 5.0


def hands_switched_s(athlete: Signals, first_s: float, last_s: float) -> float | None:
    """Instant at which the hands have changed places on the stick: the other one is on top.

    The head of the stick points up while it is carried, so that the order along the stick shows in
    the heights. Of all instants in the span, the one is taken about which the difference of the
    heights changes most from a spell before to a spell after it: a single frame in which the hands
    were confused does not count. They have changed places once the other hand is
    higher by `CHANGED_SHARE` of what it is in the spell after.

    Parameters
    ----------
    athlete
        Signals over the clip.
    first_s, last_s
        Span in clip time.

    Returns
    -------
    float or None
        Clip time; None where the hands were not seen to change places.
    """
    time_s, higher_m = athlete.time_s, right_higher_m(athlete)
    best, greatest = None, 2 * ON_TOP * athlete.stature_m
    for i in np.flatnonzero((time_s >= first_s) & (time_s <= last_s)):
        before, after = _spells(time_s, higher_m, int(i))
        change = abs(after - before)
        held = min(abs(before), abs(after)) >= ON_TOP * athlete.stature_m
        if before * after < 0.0 and held and change > greatest:
            best, greatest = int(i), change
    if best is None:
        return None
    # By then they have come to rest: what they are apart half way through would be too little.
    settled = _spells(time_s, higher_m, _frame_after(time_s, best, 0.5 * HELD_S))[1]
    if abs(settled) < ON_TOP * athlete.stature_m:
        return None
    share = _smooth(time_s, higher_m) / settled - CHANGED_SHARE
    crossed = np.flatnonzero((share[:-1] < 0.0) & (share[1:] >= 0.0))
    if crossed.size == 0:
        return None
    at = int(crossed[np.argmin(np.abs(time_s[crossed] - time_s[best]))])
    part = share[at] / (share[at] - share[at + 1])
    return float(time_s[at] + part * (time_s[at + 1] - time_s[at]))


def switch_near_s(athlete: Signals, frame: int) -> float | None:
    """Instant at which the hands changed places about the plant of a split; None if not seen."""
    about_s = float(athlete.time_s[frame])
    return hands_switched_s(athlete, about_s + SWITCH_SEEN_S[0], about_s + SWITCH_SEEN_S[1])


def right_higher_m(athlete: Signals) -> FloatArray:
    """(n,) height of the right hand above the left one; NaN where they were not both seen."""
    difference = athlete.hand_height_m[:, 1] - athlete.hand_height_m[:, 0]
    # Where one hand is hidden the other stands in for it: then the two heights are the same.
    return np.asarray(np.where(difference == 0.0, np.nan, difference))


def _frame_after(time_s: FloatArray, i: int, after_s: float) -> int:
    return min(int(np.searchsorted(time_s, time_s[i] + after_s)), time_s.size - 1)


def _spells(time_s: FloatArray, values: FloatArray, i: int) -> tuple[float, float]:
    """Means of what is known in the spells before and after a frame; 0 where nothing is."""
    offset_s = time_s - time_s[i]
    means = []
    for sign in (-1.0, 1.0):
        spell = (sign * offset_s > 0.0) & (sign * offset_s <= HELD_S)
        known = values[spell & np.isfinite(values)]
        means.append(float(known.mean()) if known.size else 0.0)
    return means[0], means[1]


def _smooth(time_s: FloatArray, values: FloatArray) -> FloatArray:
    """Low-pass that bridges what is unknown."""
    known = np.isfinite(values)
    smooth = spline_smooth(time_s, values[:, None], known.astype(float), HANDS_CUTOFF_HZ)
    return np.asarray(smooth[:, 0])
