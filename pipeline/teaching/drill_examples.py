"""Examples of a drill, cut out of the film that a coach marked, and how far they agree."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations

import numpy as np

from pipeline.core.errors import DrillError
from pipeline.core.messages import message
from pipeline.core.types import FloatArray
from pipeline.teaching.drill_features import COLUMNS, RATE_HZ, SHARES, MotionTrack
from pipeline.teaching.template_search import (
    WARP_SHARE,
    at_tempo,
    carried_over,
    distance_between,
    warping_path,
)

OTHER_BODIES, LEAST_COUNT = 0.5, 0.02
"""What other bodies and cameras add to the variance between examples, in variances between
unrelated moments, and how much a column counts at least. With them twice as many reps of a dodge
that was done round both sides of a defender were found on rendered film, and as many of throws."""

EVENT_WARP_SHARE = 0.2
"""How far a pair may lie off the even tempo where an event is carried over, share of the length."""


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
    turned
        Whether it is the mirror image of what was filmed.
    """

    values: FloatArray
    events: Mapping[str, float] = field(default_factory=dict)
    digest: str = ""
    turned: bool = False


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
        turned = False
        if cut:
            same, other = (distance_between(cut[0].values, values) for values in sides)
            turned = other < same
        events = {
            name: (instant_s - time_s[start]) * RATE_HZ
            for name, instants_s in events_s.items()
            for instant_s in instants_s
            if start_s <= instant_s <= stop_s
        }
        cut.append(Example(values=sides[int(turned)], events=events, digest=digest, turned=turned))
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


def agreement(examples: Sequence[Example], film: Sequence[FloatArray]) -> FloatArray:
    """Tell how much each column counts in a drill: what its examples disagree on counts less.

    A difference in a column is modelled as normal, with one variance between reps of the drill and
    another between them and other moments of the film; its square then counts by the difference of
    the inverse variances, as in the logarithm of the likelihood ratio. To both, `OTHER_BODIES` is
    added, for the examples are all by one body before one camera.

    Parameters
    ----------
    examples
        All of them.
    film
        (n, `N_COLUMNS`) each, the motions of the films that they come from.

    Returns
    -------
    numpy.ndarray
        (`N_COLUMNS`,) factors for the values; left and right have the same, and moments that differ
        in all columns by their spread stay as far apart as they were.
    """
    within = np.zeros(len(COLUMNS))
    pairs = list(combinations(examples, 2))
    for one, other in pairs:
        longer = max(len(one.values), len(other.values))
        even = [v if len(v) == longer else at_tempo(v, longer) for v in (one.values, other.values)]
        path = warping_path(even[0], even[1], window=1 + round(WARP_SHARE * longer))
        within += np.mean((even[0][path[:, 0]] - even[1][path[:, 1]]) ** 2, axis=0) / len(pairs)
    inside, outside = np.concatenate([one.values for one in examples]), np.concatenate(film)
    apart = (inside.mean(axis=0) - outside.mean(axis=0)) ** 2
    between = apart + inside.var(axis=0) + outside.var(axis=0)
    counts = np.zeros(len(COLUMNS))
    names = np.array(COLUMNS)
    for name in dict.fromkeys(COLUMNS):
        same = names == name
        usual = 2.0 * SHARES[same].sum()
        near = within[same].sum() / usual + OTHER_BODIES
        far = between[same].sum() / usual + OTHER_BODIES
        counts[same] = max(1.0 / near - 1.0 / far, LEAST_COUNT)
    return np.asarray(np.sqrt(counts / np.sum(counts * SHARES)))


def weighed(examples: Sequence[Example], factors: FloatArray) -> tuple[Example, ...]:
    """Give the examples with their values times the factors of `agreement`."""
    return tuple(replace(example, values=example.values * factors) for example in examples)


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
        carried = carried_sample(rest, example.values, name)
        misses.append((carried - example.events[name]) / RATE_HZ)
    # With few examples they agree by chance: as for a sample standard deviation.
    few = len(marked) / (len(marked) - 1)
    return float(np.hypot(np.sqrt(few * np.mean(np.square(misses))), 0.5 / RATE_HZ))


