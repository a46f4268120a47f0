"""Measures a rep again with a person's edits of events, joints and foot contacts; pure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from pipeline.core.errors import ReviewError
from pipeline.core.results import Measurement
from pipeline.core.types import JOINTS, Event, FloatArray, Rep, SmoothTracks
from pipeline.measures import MEASURES, measures_of
from pipeline.measures.measuring import measure_one, rep_view
from pipeline.scene.depth import Placed, place_person
from pipeline.scene.placed_clip import PlacedClip
from pipeline.web.review.film_times import to_stabilised_px
from pipeline.web.review.rep_edits import RepEdit, with_contacts

HALF_FRAME = 0.5
"""Standard uncertainty of an event that a person marked, in frames."""

BLENDED_S = 0.1
"""Time on both sides of a moved joint within which neighbouring frames follow it."""

PLACED_U_SHARE = 2.0 / 1280.0
"""Standard uncertainty of a joint that a person placed, as a share of the picture's longer side.

It equals that of a click on a mark of the field.
"""

FURTHEST_OUTSIDE_S = 2.0
"""Limit for moving the start or finish out of a rep."""

TWINS = {"dodge_start": "plant", "plant": "dodge_start"}
"""Pairs of events of a dodge that move together while they share a frame."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Remeasured:
    """A rep measured with edits.

    Attributes
    ----------
    rep
        The rep with its edited events.
    people
        The people, placed in the scene.
    smooth
        Tracks in the stabilised picture.
    measurements
        By measure key.
    by_coach
        Keys of the measures that depend on an edit.
    """

    rep: Rep
    people: tuple[Placed, ...]
    smooth: SmoothTracks
    measurements: Mapping[str, Measurement]
    by_coach: frozenset[str]


def remeasure_rep(
    placed: PlacedClip,
    rep: Rep,
    changes: Sequence[RepEdit],
    *,
    seed: int,
    keys: Sequence[str] | None = None,
    before: Mapping[str, Measurement] | None = None,
) -> Remeasured:
    """Measure a rep with the edits in force.

    Parameters
    ----------
    placed
        The clip as analysed.
    rep
        The rep as detected.
    changes
        Edits in force, in the order in which they were made. Equal edits give identical numbers;
        no edits give those of the analysis.
    seed
        Seed of the draws, as in the settings.
    keys
        Measures of a taught drill; None = the measures of the rep's move.
    before
        Measurements without edits; None = computed here if needed.

    Raises
    ------
    ReviewError
        An edit does not fit this rep.
    """
    smooth = with_joints(placed, changes)
    people = _placed(placed, smooth, changes)
    moved = with_events(rep, changes, placed.clip.time_s)
    measurements, rests_on = _measured(placed, moved, people, seed, keys)
    marked = {name for name, event in moved.events.items() if event != rep.events.get(name)}
    by_coach = {key for key, names in rests_on.items() if names & marked}
    if changes:
        if before is None:
            before = _measured(placed, rep, placed.people, seed, keys)[0]
        by_coach |= {key for key in measurements if _differ(measurements[key], before.get(key))}
    return Remeasured(
        rep=moved,
        people=people,
        smooth=smooth,
        measurements=measurements,
        by_coach=frozenset(by_coach),
    )


def marked_event(time_s: FloatArray, frame: int) -> Event:
    """Make an event at a frame that a person chose, with an uncertainty of half a frame.

    Parameters
    ----------
    time_s
        (n_frames,) times of the clip.
    frame
        Index of the frame.
    """
    about = np.diff(time_s[max(0, frame - 1) : frame + 2])
    interval_s = float(about.mean()) if about.size else 0.0
    return Event(time_s=float(time_s[frame]), frame=frame, u_s=HALF_FRAME * interval_s)


def with_events(rep: Rep, changes: Sequence[RepEdit], time_s: FloatArray) -> Rep:
    """Apply the edits of events; each event stays between its neighbours.

    Raises
    ------
    ReviewError
        There is no such event, or events would change their order.
    """
    for change in changes:
        if change.kind != "event":
            continue
        if change.name not in rep.events:
            raise ReviewError.of("no_such_event")
        first, last = room_of(rep, change.name, time_s)
        if not first <= change.frame <= last:
            raise ReviewError.of("events_out_of_order", event=f"events.{change.name}")
        event = marked_event(time_s, change.frame)
        moved = {change.name: event, **dict.fromkeys(_twins(rep, change.name), event)}
        events = {name: moved.get(name, old) for name, old in rep.events.items()}
        rep = _with_window(replace(rep, events=events), change.name, event)
    return rep


