"""Ground plan of a rep, seen from above: feet, path of the hips, and a scale in metres."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from pipeline.core.results import FootContact, GroundPath, RepResult, Walk
from pipeline.core.types import FloatArray, Scene
from pipeline.feedback.words import Words, number_text, tick_text
from pipeline.measures import MEASURES, MeasureInfo
from pipeline.report.axes import round_ticks
from pipeline.report.timing import SIGNS, event_text

WIDTH = 320.0
"""Width of a plan in SVG units: about pixels on a phone."""

TALLEST, FLATTEST = 300.0, 130.0
MARGIN, SCALE_ROOM = 18.0, 26.0
LEAST_SPAN_M = 2.0
"""Smallest width of ground shown, so that a player who hardly moves is not enlarged."""

ROOM_M = 0.3
FOOT_WIDTH_OF_LENGTH = 0.38
BEYOND_JOINTS = 0.2
"""Share of the distance from heel to toe joint by which the drawn foot is longer at each end."""

FEWEST_POINTS = 2
STEP_S = 1.0 / 30.0
"""Time between drawn points of the path: fine enough to look smooth, few enough to stay small."""

MARKED_EVENTS = ("plant", "dodge_start", "release")
"""Events that are marked on the path of the hips."""

GOAL_WITHIN_M = 4.0
"""A goal further than this from everything drawn is left out: it would shrink the rest."""

ToDrawing = Callable[[FloatArray], tuple[float, float]]
"""Maps a point on the ground, (2,) in metres, to x and y in the drawing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Foot:
    """A foot on the ground: centre, half length, half width, clockwise rotation in degrees."""

    x: float
    y: float
    half_length: float
    half_width: float
    turn_deg: float
    side: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnPath:
    """Path of one person: SVG points, both ends, direction of the arrow, and the feet."""

    way: str
    start: tuple[float, float]
    end: tuple[float, float]
    end_turn_deg: float
    feet: tuple[Foot, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A measure on the ground: ends, rotation, style sheet class, and text."""

    start: tuple[float, float]
    stop: tuple[float, float]
    turn_deg: float
    style: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EventMark:
    """Position of the hips at an event, with the event's marker shape and name."""

    x: float
    y: float
    sign: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """Ground plan of one rep, laid out.

    Attributes
    ----------
    width, height
        Size in SVG units.
    athlete, defender
        Paths of the people.
    lines, spots
        Measures on the ground, and events on the path of the athlete.
    goal
        Ends of the goal line between the posts; None without a goal nearby.
    scale
        Length of the scale bar in SVG units.
    scale_text, alt
        Label of the scale bar, and the alternative text.
    """

    width: float
    height: float
    athlete: DrawnPath
    defender: DrawnPath | None
    lines: tuple[Line, ...]
    spots: tuple[EventMark, ...]
    goal: tuple[tuple[float, float], tuple[float, float]] | None
    scale: float
    scale_text: str
    alt: str


def plan_of(words: Words, result: RepResult, scene: Scene) -> Plan | None:
    """Lay out the ground plan of a rep; None where the ground path is not known.

    The phone is at the bottom: up is away from the phone, right is to its right.

    Parameters
    ----------
    words
        Phrases.
    result
        The rep, with or without `ground`.
    scene
        Source of the goal's position.
    """
    ground = result.ground
    if ground is None or not _is_known(ground.athlete):
        return None
    defender = ground.defender
    if defender is not None and not _is_known(defender):
        defender = None
    low, high = _extent(ground, defender, result)
    goal_m = _goal_near(scene, low, high)
    if goal_m is not None:
        low, high = np.minimum(low, goal_m.min(axis=0)), np.maximum(high, goal_m.max(axis=0))
    low, high = _widened(low - ROOM_M, high + ROOM_M)
    span = high - low
    per_m = min((WIDTH - 2 * MARGIN) / span[0], (TALLEST - 2 * MARGIN) / span[1])
    height = max(FLATTEST, round(per_m * span[1] + 2 * MARGIN, 1))
    middle = 0.5 * (low + high)

    def at(place_m: FloatArray) -> tuple[float, float]:
        x, y = (np.asarray(place_m, float) - middle) * per_m
        return round(float(0.5 * WIDTH + x), 1), round(float(0.5 * height - y), 1)

    figures, longest_m = words.texts.figures, max(1.0, 0.4 * float(span[0]))
    per_unit, unit = figures.axis("m", longest_m)
    scale = round_ticks(0.0, longest_m * per_unit, 3)[1]
    way_m = _length_m(ground.athlete)
    alone = "plan_alone_alt" if defender is None else "plan_both_alt"
    return Plan(
        width=WIDTH,
        height=height + SCALE_ROOM,
        athlete=_drawn(ground.athlete, at),
        defender=None if defender is None else _drawn(defender, at),
        lines=tuple(_lines(words, result, at)),
        spots=tuple(_spots(words, result, ground.athlete, at)),
        goal=None if goal_m is None else (at(goal_m[0]), at(goal_m[1])),
        scale=round(scale / per_unit * per_m, 1),
        scale_text=f"{tick_text(words, scale)} {unit}",
        alt=words.text(f"report.{alone}", way=way_m, contacts=len(ground.athlete.contacts)),
    )


def why_no_plan(words: Words, scene: Scene) -> str:
    """Return the reason why there is no ground plan."""
    if scene.no_ground:
        return words.report["plan_no_ground"].format(reason=words.translate(scene.no_ground))
    return words.report["plan_unseen"]


def _is_known(walk: Walk) -> bool:
    return len(_known(walk)) >= FEWEST_POINTS


def _known(walk: Walk) -> FloatArray:
    return np.asarray(walk.hips_m[np.isfinite(walk.hips_m).all(axis=1)])


def _length_m(walk: Walk) -> float:
    """Return the path length from points 0.1 s apart: closer points would add their noise."""
    known = _thinned(walk, 0.1)
    return float(np.linalg.norm(np.diff(known, axis=0), axis=1).sum())


def _thinned(walk: Walk, step_s: float) -> FloatArray:
    """Return (n, 2) known hip positions at least `step_s` apart, and the last one."""
    known = np.flatnonzero(np.isfinite(walk.hips_m).all(axis=1))
    selected, last_s = [], -math.inf
    for i in known:
        if walk.time_s[i] - last_s >= step_s - 1e-6 or i == known[-1]:
            selected.append(i)
            last_s = float(walk.time_s[i])
    return np.asarray(walk.hips_m[selected])


def _extent(
    ground: GroundPath, defender: Walk | None, result: RepResult
) -> tuple[FloatArray, FloatArray]:
    """Return the least and the greatest x and y of everything drawn, metres."""
    drawn = (result.measurements.get(info.key) for info in _on_ground())
    places = [np.asarray(m.ends_m)[:, :2] for m in drawn if m is not None and m.ends_m is not None]
    for walk in (ground.athlete, defender):
        if walk is not None:
            places.append(_known(walk))
            places += [np.array([c.heel_m, c.toe_m]) for c in walk.contacts]
    stacked = np.concatenate(places)
    return stacked.min(axis=0), stacked.max(axis=0)


def _goal_near(scene: Scene, low: FloatArray, high: FloatArray) -> FloatArray | None:
    if scene.goal_m is None:
        return None
    goal_m = np.asarray(scene.goal_m[0], float)
    off = np.maximum(np.maximum(low - goal_m, goal_m - high), 0.0).max()
    return goal_m if np.isfinite(off) and off <= GOAL_WITHIN_M else None


def _widened(low: FloatArray, high: FloatArray) -> tuple[FloatArray, FloatArray]:
    middle, half = 0.5 * (low + high), 0.5 * (high - low)
    half = np.maximum(half, 0.5 * LEAST_SPAN_M * np.array([1.0, 0.5]))
    return middle - half, middle + half


def _drawn(walk: Walk, at: ToDrawing) -> DrawnPath:
    points = [at(place) for place in _thinned(walk, STEP_S)]
    (x0, y0), (x1, y1) = points[max(0, len(points) - 4)], points[-1]
    return DrawnPath(
        way=" ".join(f"{x:g},{y:g}" for x, y in points),
        start=points[0],
        end=points[-1],
        end_turn_deg=round(math.degrees(math.atan2(y1 - y0, x1 - x0)), 0),
        feet=tuple(_foot(contact, at) for contact in walk.contacts),
    )


def _on_ground() -> list[MeasureInfo]:
    """Return the measures drawn on the ground: an arrow, or a line between two people."""
    return [info for info in MEASURES.values() if info.line in ("step", "ground")]


def _lines(words: Words, result: RepResult, at: ToDrawing) -> Iterator[Line]:
    for info in _on_ground():
        measurement = result.measurements.get(info.key)
        if measurement is None or measurement.value is None or measurement.ends_m is None:
            continue
        start_m, stop_m = np.asarray(measurement.ends_m, float)[:, :2]
        text = words.report["picture_drawn_one"].format(
            measure=words.title(info.key), number=number_text(words, measurement)
        )
        (x0, y0), (x1, y1) = at(start_m), at(stop_m)
        turn_deg = round(math.degrees(math.atan2(y1 - y0, x1 - x0)))
        yield Line(
            start=(x0, y0), stop=(x1, y1), turn_deg=turn_deg, style=str(info.line), text=text
        )


def _spots(words: Words, result: RepResult, walk: Walk, at: ToDrawing) -> Iterator[EventMark]:
    events = result.rep.events
    for name in MARKED_EVENTS:
        if name not in events or (name == "plant" and "dodge_start" in events):
            continue
        place_m = walk.hips_m[int(np.argmin(np.abs(walk.time_s - events[name].time_s)))]
        if np.isfinite(place_m).all():
            x, y = at(place_m)
            yield EventMark(x=x, y=y, sign=SIGNS[name], text=event_text(words, name))


def _foot(contact: FootContact, at: ToDrawing) -> Foot:
    (x0, y0), (x1, y1) = at(np.array(contact.heel_m)), at(np.array(contact.toe_m))
    half = max(3.0, (0.5 + BEYOND_JOINTS) * math.hypot(x1 - x0, y1 - y0))
    return Foot(
        x=round(0.5 * (x0 + x1), 1),
        y=round(0.5 * (y0 + y1), 1),
        half_length=round(half, 1),
        half_width=round(max(2.0, FOOT_WIDTH_OF_LENGTH * half), 1),
        turn_deg=round(math.degrees(math.atan2(y1 - y0, x1 - x0)), 0),
        side=contact.foot,
    )
