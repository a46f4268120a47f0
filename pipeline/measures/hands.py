"""Heights, drops, holds and speed of the hands."""

from __future__ import annotations

import numpy as np

from pipeline.core.move_table import SHOTS, THROWS
from pipeline.core.types import FloatArray
from pipeline.measures.advice import advice_rule, turns_faster
from pipeline.measures.registry import MID_SHOULDERS, measure
from pipeline.measures.view import DrawnValue, NotMeasured, RepView, middle_at, sample

BEFORE_RELEASE_S = 0.05
SPEED_SPREAD = 0.3
"""Standard deviation of the logarithm of a peak speed; set so that intervals hold the truth on
rendered clips."""

HOLD_BAND_OF_STATURE = 0.10
LEAST_SURE_OF_STATURE = 0.05
"""A hand whose height above the hips is less sure than this (standard uncertainty) was hidden."""

MOST_HIDDEN = 0.15
"""A hand may be hidden for this share of the time about its highest or its lowest point."""

ABOUT_LOW_S = 0.15
"""The lowest point of a low fake is looked for this far from the event."""

FAKES = ("high_to_low_shot", "low_to_high_shot")
"""Shots after a fake, of which the hands go the other way first."""


def _height_before_release(view: RepView) -> tuple[FloatArray, FloatArray, slice]:
    """Top-hand heights (n_draws, n_frames) from start to just before release, and their frames."""
    release_s = float(view.instant("release")[0])
    frames = view.between(view.rep.start_s, release_s - BEFORE_RELEASE_S)
    height_m = view.athlete.joint(f"{view.top}_hand")[:, frames, 2]
    _refuse_hidden_hand(view, frames)
    return height_m, np.nanmax(height_m, axis=1), frames


def _refuse_hidden_hand(view: RepView, frames: slice) -> None:
    """Raise `NotMeasured` if the top hand was hidden while the hands were about their highest."""
    heights_m = np.stack(
        [view.athlete.joint(f"{side}_hand")[0, frames, 2] for side in (view.top, view.bottom)]
    )
    if np.isnan(heights_m[0]).all():
        raise NotMeasured("hand_hidden_before")
    if np.isnan(heights_m[1]).all():
        return
    highest_m = np.nanmax(heights_m[1])
    about_highest = heights_m[1] > highest_m - HOLD_BAND_OF_STATURE * view.athlete.stature_m[0]
    if np.isnan(heights_m[0][about_highest]).mean() > MOST_HIDDEN:
        raise NotMeasured("hand_behind_body")


@measure(
    "hand_height_before_release_m",
    moves=("high_to_low_shot",),
    ground="own_foot",
    read_from="hands",
    line="height",
    falls_when_tired=True,
)
def hand_height_before_release(view: RepView) -> DrawnValue:
    """Greatest height of the top hand above the ground from start to 0.05 s before release."""
    height_m, greatest_m, frames = _height_before_release(view)
    hips_m = 0.5 * (view.athlete.joint("left_hip") + view.athlete.joint("right_hip"))
    above_hips_m = np.nanmax(height_m - hips_m[:, frames, 2], axis=1)
    if np.nanstd(above_hips_m[1:]) > LEAST_SURE_OF_STATURE * view.athlete.stature_m[0]:
        raise NotMeasured("hand_hidden_high")
    highest = frames.start + int(np.nanargmax(height_m[0]))
    hand = view.athlete.joint(f"{view.top}_hand")[0, highest]
    return DrawnValue(greatest_m, frames, np.stack([hand * [1.0, 1.0, 0.0], hand]))


@measure(
    "hands_high_hold_s",
    moves=("high_to_low_shot",),
    ground="none",
    read_from="hands",
    low=advice_rule(("fake_to_release_s", "high")),
    high=advice_rule(("fake_to_release_s", "low")),
)
def hands_high_hold(view: RepView) -> DrawnValue:
    """Time the top hand stays within a tenth of stature of its greatest height before release."""
    height_m, greatest_m, frames = _height_before_release(view)
    floor_m = greatest_m - HOLD_BAND_OF_STATURE * view.athlete.stature_m
    time_s = view.athlete.time_s[frames]
    release_s = float(view.instant("release")[0])
    # Up to the release itself: the hand may still be up when the search for its peak has to stop.
    whole = view.between(view.rep.start_s, release_s)
    height_m = view.athlete.joint(f"{view.top}_hand")[:, whole, 2]
    time_s = view.athlete.time_s[whole]
    peak = np.nanargmax(np.where(time_s <= release_s - BEFORE_RELEASE_S, height_m, -np.inf), axis=1)
    hold_s = time_above(height_m, floor_m, time_s, peak)
    frame_s = float(np.median(np.diff(view.athlete.time_s)))
    hold_s[1:] += 0.5 * frame_s * view.own_noise((hold_s.size - 1,))
    return DrawnValue(hold_s, whole)


