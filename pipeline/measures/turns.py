"""How fast hips and trunk turn into a throw, and in what order hips, trunk and hand are fastest.

References
----------
.. [1] C. A. Putnam, "Sequential motions of body segments in striking and throwing skills:
   descriptions and explanations", *Journal of Biomechanics* 26, supplement 1, 1993, 125-135: in
   overhand throws the segments reach their greatest speeds one after the other, those nearer to the
   ground first.
"""

from __future__ import annotations

import numpy as np

from pipeline.core.move_table import SHOTS
from pipeline.core.types import FloatArray
from pipeline.measures.advice import turns_faster
from pipeline.measures.angles import heading_deg
from pipeline.measures.registry import HIPS, SHOULDERS, measure
from pipeline.measures.view import NotMeasured, Reading, RepView

BEFORE_S = 0.6
"""Hips and trunk turn into the throw within this time before the release."""

AFTER_S = 0.1
"""A peak of the turn may come so long after that of the hand."""

SEEN_SHARE = 0.7
SPREAD = 0.35
"""Hips and trunk are seen to turn at this share of their true speed, for the pose model hardly
follows a twist and the low-pass takes the top off; standard deviation of its logarithm. Between the
share on 66 rendered shots from high to low, 0.59 for both, and that on the first of other shots,
about 0.95; wide enough for either."""

ORDER_SPREAD_S = 0.05
"""Standard deviation that a delay between hips and trunk has on top of what the draws show; set so
that intervals hold the truth on those shots: the model lets the trunk turn hips along."""

SLOWEST_TURN_DPS = 80.0
"""Hips or a trunk that are seen to turn slower than this have no peak to be told from noise."""


@measure(
    "pelvis_turn_speed_dps", moves=SHOTS, ground="none", body_lines=(HIPS,), low=turns_faster()
)
def pelvis_turn_speed(view: RepView) -> Reading:
    """Greatest turn speed of the hip line about the vertical, the way of the throw, to release."""
    return _greatest_to_release(view, "hip", "hips")


@measure(
    "trunk_turn_speed_dps", moves=SHOTS, ground="none", body_lines=(SHOULDERS,), low=turns_faster()
)
def trunk_turn_speed(view: RepView) -> Reading:
    """Greatest turn speed of the shoulder line about the vertical, as `pelvis_turn_speed`."""
    return _greatest_to_release(view, "shoulder", "trunk")


@measure("pelvis_to_trunk_s", moves=SHOTS, ground="none")
def pelvis_to_trunk(view: RepView) -> Reading:
    """Time from the greatest turn speed of the hips to that of the trunk.

    Positive where the hips come first, as published for overhand throwing [1]_.
    """
    hips_s, frames = _peak_s(view, "hip", "hips")
    trunk_s, _ = _peak_s(view, "shoulder", "trunk")
    delay_s = trunk_s - hips_s
    delay_s[1:] += ORDER_SPREAD_S * view.own_noise((delay_s.size - 1,))
    return Reading(delay_s, frames)


@measure("trunk_to_hand_s", moves=SHOTS, ground="none", read_from="release")
def trunk_to_hand(view: RepView) -> Reading:
    """Time from the greatest turn speed of the trunk to the greatest speed of the top hand.

    The latter is the release. Positive where the trunk comes first, as published for overhand
    throwing [1]_.
    """
    trunk_s, frames = _peak_s(view, "shoulder", "trunk")
    return Reading(view.instant("release") - trunk_s, frames)


def _greatest_to_release(view: RepView, part: str, name: str) -> Reading:
    speed, _, frames = _turn_speed_dps(view, part, 0.0)
    _refuse_no_turn(speed, name)
    unsure = np.exp(SPREAD * view.own_noise((speed.shape[0],)))
    unsure[0] = 1.0
    return Reading(speed.max(axis=1) / SEEN_SHARE * unsure, frames)


def _peak_s(view: RepView, part: str, name: str) -> tuple[FloatArray, slice]:
    """(n_draws,) instants of the greatest turn speed, by a parabola through three samples."""
    speed, time_s, frames = _turn_speed_dps(view, part, AFTER_S)
    _refuse_no_turn(speed, name)
    draw, top = np.arange(speed.shape[0]), np.argmax(speed, axis=1)
    inner = np.clip(top, 1, time_s.size - 2)
    before, here, after = (speed[draw, inner + step] for step in (-1, 0, 1))
    bend = before - 2 * here + after
    with np.errstate(divide="ignore", invalid="ignore"):
        shift = np.where(bend < 0, 0.5 * (before - after) / bend, 0.0)
    shift = np.where(top == inner, np.clip(shift, -0.5, 0.5), 0.0)
    interval_s = 0.5 * (time_s[inner + 1] - time_s[inner - 1])
    return np.asarray(time_s[top] + shift * interval_s), frames


def _refuse_no_turn(speed: FloatArray, name: str) -> None:
    """Raise `NotMeasured` for a turn that is no more than noise."""
    if speed[0].max() < SLOWEST_TURN_DPS:
        raise NotMeasured(f"{name}_hardly_turned")


def _turn_speed_dps(
    view: RepView, part: str, after_s: float
) -> tuple[FloatArray, FloatArray, slice]:
    """(n_draws, n_frames) turn speed of a line about the vertical as seen, the throw's way."""
    release_s = float(view.instant("release")[0])
    first_s = max(view.rep.start_s, release_s - BEFORE_S)
    frames = view.between(first_s, release_s + after_s)
    time_s = view.athlete.time_s[frames]
    if time_s.size < 4:
        raise NotMeasured("few_frames")
    line = [view.athlete.joint(f"{side}_{part}")[:, frames] for side in ("left", "right")]
    heading = np.unwrap(heading_deg(line[0], line[1]), period=360.0, axis=1)
    # A throw with the right hand on top turns the body to the left: anticlockwise from above.
    way = 1.0 if view.top == "right" else -1.0
    return way * np.gradient(heading, time_s, axis=1), time_s, frames
