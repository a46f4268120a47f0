"""Find throws: a burst that follows a wind-up and sends the top hand out to the front and down."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline.core.types import FloatArray, Hand
from pipeline.moves.signals import SEEN_AXES, Signals, frames_within, local_peaks, top_hand

SLOWEST_THROW = 0.9
"""Least speed of the top hand to the front and down, statures a second."""

WIND_UP_S = 0.6
"""The top hand is found from this time before the burst."""

BURST_S = 0.25
"""A burst reaches this far to both sides of its peak."""

LEAST_REACH = 0.12
"""Least way of the top hand to the front and down within a burst, statures."""

DOWN_SHARE = 0.6
"""How much a way down counts against one to the front."""

NEAR_PEAK_S = 0.05

CARRY_OF_STATURE = 0.68
RAISED_ABOVE_CARRY = 0.18
LOW_COUNTS = 0.1
"""A stick is carried with the top hand about `CARRY_OF_STATURE` high and thrown from higher up;
a burst after a wind-up with low hands counts by the last share: it may be a swing of the stick."""

WIDEST_GRIP = 0.45
"""Hands on one shaft are not further apart than this, statures; chosen on rendered clips."""

BETWEEN_THROWS_S = 1.2
"""Two throws are at least this far apart."""

SHARE_OF_BEST = 0.2
"""A throw scores at least this share of the clip's typical best burst."""

SAME_THROW_S = 0.45
SHARE_OF_LAST = 0.2
"""Bursts this near to each other belong to one throw; the last counts from this share of score."""

WALKING = 0.6
"""Speed of the hips in a walk, statures a second."""

FEWEST_FOR_USUAL = 2
"""From this many throws on, the hand of most of them is taken where a rep leaves it open."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Throw:
    """A candidate throw.

    Attributes
    ----------
    frame
        Frame of the greatest speed of the top hand to the front and down.
    hand
        Side of the top hand.
    score
        Greatest speed against the hips (statures a second) squared times the way to the front
        and down (statures), less for a wind-up with low hands.
    """

    frame: int
    hand: Hand
    score: float


def throwing_speed(signals: Signals, down_share: float = DOWN_SHARE) -> FloatArray:
    """Speed of each hand against the hips as far as it goes to the front of the chest and down.

    A throw carries the top hand that way. Winding up, coming back and the swing of a carried
    stick on a jog go the other way, or sideways, or not far.

    Parameters
    ----------
    signals
        Of the athlete.
    down_share
        How much a way down counts against one to the front; 0 for throws that go level or up.

    Returns
    -------
    numpy.ndarray
        (n, 2) left and right, statures a second, at least 0.
    """
    # The way to the front is taken before the speed: turning round with still hands is no way.
    front_m = np.einsum("nhk,nk->nh", signals.hand_m[..., :2], signals.facing)
    way_m = front_m - down_share * signals.hand_m[..., 2]
    speed = np.gradient(way_m, signals.time_s, axis=0) / signals.stature_m
    return np.asarray(np.maximum(speed, 0.0))


def find_throws(
    signals: Signals,
    given_hand: Hand | None = None,
    *,
    standing: bool = False,
    down_share: float = DOWN_SHARE,
    low_counts: float = LOW_COUNTS,
) -> list[Throw]:
    """Find the throws of a clip, best first taken, none closer than `BETWEEN_THROWS_S`.

    Parameters
    ----------
    signals
        Of the athlete.
    given_hand
        Side of the top hand if known.
    standing
        Whether the hips are nearly still at the release, as after a step back.
    down_share
        As for `throwing_speed`.
    low_counts
        Share by which a wind-up with low hands counts.

    Returns
    -------
    list of Throw
        In the order of the clip.
    """
    speed = throwing_speed(signals, down_share)

    def best(given: Hand | None, usual: Hand | None) -> list[Throw]:
        return _best(
            signals, _candidates(signals, speed, given, usual, low_counts, standing=standing)
        )

    first = best(given_hand, None)
    if given_hand is not None or len(first) < FEWEST_FOR_USUAL:
        return first
    right = sum(throw.score for throw in first if throw.hand == "right")
    return best(None, "right" if right > 0.5 * sum(throw.score for throw in first) else "left")


def _best(signals: Signals, candidates: list[Throw]) -> list[Throw]:
    """Take the best candidates that are far enough apart and not far below the clip's best."""
    ranked = sorted(candidates, key=lambda c: -c.score)
    if not ranked:
        return []
    taken: list[Throw] = []
    for candidate in ranked:
        instant_s = signals.time_s[candidate.frame]
        if all(abs(instant_s - signals.time_s[t.frame]) >= BETWEEN_THROWS_S for t in taken):
            taken.append(candidate)
    typical_best = float(np.median([throw.score for throw in taken[:3]]))
    taken = [throw for throw in taken if throw.score > SHARE_OF_BEST * typical_best]
    return sorted((_last_of(signals, throw, ranked) for throw in taken), key=lambda t: t.frame)