def time_above(
    height_m: FloatArray, floor_m: FloatArray, time_s: FloatArray, peak: FloatArray
) -> FloatArray:
    """Length of the time above a floor about a peak, crossings interpolated.

    Parameters
    ----------
    height_m
        (n_draws, n_frames), or any other signal.
    floor_m
        (n_draws,) in the same unit.
    time_s
        (n_frames,).
    peak
        (n_draws,) index of a frame above the floor.

    Returns
    -------
    numpy.ndarray
        (n_draws,) s; NaN where the signal is unknown within that time.
    """
    above = height_m - floor_m[:, None]
    draws = np.arange(height_m.shape[0])
    index = np.arange(time_s.size)
    below = above < 0
    last = time_s.size - 1
    left = np.max(np.where(below & (index < peak[:, None]), index, -1), axis=1)
    right = np.min(np.where(below & (index > peak[:, None]), index, last + 1), axis=1)

    def crossing(outer: FloatArray, inner: FloatArray) -> FloatArray:
        out, ins = np.clip(outer, 0, last), np.clip(inner, 0, last)
        a, b = above[draws, out], above[draws, ins]
        with np.errstate(divide="ignore", invalid="ignore"):
            part = np.where(a < 0, a / (a - b), 0.0)
        return np.asarray(time_s[out] + part * (time_s[ins] - time_s[out]))

    # A hidden hand is not a high one: where it was lost before it was seen to come down, the time
    # is unknown.
    held = (index > left[:, None]) & (index < right[:, None])
    hidden = (np.isnan(above) & held).any(axis=1)
    return np.where(hidden, np.nan, crossing(right, right - 1) - crossing(left, left + 1))


@measure(
    "hand_drop_m",
    moves=("high_to_low_shot",),
    ground="own_foot",
    read_from="release",
    low=advice_rule(("release_height_m", "low"), ("hand_height_before_release_m", "high")),
    high=advice_rule(("release_height_m", "high"), ("hand_height_before_release_m", "low")),
)
def hand_drop(view: RepView) -> DrawnValue:
    """Greatest height before the release less the height at the release."""
    _, greatest_m, frames = _height_before_release(view)
    return DrawnValue(greatest_m - _release_height(view), frames)


@measure(
    "release_height_m",
    moves=THROWS,
    ground="own_foot",
    read_from="release",
    line="height",
    line_at="release",
    falls_when_tired=True,
    may_fall_in=("high_to_low_shot",),
)
def release_height(view: RepView) -> DrawnValue:
    """Height of the top hand above the ground at the release."""
    hand = view.athlete.joint(f"{view.top}_hand")
    at_release = sample(hand, view.athlete.time_s, view.instant("release"))[0]
    ends_m = np.stack([at_release * [1.0, 1.0, 0.0], at_release])
    return DrawnValue(_release_height(view), _around(view, "release"), ends_m)


def _release_height(view: RepView) -> FloatArray:
    hand = view.athlete.joint(f"{view.top}_hand")[:, :, 2]
    return sample(hand, view.athlete.time_s, view.instant("release"))


def _around(view: RepView, event: str, half_s: float = 0.02) -> slice:
    instant_s = float(view.instant(event)[0])
    return view.between(instant_s - half_s, instant_s + half_s)


@measure(
    "top_hand_speed_mps",
    moves=THROWS,
    read_from="release",
    greatest=30.0,  # the wrist of professional pitchers reaches some 25 m/s; from memory
    low=turns_faster(),
)
def top_hand_speed(view: RepView) -> DrawnValue:
    """Greatest speed of the top hand about the release; a lower bound, and not the ball's speed."""
    release_s = float(view.instant("release")[0])
    frames = view.between(release_s - 0.15, release_s + 0.15)
    time_s = view.athlete.time_s[frames]
    if time_s.size < 3:
        raise NotMeasured("few_frames")
    hand = view.athlete.joint(f"{view.top}_hand")[:, frames]
    speed = np.linalg.norm(np.gradient(hand, time_s, axis=1), axis=-1)
    # Depth, blur and the low-pass leave a peak this uncertain.
    unsure = np.exp(SPEED_SPREAD * view.own_noise((speed.shape[0],)))
    unsure[0] = 1.0
    return DrawnValue(speed.max(axis=1) * unsure, frames)


