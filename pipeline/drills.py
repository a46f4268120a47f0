"""Drills that a coach teaches by examples: learn one, and find its reps in another motion."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from pipeline.motion_track import RATE_HZ, MotionTrack
from pipeline.spotting import Stretch, at_tempo, distance_between, stretches
from pipeline.types import FloatArray, Hand
from pipeline.warping import carried_over, warping_path

FEWEST_EXAMPLES = 3

SHARE_OF_OTHER = 0.85
LEAST_REACH, GREATEST_REACH = 0.72, 0.93
"""A stretch is taken for a rep up to this share of the distance at which the nearest stretch of the
example film lies that is no rep, within these bounds. Two unrelated stretches are about 1.4 apart.
Chosen on rendered film, where other bodies before other cameras did the same move at 0.4 to 0.9."""

SAME_AS_EXAMPLE = 1.15
"""A stretch this much further away than the examples lie from each other is another rep of them."""

SEEN_AGAIN = 1.15
"""A stretch that is like a rep already found in the same film may be this much less like the
examples: the same body before the same camera."""

OVERLAP = 0.4
"""Two finds that share more than this of the shorter one are one rep."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Example:
    """One rep as the coach showed it.

    Attributes
    ----------
    values
        (m, `N_COLUMNS`) its motion, see `MotionTrack`.
    events
        By name, the sample (between samples too) at which an event was marked.
    digest
        SHA-256 of the film it comes from.
    """

    values: FloatArray
    events: Mapping[str, float] = field(default_factory=dict)
    digest: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drill:
    """A move that was taught by examples.

    Attributes
    ----------
    name
        As the coach calls it.
    examples
        At least `FEWEST_EXAMPLES`, all with the same hand on top: others are mirrored.
    hand
        That hand; None where it could not be told.
    reach
        Greatest distance at which a stretch is a rep.
    event_u_s
        By event, how far the examples disagree about it: standard uncertainty.
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
    reach: float
    event_u_s: Mapping[str, float] = field(default_factory=dict)
    like: str | None = None
    measures: tuple[str, ...] = ()
    taught_by: str = ""
    taught_on: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
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


def reach_of(
    examples: Sequence[Example], films: Sequence[tuple[MotionTrack, MotionTrack]]
) -> float:
    """Tell up to which distance a stretch is a rep, from the films that the examples come from.

    Parameters
    ----------
    examples
        All of them.
    films
        The motion of each film and its mirror image. What lies further from the examples than
        they lie from each other is no rep; how near the nearest of that comes sets the bound.

    Returns
    -------
    float
    """
    within = min(SAME_AS_EXAMPLE * max(nearest_other(examples)), LEAST_REACH)
    others = [
        stretch.distance
        for film in films
        for stretch, _ in _both_sides(examples, *film)
        if stretch.distance > within
    ]
    bound = SHARE_OF_OTHER * min(others, default=GREATEST_REACH / SHARE_OF_OTHER)
    return float(np.clip(bound, LEAST_REACH, GREATEST_REACH))


def examples_from(
    film: tuple[MotionTrack, MotionTrack],
    windows_s: Sequence[tuple[float, float]],
    events_s: Mapping[str, Sequence[float]],
    *,
    digest: str = "",
) -> tuple[Example, ...]:
    """Cut the examples out of a film, all on the side of the first one.

    Parameters
    ----------
    film
        The motion over the whole clip, and its mirror image.
    windows_s
        Start and stop of each example, clip time, within the film.
    events_s
        By name, instants, each within one of the examples.
    digest
        SHA-256 of the film.

    Returns
    -------
    tuple of Example
        In the order of the windows.
    """
    time_s = film[0].time_s
    cut: list[Example] = []
    for start_s, stop_s in windows_s:
        start = int(np.clip(round((start_s - time_s[0]) * RATE_HZ), 0, time_s.size - 2))
        stop = int(np.clip(round((stop_s - time_s[0]) * RATE_HZ) + 1, start + 2, time_s.size))
        sides = [side.values[start:stop] for side in film]
        if cut:
            same, other = (distance_between(cut[0].values, values) for values in sides)
            sides = sides[::-1] if other < same else sides
        events = {
            name: (instant_s - time_s[start]) * RATE_HZ
            for name, instants_s in events_s.items()
            for instant_s in instants_s
            if start_s <= instant_s <= stop_s
        }
        cut.append(Example(values=sides[0], events=events, digest=digest))
    return tuple(cut)


def nearest_other(examples: Sequence[Example]) -> list[float]:
    """Distance of each example from the one that is most like it."""
    return [
        min(
            distance_between(other.values, example.values)
            for other in examples
            if other is not example
        )
        for example in examples
    ]


def event_disagreement_s(examples: Sequence[Example], name: str) -> float:
    """Tell how sure a carried-over event is, by leaving out each example in turn.

    Parameters
    ----------
    examples
        All of them.
    name
        Of an event that at least two of them have.

    Returns
    -------
    float
        Root mean square of the differences between where an example has it and where the others
        would put it, and half a sample on top: a standard uncertainty.
    """
    marked = [example for example in examples if name in example.events]
    misses = []
    for example in marked:
        rest = [other for other in marked if other is not example]
        told = _carried(rest, example.values, name)
        misses.append((told - example.events[name]) / RATE_HZ)
    # With few examples they agree by chance: as for a sample standard deviation.
    few = len(marked) / (len(marked) - 1)
    return float(np.hypot(np.sqrt(few * np.mean(np.square(misses))), 0.5 / RATE_HZ))


def find_drill(drill: Drill, track: MotionTrack, mirror: MotionTrack) -> list[Found]:
    """Find the reps of a drill in a motion.

    Parameters
    ----------
    drill
        What is looked for.
    track, mirror
        The motion over the whole clip, and its mirror image.

    Returns
    -------
    list of Found
        In the order of the clip.
    """
    examples = list(drill.examples)
    taken = _apart(_within(_both_sides(examples, track, mirror), drill.reach))
    if taken:
        sides = {"same": track, "mirrored": mirror}
        again = [
            Example(values=sides[side].values[stretch.start : stretch.stop])
            for stretch, side in taken
        ]
        more = [
            (replace(stretch, distance=distance), side)
            for stretch, side in _within(_both_sides(again, track, mirror), drill.reach)
            for distance in [_distance_from(examples, sides[side], stretch)]
            if distance <= SEEN_AGAIN * drill.reach
        ]
        taken = _apart([*taken, *sorted(more, key=lambda found: found[0].distance)])
    found = [
        Found(
            start_s=float(track.time_s[stretch.start]),
            stop_s=float(track.time_s[stretch.stop - 1]),
            distance=stretch.distance,
            side=side,
            events_s=_events_s(drill, track if side == "same" else mirror, stretch),
        )
        for stretch, side in taken
    ]
    return sorted(found, key=lambda one: one.start_s)


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


def _within(found: Sequence[_Sided], reach: float) -> list[_Sided]:
    return [one for one in found if one[0].distance <= reach]


def _apart(found: Sequence[_Sided]) -> list[_Sided]:
    """Those that do not overlap an earlier one of the list."""
    taken: list[_Sided] = []
    for stretch, side in found:
        shares = [
            (min(stretch.stop, other.stop) - max(stretch.start, other.start))
            / min(stretch.stop - stretch.start, other.stop - other.start)
            for other, _ in taken
        ]
        if all(share <= OVERLAP for share in shares):
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
        sample = stretch.start + _carried(marked, values, name)
        found[name] = float(np.interp(sample, np.arange(track.time_s.size), track.time_s))
    return found


def _carried(examples: Sequence[Example], values: FloatArray, name: str) -> float:
    """Sample of a stretch at which the examples put an event: their median."""
    told = []
    for example in examples:
        longer = max(len(values), len(example.values))
        even = [v if len(v) == longer else at_tempo(v, longer) for v in (example.values, values)]
        path = warping_path(even[0], even[1], window=1 + round(0.2 * longer))
        place = example.events[name] * (longer - 1) / (len(example.values) - 1)
        told.append(carried_over(path, place) * (len(values) - 1) / (longer - 1))
    return float(np.median(told))
