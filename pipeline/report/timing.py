"""Timing of each rep on one clock: its events, aligned at the key event of the move."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from pipeline.core.move_table import MOVE_INFO, kind_of
from pipeline.core.results import RepResult
from pipeline.core.types import Event
from pipeline.feedback.words import COVERAGE_FACTOR, Words, raised, say_tick
from pipeline.report.axes import Axis, round_ticks
from pipeline.report.verdict_marks import by_move

WIDTH, LEFT, RIGHT = 340.0, 30.0, 328.0
TOP, ROW, FOOT = 8.0, 24.0, 36.0
MOST_TICKS = 7

FAKES = ("hands_low", "hands_high", "plant", "dodge_start", "start")
"""Where the time that counts begins: at the first of these that the rep has."""

SIGNS = {
    "hands_low": "diamond", "hands_high": "diamond", "plant": "square", "dodge_start": "square",
    "last_contact": "house", "slowest": "house", "hands_switched": "diamond",
    "roll_end": "house", "release": "disc",
}  # fmt: skip
"""Shape of the mark of each event; others are a plain stroke."""

_ENDS = ("start", "finish")


@dataclass(frozen=True, slots=True, kw_only=True)
class TimingMark:
    """One event of one rep: its name, place, shape and the ends of its 95 % interval."""

    name: str
    x: float
    start: float
    stop: float
    sign: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TimingRow:
    """One rep.

    Attributes
    ----------
    index
        Of the rep.
    y
        Middle of its row.
    whole, counts
        Ends of the thin and of the thick bar; no thick bar where its events were not found.
    marks
        Events between start and finish.
    seconds
        Time of each event of the timing from the key event, in words; empty if it was not found.
    """

    index: int
    y: float
    whole: tuple[float, float]
    counts: tuple[float, float] | None
    marks: tuple[TimingMark, ...]
    seconds: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Timing:
    """All reps of one move on one clock.

    Attributes
    ----------
    caption, said, alt
        Which move; how to read it; the drawing for who cannot see it.
    zero, height
        Place of the key event; height of the drawing.
    ticks
        Place and text of each number on the axis.
    legend
        Shape and name of each event that is drawn.
    events
        Names of the columns of the table, in order of time.
    rows
        The reps that have the key event.
    """

    caption: str
    said: str
    alt: str
    table_caption: str
    zero: float
    height: float
    ticks: tuple[tuple[float, str], ...]
    legend: tuple[tuple[str, str], ...]
    events: tuple[str, ...]
    rows: tuple[TimingRow, ...]


def timings(words: Words, results: Sequence[RepResult]) -> list[Timing]:
    """Lay out the timing of every move of which a rep has its key event and another one.

    Parameters
    ----------
    words
        Names of events.
    results
        The reps of a clip.
    """
    found = []
    for move, reps in by_move(results).items():
        key = zero_event(move)
        timed = [r for r in reps if key in r.rep.events and len(_told(r.rep.events)) > 1]
        if timed:
            found.append(_timing(words, move, key, timed))
    return found


def zero_event(move: str) -> str:
    """Name of the event at which the reps of a move meet."""
    return MOVE_INFO[move].key_event if move in MOVE_INFO else "release"


def event_text(words: Words, name: str) -> str:
    """Name of an event in plain words; its key with spaces if it has none."""
    return words.report.get(f"event_{name}", name.replace("_", " "))


def _told(events: Mapping[str, Event]) -> dict[str, float]:
    """Events with their times; of a dodge, the start and its plant are one instant."""
    return {
        name: event.time_s
        for name, event in events.items()
        if math.isfinite(event.time_s) and not (name == "plant" and "dodge_start" in events)
    }


def _timing(words: Words, move: str, key: str, reps: Sequence[RepResult]) -> Timing:
    names = list(dict.fromkeys(name for result in reps for name in _told(result.rep.events)))
    means = {
        name: [
            result.rep.events[name].time_s - result.rep.events[key].time_s
            for result in reps
            if name in result.rep.events
        ]
        for name in names
    }
    names.sort(key=lambda name: sum(means[name]) / len(means[name]))
    low = min(min(times) for times in means.values())
    high = max(max(times) for times in means.values())
    margin = 0.04 * (high - low) or 0.1
    axis = Axis(low=low - margin, high=high + margin, start=LEFT, stop=RIGHT)
    rows = tuple(
        _row(words, result, key, names, axis, TOP + (i + 0.5) * ROW)
        for i, result in enumerate(reps)
    )
    texts = words.report
    kind = "dodge" if kind_of(move) == "dodge" else "throw"
    if not any(row.counts for row in rows):
        kind = "plain"
    ticks = round_ticks(axis.low, axis.high, MOST_TICKS)
    drawn = [name for name in names if name not in _ENDS]
    said_key = event_text(words, key)
    return Timing(
        caption=texts["of_move"].format(move=raised(words.move_name(move)), n=len(reps)),
        said=texts[f"timing_said_{kind}"].format(event=said_key),
        alt=texts["timing_alt"].format(
            n=len(reps), events=", ".join(event_text(words, name) for name in drawn), event=said_key
        ),
        table_caption=texts["timing_caption"].format(event=said_key),
        zero=axis.at(0.0),
        height=TOP + ROW * len(reps) + FOOT,
        ticks=tuple((axis.at(tick), say_tick(words, tick)) for tick in ticks),
        legend=tuple((SIGNS.get(name, "stroke"), event_text(words, name)) for name in drawn),
        events=tuple(event_text(words, name) for name in names),
        rows=rows,
    )


def _row(
    words: Words, result: RepResult, key: str, names: Sequence[str], axis: Axis, y: float
) -> TimingRow:
    events = result.rep.events
    zero_s = events[key].time_s
    told = {name: time_s - zero_s for name, time_s in _told(events).items()}
    marks = []
    for name in names:
        if name not in told or name in _ENDS:
            continue
        u_s = events[name].u_s
        half_s = COVERAGE_FACTOR * u_s if math.isfinite(u_s) else 0.0
        marks.append(
            TimingMark(
                name=name,
                x=axis.at(told[name]),
                start=axis.at(told[name] - half_s),
                stop=axis.at(told[name] + half_s),
                sign=SIGNS.get(name, "stroke"),
            )
        )
    return TimingRow(
        index=result.rep.index,
        y=y,
        whole=(axis.at(min(told.values())), axis.at(max(told.values()))),
        counts=_counts(told, axis),
        marks=tuple(marks),
        seconds=tuple(_signed(words, told[name]) if name in told else "" for name in names),
    )


def _signed(words: Words, time_s: float) -> str:
    sign = "+" if time_s >= 0.0 else ""
    return sign + words.texts.figures.number(time_s, 2)


def _counts(told: Mapping[str, float], axis: Axis) -> tuple[float, float] | None:
    """From the fake or the plant to the release; of a dodge, to its last event before the end."""
    start = next((told[name] for name in FAKES if name in told), None)
    stop = told.get("release")
    if stop is None:
        inside = [time_s for name, time_s in told.items() if name not in _ENDS]
        stop = max(inside, default=None)
    if start is None or stop is None or stop <= start:
        return None
    return axis.at(start), axis.at(stop)
