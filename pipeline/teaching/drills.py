"""Drills that a coach teaches by examples: learn one, and find its reps in another motion."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from pipeline.core.types import FloatArray, Hand
from pipeline.teaching.classifier_check import (
    Looks,
    alike,
    is_uninformative,
    look_at,
    surely_no_rep,
)
from pipeline.teaching.drill_examples import (
    Example,
    agreement,
    carried_sample,
    nearest_other,
    weighed,
)
from pipeline.teaching.drill_features import MotionTrack
from pipeline.teaching.template_search import Stretch, distance_between, stretches

SHARE_OF_OTHER = 0.85
LEAST_REACH, GREATEST_REACH = 0.72, 0.93
"""A stretch counts as a rep up to this share of the distance at which the nearest stretch of the
example film lies that is no rep, within these bounds. Two unrelated stretches are about 1.4 apart.
Chosen on rendered film, where other bodies before other cameras did the same move at 0.4 to 0.9."""

SAME_AS_EXAMPLE, SURELY_A_REP = 1.15, 0.6
"""A stretch of the example film up to this much further away than the examples lie from each other,
or nearer than the second, is a rep that was not marked."""

SEEN_AGAIN = 1.15
"""A stretch that is like a rep already found in the same film may be this much less like the
examples: the same body before the same camera."""

MOST_AGAIN = 6
"""So many of the surest finds of a film are looked for again."""

LEAST_APART = 0.3
"""Examples nearer to each other than this are as good as the same: by one body, in one minute."""

LOOKS_LIKE, LOOKS_THE_SAME, WIDER = 0.5, 0.8, 1.35
"""Where the classifier takes the examples for a move that it knows: a rep within reach is not taken
for quite another; one of the same class may be further off by this factor. Chosen on rendered film
of a dodge round both sides of a defender, of which half the reps were found without it."""

OVERLAP, OVERLAP_BEYOND = 0.4, 0.1
"""Two finds that share more than this of the shorter one are one rep; more than the second, if the
later one is out of reach, for then the moment that makes it a rep may be the other's."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drill:
    """A move that was taught by examples.

    Attributes
    ----------
    name
        As the coach calls it.
    examples
        Three at least, all with the same hand on top: others are mirrored.
    hand
        That hand; None where unknown.
    factors
        (`N_COLUMNS`,) by which values are multiplied before they are compared.
    reach
        Greatest distance at which a stretch is a rep.
    event_u_s
        By event, how far the examples disagree about it: standard uncertainty.
    look, look_by
        (n_classes,) what the move classifier takes the examples for, and the checksum of its
        weights; None where it takes them for no move that it knows.
    like
        Built-in move whose events and measures it takes over; None for none.
    measures
        Keys of its measures.
    taught_by, taught_on
        Who, and the day (ISO 8601).
    """

    name: str
    examples: tuple[Example, ...]
    hand: Hand | None
    factors: FloatArray
    reach: float
    event_u_s: Mapping[str, float] = field(default_factory=dict)
    look: FloatArray | None = None
    look_by: str = ""
    like: str | None = None
    measures: tuple[str, ...] = ()
    taught_by: str = ""
    taught_on: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class DrillMatch:
    """A rep of a drill.

    Attributes
    ----------
    start_s, stop_s
        Clip time.
    distance
        From the examples; 0 is the same motion, about 1.4 an unrelated one.
    side
        Whether it is done as in the examples, or as in a mirror.
    events_s
        By name, clip time of the events carried over from the examples.
    """

    start_s: float
    stop_s: float
    distance: float
    side: Literal["same", "mirrored"]
    events_s: Mapping[str, float] = field(default_factory=dict)


def fitted(
    examples: Sequence[Example], films: Sequence[tuple[MotionTrack, MotionTrack]]
) -> tuple[FloatArray, float]:
    """Tell how much each column counts, and up to which distance a stretch is a rep.

    Parameters
    ----------
    examples
        All of them.
    films
        The motion of each film that they come from, and its mirror image. What lies further from
        the examples than they lie from each other is no rep; how near the nearest of that comes
        sets the bound.

    Returns
    -------
    tuple
        Factors (`N_COLUMNS`,) as from `agreement`, or all 1 where these separate the examples
        better from the rest of the films; and the distance.
    """
    plain: FloatArray = np.ones(examples[0].values.shape[1])
    chosen, bound = plain, 0.0
    best = -np.inf
    for factors in (plain, agreement(examples, [track.values for track, _ in films])):
        own = weighed(examples, factors)
        apart = nearest_other(own)
        within = float(np.clip(SAME_AS_EXAMPLE * max(apart), SURELY_A_REP, LEAST_REACH))
        others = [
            stretch.distance
            for film in films
            for stretch, _ in _both_sides(own, *(_weighed(side, factors) for side in film))
            if stretch.distance > within
        ]
        nearest = min(others, default=GREATEST_REACH / SHARE_OF_OTHER)
        separation = nearest / max(float(np.median(apart)), LEAST_APART)
        if separation > best:
            best, chosen, bound = separation, factors, nearest
    reach = float(np.clip(SHARE_OF_OTHER * bound, min(LEAST_REACH, bound), GREATEST_REACH))
    return chosen, reach