def room_of(rep: Rep, name: str, time_s: FloatArray) -> tuple[int, int]:
    """First and last frame of an event that keep the order of events."""
    here = rep.events[name]
    together = {name, *_twins(rep, name)}
    others = [event for key, event in rep.events.items() if key not in together]
    before = [event.frame for event in others if event.time_s <= here.time_s and event != here]
    after = [event.frame for event in others if event.time_s > here.time_s]
    first_s, last_s = rep.start_s - FURTHEST_OUTSIDE_S, rep.stop_s + FURTHEST_OUTSIDE_S
    first = max(before, default=int(np.searchsorted(time_s, first_s)))
    last = min(after, default=int(np.searchsorted(time_s, last_s, side="right")) - 1)
    return min(first, here.frame), max(last, here.frame)


def with_joints(placed: PlacedClip, changes: Sequence[RepEdit]) -> SmoothTracks:
    """Apply the edits of joints; frames nearby follow the moved joint."""
    smooth, time_s = placed.smooth, placed.clip.time_s
    joints = [change for change in changes if change.kind == "joint"]
    if not joints:
        return smooth
    image_px, noise_px = smooth.image_px.copy(), smooth.noise_px.copy()
    u_px = PLACED_U_SHARE * max(placed.clip.width_px, placed.clip.height_px)
    for change in joints:
        if change.frame >= time_s.size or change.person >= image_px.shape[0] or not change.at_px:
            raise ReviewError.of("no_such_change")
        track = image_px[change.person, :, JOINTS.index(change.name)]
        noise = noise_px[change.person, :, JOINTS.index(change.name)]
        to_px = to_stabilised_px(placed, change.frame, np.asarray(change.at_px))
        share = blend(time_s, change.frame)
        was_px = track[change.frame]
        if np.isfinite(was_px).all():
            track += (share[:, None] * (to_px - was_px)).astype(track.dtype)
        track[change.frame] = to_px
        noise[change.frame] = u_px
        near = share > 0.0
        noise[near] = np.where(
            np.isfinite(noise[near]), (1 - share[near]) * noise[near] + share[near] * u_px, u_px
        )
    return replace(smooth, image_px=image_px, noise_px=noise_px)


def blend(time_s: FloatArray, frame: int) -> FloatArray:
    """Weight (n_frames,) with which each frame follows an edited one: 1 there, 0 far away."""
    away = np.abs(time_s - time_s[frame]) / BLENDED_S
    return np.asarray(np.where(away < 1.0, 0.5 + 0.5 * np.cos(np.pi * np.minimum(away, 1.0)), 0.0))


class _RecordedEvents(Mapping[str, FloatArray]):
    """Times of events that record which of them a measure reads."""

    def __init__(self, instants: Mapping[str, FloatArray]) -> None:
        self._instants = instants
        self.names_read: set[str] = set()

    def __getitem__(self, name: str) -> FloatArray:
        self.names_read.add(name)
        return self._instants[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._instants)

    def __len__(self) -> int:
        return len(self._instants)


def _measured(
    placed: PlacedClip, rep: Rep, people: Sequence[Placed], seed: int, keys: Sequence[str] | None
) -> tuple[dict[str, Measurement], dict[str, set[str]]]:
    """Measure a rep; returns the measurements, and the events that each of them reads."""
    view = rep_view(
        rep,
        athlete=people[0],
        defender=people[1] if len(people) > 1 else None,
        scene=placed.scene,
        time_s=placed.clip.time_s,
        seed=seed,
    )
    found, rests_on = {}, {}
    infos = measures_of(rep.move) if keys is None else [MEASURES[key] for key in keys]
    for info in infos:
        events = _RecordedEvents(view.event_s)
        found[info.key] = measure_one(info, replace(view, event_s=events), placed.scene.no_ground)
        rests_on[info.key] = events.names_read
    return found, rests_on


def _placed(
    placed: PlacedClip, smooth: SmoothTracks, changes: Sequence[RepEdit]
) -> tuple[Placed, ...]:
    """Place those people again whose joints or foot contacts are edited."""
    joints = {change.person for change in changes if change.kind == "joint"}
    feet = [change for change in changes if change.kind in ("lands", "lifts")]
    people = [
        place_person(smooth, i, placed.scene) if i in joints else person
        for i, person in enumerate(placed.people)
    ]
    if feet:
        contact, landed = with_contacts(
            people[0].contact, people[0].landed, feet, placed.clip.time_s
        )
        people[0] = place_person(smooth, 0, placed.scene, contact=contact, landed=landed)
    return tuple(people)


def _twins(rep: Rep, name: str) -> list[str]:
    twin = TWINS.get(name)
    event = None if twin is None else rep.events.get(twin)
    return [] if twin is None or event is None or event.frame != rep.events[name].frame else [twin]


def _with_window(rep: Rep, name: str, event: Event) -> Rep:
    """Move the window of a rep with its start or finish."""
    if name == "start":
        return replace(rep, start_s=event.time_s, start_frame=event.frame)
    if name == "finish":
        return replace(rep, stop_s=event.time_s, stop_frame=event.frame + 1)
    return rep


def _differ(now: Measurement, before: Measurement | None) -> bool:
    if before is None:
        return True
    return (now.value, now.u, now.reason) != (before.value, before.u, before.reason)