def _fake(view: RepView) -> str:
    """Event of the fake's extreme: low before a shot that goes high, high before one that goes low.

    Common practice, no source: the goalie is moved the other way first.
    """
    return "hands_low" if view.rep.move == "low_to_high_shot" else "hands_high"


@measure(
    "hand_dip_m",
    moves=("low_to_high_shot",),
    ground="own_foot",
    read_from="hands",
    line="height",
    line_at="hands_low",
    low=advice_rule(("fake_to_release_s", "high")),
)
def hand_dip(view: RepView) -> DrawnValue:
    """Depth of the top hand under mid-hip at the lowest point of the low fake; below is plus.

    Common practice, no source.
    """
    lowest_m, hips_m, frames = _low_fake(view)
    hand = view.athlete.joint(f"{view.top}_hand")[0, frames]
    at_lowest = hand[int(np.nanargmin(hand[:, 2]))]
    ends_m = np.stack([np.array([*at_lowest[:2], hips_m[0]]), at_lowest])
    return DrawnValue(hips_m - lowest_m, frames, ends_m)


@measure(
    "hand_lift_m",
    moves=("low_to_high_shot",),
    ground="own_foot",
    read_from="hands",
    low=advice_rule(("fake_to_release_s", "high")),
)
def hand_lift(view: RepView) -> DrawnValue:
    """Rise of the top hand from the lowest point of the low fake to its highest before release.

    Common practice, no source.
    """
    lowest_m, _, _ = _low_fake(view)
    low_s, release_s = (float(view.instant(name)[0]) for name in ("hands_low", "release"))
    frames = view.between(low_s, max(low_s, release_s - BEFORE_RELEASE_S))
    _refuse_hidden_hand(view, frames)
    height_m = view.athlete.joint(f"{view.top}_hand")[:, frames, 2]
    return DrawnValue(np.nanmax(height_m, axis=1) - lowest_m, frames)


def _low_fake(view: RepView) -> tuple[FloatArray, FloatArray, slice]:
    """Least height of the top hand about the low fake, height of mid-hip then, and the frames."""
    low_s = float(view.instant("hands_low")[0])
    frames = view.between(max(view.rep.start_s, low_s - ABOUT_LOW_S), low_s + ABOUT_LOW_S)
    height_m = view.athlete.joint(f"{view.top}_hand")[:, frames, 2]
    if np.isnan(height_m[0]).mean() > MOST_HIDDEN:
        raise NotMeasured("hand_hidden_low")
    lowest = np.argmin(np.where(np.isnan(height_m), np.inf, height_m), axis=1)
    draw = np.arange(lowest.size)
    hips_m = view.athlete.middle("hip")[:, frames, 2]
    return height_m[draw, lowest], hips_m[draw, lowest], frames


@measure("fake_to_release_s", moves=FAKES, ground="none", read_from="release")
def fake_to_release(view: RepView) -> DrawnValue:
    """Time from the extreme of the fake to the release."""
    return DrawnValue(view.instant("release") - view.instant(_fake(view)), None)


@measure(
    "hands_from_body_m",
    moves=SHOTS,
    read_from="hands",
    body_lines=((("{bottom}_hand",), MID_SHOULDERS),),
    low=advice_rule(("elbow_at_release_deg", "high")),
)
def hands_from_body(view: RepView) -> DrawnValue:
    """Least distance from the bottom hand to the trunk's axis during the wind-up."""
    release_s = float(view.instant("release")[0])
    frames = view.between(max(view.rep.start_s, release_s - 0.6), release_s - BEFORE_RELEASE_S)
    hand = view.athlete.joint(f"{view.bottom}_hand")[:, frames]
    hips = view.athlete.middle("hip")[:, frames]
    axis = view.athlete.middle("shoulder")[:, frames] - hips
    along = np.sum((hand - hips) * axis, axis=-1) / np.sum(axis * axis, axis=-1)
    nearest = hips + np.clip(along, 0.0, 1.0)[..., None] * axis
    return DrawnValue(np.linalg.norm(hand - nearest, axis=-1).min(axis=1), frames)


@measure(
    "head_pitch_at_fake_deg", moves=FAKES, body_lines=((("left_ear", "right_ear"), ("nose",)),)
)
def head_pitch_at_fake(view: RepView) -> DrawnValue:
    """Pitch of the ear-to-nose line at the extreme of the fake; down is negative."""
    fake = _fake(view)
    instant = view.instant(fake)
    nose = sample(view.athlete.joint("nose"), view.athlete.time_s, instant)
    ears = middle_at(view.athlete, "ear", instant)
    line = nose - ears
    pitch = np.degrees(np.arctan2(line[:, 2], np.linalg.norm(line[:, :2], axis=-1)))
    return DrawnValue(pitch, _around(view, fake))