def carried_sample(examples: Sequence[Example], values: FloatArray, name: str) -> float:
    """Tell the sample of a stretch at which the examples put an event: their median.

    Parameters
    ----------
    examples
        Those that have the event.
    values
        (n, d) the stretch.
    name
        Of the event.

    Returns
    -------
    float
        From 0, between samples too.
    """
    carried = []
    for example in examples:
        longer = max(len(values), len(example.values))
        even = [v if len(v) == longer else at_tempo(v, longer) for v in (example.values, values)]
        path = warping_path(even[0], even[1], window=1 + round(EVENT_WARP_SHARE * longer))
        place = example.events[name] * (longer - 1) / (len(example.values) - 1)
        carried.append(carried_over(path, place) * (len(values) - 1) / (longer - 1))
    return float(np.median(carried))


FEWEST_EXAMPLES = 3

SHORTEST_S, LONGEST_S = 0.4, 15.0
"""A rep that is marked shorter or longer than this is a slip of the pen."""

FEWEST_SEEN = 0.7
"""Share of a marked rep in which the athlete has to have been seen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Marked:
    """What the coach marked in a clip.

    Attributes
    ----------
    windows_s
        Start and stop of each rep, in the order of the clip.
    events_s
        By name, instants; at most one in each rep.
    """

    windows_s: tuple[tuple[float, float], ...]
    events_s: Mapping[str, tuple[float, ...]]


def check_marked(marked: Marked, end_s: float, clip_name: str) -> None:
    """Raise `DrillError` for marks from which nothing can be learned."""
    windows_s = marked.windows_s
    if len(windows_s) < FEWEST_EXAMPLES:
        raise DrillError.of(
            "too_few_reps_marked", clip=clip_name, n=len(windows_s), fewest=FEWEST_EXAMPLES
        )
    for number, (start_s, stop_s) in enumerate(windows_s):
        rep = message("drill_parts.rep", clip=clip_name, start=start_s, stop=stop_s)
        if stop_s > end_s + 0.5 or start_s < 0.0:
            raise DrillError.of("marked_rep_not_in_clip", rep=rep, end=end_s)
        if not SHORTEST_S <= stop_s - start_s <= LONGEST_S:
            raise DrillError.of(
                "marked_rep_of_wrong_length", rep=rep, length=stop_s - start_s,
                shortest=SHORTEST_S, longest=LONGEST_S,
            )  # fmt: skip
        if number and start_s < windows_s[number - 1][1] - 1e-9:
            raise DrillError.of("marked_rep_over_another", rep=rep)
    for name, instants_s in marked.events_s.items():
        _check_event(name, instants_s, windows_s, clip_name)


def _check_event(
    name: str,
    instants_s: Sequence[float],
    windows_s: Sequence[tuple[float, float]],
    clip_name: str,
) -> None:
    """Raise `DrillError` unless each instant lies in a rep of its own, and two at least do."""
    holders = []
    for instant_s in instants_s:
        inside = [n for n, (start_s, stop_s) in enumerate(windows_s)
                  if start_s <= instant_s <= stop_s]  # fmt: skip
        if not inside or inside[0] in holders:
            wrong = "second_event_in_a_rep" if inside else "event_in_no_rep"
            raise DrillError.of(wrong, clip=clip_name, event=name, at=instant_s)
        holders.append(inside[0])
    if len(holders) < 2:
        raise DrillError.of("event_in_one_rep", clip=clip_name, event=name)


def check_seen(marked: Marked, track: MotionTrack, clip_name: str) -> None:
    """Raise `DrillError` for a rep in which the athlete was hardly seen."""
    for start_s, stop_s in marked.windows_s:
        inside = (track.time_s >= start_s) & (track.time_s <= stop_s)
        if inside.sum() < 4 or track.known[inside].mean() < FEWEST_SEEN:
            raise DrillError.of("hardly_seen", clip=clip_name, start=start_s, stop=stop_s)
