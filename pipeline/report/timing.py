"""Timing charts: events of each rep on one clock, aligned at the key event of the move."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from pipeline.core.move_table import MOVE_INFO, kind_of
from pipeline.core.results import RepResult
from pipeline.core.types import Event
from pipeline.feedback.words import COVERAGE_FACTOR, Words, raised, tick_text
from pipeline.report.axes import Axis, round_ticks
from pipeline.report.verdict_marks import by_move

WIDTH, LEFT, RIGHT = 340.0, 30.0, 328.0
TOP, ROW, FOOT = 8.0, 24.0, 36.0
MOST_TICKS = 7

PHASE_STARTS = ("hands_low", "hands_high", "plant", "dodge_start", "start")
"""Events that may start the highlighted phase: the first of these that the rep has."""

SIGNS = {
    "hands_low": "diamond", "hands_high": "diamond", "plant": "square", "dodge_start": "square",
    "last_contact": "house", "slowest": "house", "hands_switched": "diamond",
    "roll_end": "house", "release": "disc",
}  # fmt: skip
"""Marker shape of each event; others are a plain stroke."""

_ENDS = ("start", "finish")


@dataclass(frozen=True, slots=True, kw_only=True)
class TimingMark:
    """One event of one rep: name, x, x of the ends of its 95 % interval, marker shape."""

    name: str
    x: float
    start: float
    stop: float
    sign: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TimingRow:
    """One rep in a timing chart.

    Attributes
    ----------
    index
        Number of the rep.
    y
        Middle of its row.
    whole, counts
        x of both ends of the whole rep and of its highlighted phase; None without its events.
    marks
        Events between start and finish.
    seconds
        Time of each event from the key event, as text; empty if it was not found.
    """

    index: int
    y: float
    whole: tuple[float, float]
    counts: tuple[float, float] | None
    marks: tuple[TimingMark, ...]
    seconds: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Timing:
    """Timing chart of all reps of one move.

    Attributes
    ----------
    caption, explanation, alt, table_caption
        Title, how to read the chart, alternative text, and title of its table.
    zero, height
        x of the key event; height of the chart.
    ticks
        x and text of each tick.
    legend
        Marker shape and name of each event drawn.
    events
        Column names of the table, in order of time.
    rows
        The reps that have the key event.
    """

    caption: str
    explanation: str
    alt: str
    table_caption: str
    zero: float
    height: float
    ticks: tuple[tuple[float, str], ...]
    legend: tuple[tuple[str, str], ...]
    events: tuple[str, ...]
    rows: tuple[TimingRow, ...]


def timings(words: Words, results: Sequence[RepResult]) -> list[Timing]:
    """Lay out the timing of every move with a rep that has the key event and another event.

    Parameters
    ----------
    words
        Names of the events.
    results
        The reps of a clip.
    """
    found = []
    for move, reps in by_move(results).items():
        key = zero_event(move)
        timed = [r for r in reps if key in r.rep.events and len(_event_times(r.rep.events)) > 1]
        if timed:
            found.append(_timing(words, move, key, timed))
    return found


def zero_event(move: str) -> str:
    """Return the event at which the reps of a move are aligned."""
    return MOVE_INFO[move].key_event if move in MOVE_INFO else "release"


def event_text(words: Words, name: str) -> str:
    """Return the name of an event as text; its key with spaces if it has no text."""
    return words.report.get(f"event_{name}", name.replace("_", " "))


def _event_times(events: Mapping[str, Event]) -> dict[str, float]:
    """Return the finite times by event, s; the plant of a dodge is its start, so it is left out."""
    return {
        name: event.time_s
        for name, event in events.items()
        if math.isfinite(event.time_s) and not (name == "plant" and "dodge_start" in events)
    }


def _timing(words: Words, move: str, key: str, reps: Sequence[RepResult]) -> Timing:
    names = list(dict.fromkeys(name for result in reps for name in _event_times(result.rep.events)))
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
    key_name = event_text(words, key)
    return Timing(
        caption=texts["of_move"].format(move=raised(words.move_name(move)), n=len(reps)),
        explanation=texts[f"timing_said_{kind}"].format(event=key_name),
        alt=texts["timing_alt"].format(
            n=len(reps), events=", ".join(event_text(words, name) for name in drawn), event=key_name
        ),
        table_caption=texts["timing_caption"].format(event=key_name),
        zero=axis.at(0.0),
        height=TOP + ROW * len(reps) + FOOT,
        ticks=tuple((axis.at(tick), tick_text(words, tick)) for tick in ticks),
        legend=tuple((SIGNS.get(name, "stroke"), event_text(words, name)) for name in drawn),
        events=tuple(event_text(words, name) for name in names),
        rows=rows,
    )


def _row(
    words: Words, result: RepResult, key: str, names: Sequence[str], axis: Axis, y: float
) -> TimingRow:
    events = result.rep.events
    zero_s = events[key].time_s
    times_s = {name: time_s - zero_s for name, time_s in _event_times(events).items()}
    marks = []
    for name in names:
        if name not in times_s or name in _ENDS:
            continue
        u_s = events[name].u_s
        half_s = COVERAGE_FACTOR * u_s if math.isfinite(u_s) else 0.0
        marks.append(
            TimingMark(
                name=name,
                x=axis.at(times_s[name]),
                start=axis.at(times_s[name] - half_s),
                stop=axis.at(times_s[name] + half_s),
                sign=SIGNS.get(name, "stroke"),
            )
        )
    return TimingRow(
        index=result.rep.index,
        y=y,
        whole=(axis.at(min(times_s.values())), axis.at(max(times_s.values()))),
        counts=_phase(times_s, axis),
        marks=tuple(marks),
        seconds=tuple(_signed(words, times_s[name]) if name in times_s else "" for name in names),
    )


def _signed(words: Words, time_s: float) -> str:
    sign = "+" if time_s >= 0.0 else ""
    return sign + words.texts.figures.number(time_s, 2)


def _phase(times_s: Mapping[str, float], axis: Axis) -> tuple[float, float] | None:
    """Return x of the phase from the fake or plant to the release, or to a dodge's last event."""
    start = next((times_s[name] for name in PHASE_STARTS if name in times_s), None)
    stop = times_s.get("release")
    if stop is None:
        inside = [time_s for name, time_s in times_s.items() if name not in _ENDS]
        stop = max(inside, default=None)
    if start is None or stop is None or stop <= start:
        return None
    return axis.at(start), axis.at(stop)
