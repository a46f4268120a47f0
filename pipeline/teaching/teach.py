"""Teach a drill: from the reps that a coach marked in a clip to examples that find others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np

from pipeline.core.progress import ProgressCallback, ignore_progress
from pipeline.core.types import Hand, Rep
from pipeline.measures import MEASURES, measures_of
from pipeline.measures.measuring import measure_rep, measure_reps
from pipeline.moves.body_frame import body_frame, mirrored
from pipeline.moves.signals import Signals, signals_of, top_hand
from pipeline.scene.motion import motion_of
from pipeline.scene.placed_clip import PlacedClip, load_placed_clip
from pipeline.settings.settings import AnalysisSettings
from pipeline.teaching.classifier_check import common_look, looks_of
from pipeline.teaching.drill_examples import (
    Example,
    Marked,
    check_marked,
    check_seen,
    event_disagreement_s,
    examples_from,
    nearest_other,
)
from pipeline.teaching.drill_features import motion_track
from pipeline.teaching.drill_reps import carried_events, find_drill_reps
from pipeline.teaching.drills import Drill, fitted

ODD_ONE_OUT = 1.1
"""An example this far from all others is about as far off as any other stretch of a film: a slip of
the pen, or the drill done otherwise, such as round the other side."""

MEASURED_IN = 0.5
"""A measure applies to a drill if it can be had in at least this share of its examples."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Taught:
    """A drill, and how it did on the clip that it was taught from.

    Attributes
    ----------
    drill
        The drill.
    again
        How many of the examples it finds again.
    elsewhere
        Reps that it finds beside them.
    unlike
        Windows of examples that are not like the others.
    """

    drill: Drill
    again: int
    elsewhere: tuple[Rep, ...]
    unlike: tuple[tuple[float, float], ...] = ()


def teach_from_clip(
    name: str,
    path: Path,
    marked: Marked,
    settings: AnalysisSettings,
    *,
    cache_dir: Path,
    like: str | None,
    taught_by: str,
    taught_on: str,
    on_progress: ProgressCallback = ignore_progress,
) -> Taught:
    """Learn a drill from a clip.

    Parameters
    ----------
    name
        Of the drill, checked.
    path
        The film.
    marked
        Reps and events in it.
    settings
        As for an analysis; the move does not matter.
    cache_dir
        Where raw landmarks are kept.
    like
        Built-in move whose events and measures it takes over.
    taught_by, taught_on
        Who, and the day.
    on_progress
        Told how far the pose model has come.

    Returns
    -------
    Taught
        Nothing is stored.

    Raises
    ------
    CrossemetryError
        The film cannot be used, or no drill can be learned from what was marked.
    """
    seen = load_placed_clip(path, settings, cache_dir=cache_dir, on_progress=on_progress)
    return teach_from(
        name, seen, marked, given_hand=settings.stick_hand, like=like, taught_by=taught_by,
        taught_on=taught_on,
    )  # fmt: skip


def teach_from(
    name: str,
    seen: PlacedClip,
    marked: Marked,
    *,
    given_hand: Hand | None,
    like: str | None,
    taught_by: str,
    taught_on: str,
) -> Taught:
    """Learn a drill from a clip that was looked at; as `teach_from_clip`."""
    clip = seen.clip
    check_marked(marked, float(clip.time_s[-1]), clip.path.name)
    motions = [
        motion_of(person, clip.time_s, seen.scene, 0, clip.n_frames, n_draws=1)
        for person in seen.people
    ]
    signals = [signals_of(motion) for motion in motions]
    athlete, defender = signals[0], signals[1] if len(signals) > 1 else None
    frame = body_frame(motions[0], athlete)
    film = motion_track(frame), motion_track(mirrored(frame))
    check_seen(marked, film[0], clip.path.name)
    examples = examples_from(film, marked.windows_s, marked.events_s, digest=clip.digest)
    apart = nearest_other(examples)
    unlike = tuple(w for w, far in zip(marked.windows_s, apart, strict=True) if far > ODD_ONE_OUT)
    hands = [given_hand or _hand(athlete, window_s) for window_s in marked.windows_s]
    factors, reach = fitted(examples, [film])
    looks = looks_of(frame, athlete, defender)
    drill = Drill(
        name=name,
        examples=examples,
        hand=hand_of_examples(examples, hands),
        factors=factors,
        reach=reach,
        event_u_s={event: event_disagreement_s(examples, event) for event in marked.events_s},
        look=common_look(looks, marked.windows_s),
        look_by=looks.weights,
        like=like,
        taught_by=taught_by,
        taught_on=taught_on,
    )
    drill = replace(drill, measures=_measures(drill, marked, seen, athlete))
    found = find_drill_reps(drill, frame, athlete, defender, given_hand)
    elsewhere = tuple(rep for rep in found if not _among(rep, marked.windows_s))
    return Taught(
        drill=drill, again=len(found) - len(elsewhere), elsewhere=elsewhere, unlike=unlike
    )