def find_drill(
    drill: Drill, track: MotionTrack, mirror: MotionTrack, looks: Looks | None = None
) -> list[DrillMatch]:
    """Find the reps of a drill in a motion.

    Parameters
    ----------
    drill
        What is looked for.
    track, mirror
        The motion over the whole clip, and its mirror image.
    looks
        Class probabilities over the clip; None = not computed.

    Returns
    -------
    list of Found
        In the order of the clip.
    """
    factors = drill.factors
    examples = weighed(drill.examples, factors)
    whole = {"same": track, "mirrored": mirror}
    track, mirror = (_weighed(side, factors) for side in (track, mirror))
    if looks is None or looks.weights != drill.look_by:
        drill = replace(drill, look=None)
    first = _both_sides(examples, track, mirror)
    taken = _apart(
        [one for one in first if _is_rep(drill, one[0], track.time_s, looks)], drill.reach
    )
    if taken:
        sides = {"same": track, "mirrored": mirror}
        again = [
            Example(values=sides[side].values[stretch.start : stretch.stop])
            for stretch, side in taken[:MOST_AGAIN]
        ]
        more = [
            (replace(stretch, distance=distance), side)
            for stretch, side in _within(_both_sides(again, track, mirror), drill.reach)
            for distance in [_distance_from(examples, sides[side], stretch)]
            if _is_rep(
                drill,
                replace(stretch, distance=distance / SEEN_AGAIN),
                track.time_s,
                looks,
            )
        ]
        more = sorted(more, key=lambda found: found[0].distance)
        taken = _apart([*taken, *more], drill.reach)
    found = [
        DrillMatch(
            start_s=float(track.time_s[stretch.start]),
            stop_s=float(track.time_s[stretch.stop - 1]),
            distance=stretch.distance,
            side=side,
            events_s=_events_s(drill, whole[side], stretch),
        )
        for stretch, side in taken
    ]
    return sorted(found, key=lambda one: one.start_s)


def _is_rep(drill: Drill, stretch: Stretch, time_s: FloatArray, looks: Looks | None) -> bool:
    """Whether a stretch is near enough to the examples, and of their class."""
    if drill.look is None or looks is None:
        return stretch.distance <= drill.reach
    if stretch.distance > WIDER * drill.reach:
        return False
    look = look_at(looks, float(time_s[stretch.start]), float(time_s[stretch.stop - 1]))
    if stretch.distance > drill.reach:
        return alike(drill.look, look) >= LOOKS_THE_SAME
    if surely_no_rep(look):
        return False
    return is_uninformative(look) or alike(drill.look, look) >= LOOKS_LIKE


_Sided = tuple[Stretch, Literal["same", "mirrored"]]


def _both_sides(
    examples: Sequence[Example], track: MotionTrack, mirror: MotionTrack
) -> list[_Sided]:
    """Every stretch of a motion and of its mirror image, nearest first."""
    values = [example.values for example in examples]
    found: list[_Sided] = [
        (stretch, "same") for stretch in stretches(values, track.values, track.known)
    ]
    found += [(stretch, "mirrored") for stretch in stretches(values, mirror.values, mirror.known)]
    return sorted(found, key=lambda one: one[0].distance)


def _weighed(track: MotionTrack, factors: FloatArray) -> MotionTrack:
    return replace(track, values=track.values * factors)


def _within(found: Sequence[_Sided], reach: float) -> list[_Sided]:
    return [one for one in found if one[0].distance <= reach]


def _apart(found: Sequence[_Sided], reach: float) -> list[_Sided]:
    """Those that do not overlap an earlier one of the list."""
    taken: list[_Sided] = []
    for stretch, side in found:
        shares = [
            (min(stretch.stop, other.stop) - max(stretch.start, other.start))
            / min(stretch.stop - stretch.start, other.stop - other.start)
            for other, _ in taken
        ]
        most = OVERLAP if stretch.distance <= reach else OVERLAP_BEYOND
        if all(share <= most for share in shares):
            taken.append((stretch, side))
    return taken


def _distance_from(examples: Sequence[Example], track: MotionTrack, stretch: Stretch) -> float:
    """Distance of a stretch from the nearest example."""
    values = track.values[stretch.start : stretch.stop]
    return min(distance_between(example.values, values) for example in examples)


def _events_s(drill: Drill, track: MotionTrack, stretch: Stretch) -> dict[str, float]:
    """Clip time of each event that the examples have."""
    values = track.values[stretch.start : stretch.stop]
    found = {}
    for name in drill.event_u_s:
        marked = [example for example in drill.examples if name in example.events]
        sample = stretch.start + carried_sample(marked, values, name)
        found[name] = float(np.interp(sample, np.arange(track.time_s.size), track.time_s))
    return found