def _last_of(signals: Signals, throw: Throw, ranked: list[Throw]) -> Throw:
    """Give the last burst of the same throw that is not far below it.

    Dropping the hands from a high fake into the wind-up can be as quick as the throw itself; the
    release is what comes last.
    """
    later = [
        other
        for other in ranked
        if other.hand == throw.hand
        and 0.0 < signals.time_s[other.frame] - signals.time_s[throw.frame] < SAME_THROW_S
        and other.score > SHARE_OF_LAST * throw.score
    ]
    return max([throw, *later], key=lambda t: t.frame)


def _candidates(
    signals: Signals,
    speed: FloatArray,
    given_hand: Hand | None,
    usual_hand: Hand | None,
    low_counts: float,
    *,
    standing: bool,
) -> list[Throw]:
    """Every burst of the hand that was on top in the wind-up before it."""
    time_s, stature_m = signals.time_s, signals.stature_m
    hips = np.linalg.norm(signals.hips_mps, axis=-1) / stature_m
    found = []
    sides: tuple[Hand, Hand] = ("left", "right")
    for column, side in enumerate(sides):
        for frame in local_peaks(speed[:, column]):
            if speed[frame, column] < SLOWEST_THROW:
                continue
            wind_up = int(np.searchsorted(time_s, time_s[frame] - WIND_UP_S))
            if (given_hand or top_hand(signals, wind_up, frame, usual_hand)) != side:
                continue
            if not _on_one_stick(signals, wind_up, frame):
                continue
            start = int(np.searchsorted(time_s, time_s[frame] - BURST_S))
            stop = int(np.searchsorted(time_s, time_s[frame] + BURST_S))
            reach = float(np.trapezoid(speed[start:stop, column], time_s[start:stop]))
            if reach < LEAST_REACH:
                continue
            near = frames_within(time_s, frame, NEAR_PEAK_S)
            fastest = float(np.nanmax(signals.hand_mps[near, column])) / stature_m
            score = fastest**2 * reach
            raised = _raised(signals.hand_height_m[wind_up:frame, column], stature_m)
            score *= max(raised, low_counts)
            if standing:
                score *= float(np.clip(1.1 - np.nan_to_num(hips[frame]) / WALKING, 0.1, 1.0))
            found.append(Throw(frame=frame, hand=side, score=score))
    return found


def _on_one_stick(signals: Signals, start: int, stop: int) -> bool:
    """Whether both hands stay as near to each other in the picture as on the shaft of a stick."""
    apart = (signals.hand_m[start:stop, 0] - signals.hand_m[start:stop, 1])[:, SEEN_AXES]
    apart_m = np.linalg.norm(apart, axis=-1)
    apart_m = apart_m[np.isfinite(apart_m)]
    return apart_m.size == 0 or bool(np.median(apart_m) < WIDEST_GRIP * signals.stature_m)


def _raised(height_m: FloatArray, stature_m: float) -> float:
    """Give 1 for a wind-up with the top hand at eye height, down to 0 for one as in a carry."""
    highest = float(np.nanmax(height_m, initial=0.0)) / stature_m
    return float(np.clip((highest - CARRY_OF_STATURE) / RAISED_ABOVE_CARRY, 0.0, 1.0))