def _measures(drill: Drill, marked: Marked, seen: PlacedClip, athlete: Signals) -> tuple[str, ...]:
    """Keys of the measures that apply: those of the move it is like, or those that can be had."""
    if drill.like is not None:
        return tuple(info.key for info in measures_of(drill.like))
    people = seen.people
    measure = partial(
        measure_rep,
        athlete=people[0],
        defender=people[1] if len(people) > 1 else None,
        scene=seen.scene,
        time_s=seen.clip.time_s,
        seed=0,
        keys=tuple(MEASURES),
    )
    reps = [
        _example_rep(number, window_s, drill, marked, athlete)
        for number, window_s in enumerate(marked.windows_s, start=1)
    ]
    measured = measure_reps(reps, measure)
    return tuple(
        key
        for key in MEASURES
        if np.mean([values[key].value is not None for values in measured]) >= MEASURED_IN
    )


def _example_rep(
    number: int,
    window_s: tuple[float, float],
    drill: Drill,
    marked: Marked,
    athlete: Signals,
) -> Rep:
    """Make a rep of a marked window, with the events as they were marked."""
    start_s, stop_s = window_s
    start, stop = (int(frame) for frame in np.searchsorted(athlete.time_s, window_s))
    stop = min(stop, athlete.time_s.size - 1)
    instants_s = {
        name: instant_s
        for name, found_s in marked.events_s.items()
        for instant_s in found_s
        if start_s <= instant_s <= stop_s
    }
    return Rep(
        index=number,
        start_s=start_s,
        stop_s=stop_s,
        start_frame=start,
        stop_frame=stop + 1,
        move=drill.name,
        stick_hand=_hand(athlete, window_s),
        events=carried_events(instants_s, drill.event_u_s, athlete),
    )


def hand_of_examples(examples: Sequence[Example], hands: Sequence[Hand | None]) -> Hand | None:
    """Find the hand on top in the examples, or that their side does not show it.

    Parameters
    ----------
    examples
        All of them.
    hands
        The hand on top in each as it was filmed.

    Returns
    -------
    str or None
        The hand of the first one; None where unknown, or where an example is the
        first one's mirror image with the same hand on top: a drill to either side with one hand.
    """
    one_hand = any(
        example.turned and hand == hands[0] for example, hand in zip(examples, hands, strict=True)
    )
    return None if one_hand else hands[0]


def _hand(athlete: Signals, window_s: tuple[float, float]) -> Hand | None:
    """Tell the hand on top in a window."""
    start, stop = (int(frame) for frame in np.searchsorted(athlete.time_s, window_s))
    return top_hand(athlete, start, max(stop, start + 1))


def _among(rep: Rep, windows_s: Sequence[tuple[float, float]]) -> bool:
    """Whether a rep is mostly one of the marked ones."""
    return any(
        min(rep.stop_s, stop_s) - max(rep.start_s, start_s) > 0.5 * (rep.stop_s - rep.start_s)
        for start_s, stop_s in windows_s
    )
