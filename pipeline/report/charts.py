"""Charts of each measure over the reps of a move: target band, values, 95 % intervals."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.core.results import Measurement, RepResult, TargetRange
from pipeline.feedback.words import Words, number_text, plain_number, raised, range_text, tick_text
from pipeline.measures import MEASURES, unit_word_of
from pipeline.report.axes import Axis, round_ticks, whole_ticks
from pipeline.report.verdict_marks import (
    SHAPES,
    by_move,
    in_order,
    reps_text,
    verdict_of,
    verdict_text,
)

WIDTH, HEIGHT = 340.0, 176.0
"""Size of a chart in SVG units: about pixels on a phone."""

LEFT, RIGHT, TOP, BOTTOM = 46.0, 330.0, 8.0, 142.0
"""Edges of the plot area."""

MOST_Y_TICKS, MOST_X_TICKS = 5, 12
LARGEST_MARK, SMALLEST_MARK = 5.0, 2.4
FEWEST_REPS = 2
"""Reps that a chart needs."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """One rep in a chart.

    Attributes
    ----------
    x, y
        Coordinates of its value.
    top, bottom
        y of the ends of its 95 % interval; equal without an interval.
    shape
        Marker shape of its verdict; ``plain`` without a target range.
    label
        The same as text.
    """

    x: float
    y: float
    top: float
    bottom: float
    shape: str
    label: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """One measure over the reps of a move, laid out.

    Attributes
    ----------
    title, unit, range_words, missing, alt
        Texts above, beside and below it, and the alternative text.
    band
        y and height of the target range; None without a target range.
    edges
        y of each bound of the target range that is set.
    y_ticks, x_ticks
        Coordinate and text of each tick.
    points
        The reps with a value.
    gaps
        x of each rep without a value.
    mark
        Half the size of a marker.
    """

    title: str
    unit: str
    range_words: str
    missing: str
    alt: str
    band: tuple[float, float] | None
    edges: tuple[float, ...]
    y_ticks: tuple[tuple[float, str], ...]
    x_ticks: tuple[tuple[float, str], ...]
    points: tuple[Point, ...]
    gaps: tuple[float, ...]
    mark: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartGroup:
    """The charts of one move, split by whether the measure has a target range."""

    caption: str
    judged: tuple[Chart, ...]
    others: tuple[Chart, ...]
    more: str


def chart_groups(words: Words, results: Sequence[RepResult]) -> list[ChartGroup]:
    """Lay out the charts of every move with at least `FEWEST_REPS` reps and one value.

    Parameters
    ----------
    words
        Units and phrases.
    results
        The reps of a clip.

    Returns
    -------
    list of ChartGroup
        In the order in which the moves first appear.
    """
    groups = []
    for move, reps in by_move(results).items():
        if len(reps) < FEWEST_REPS:
            continue
        keys = in_order(list(dict.fromkeys(k for result in reps for k in result.measurements)))
        order = words.order.get(move, ())
        # Measures that the feedback is about come first.
        keys.sort(key=lambda key: order.index(key) if key in order else len(order))
        charts = [(chart_of(words, key, reps), _target(key, reps)) for key in keys]
        judged = tuple(chart for chart, target in charts if chart and target)
        others = tuple(chart for chart, target in charts if chart and not target)
        if judged or others:
            groups.append(
                ChartGroup(
                    caption=words.report["of_move"].format(
                        move=raised(words.move_name(move)), n=len(reps)
                    ),
                    judged=judged,
                    others=others,
                    more=words.report["more_charts"].format(n=len(others)),
                )
            )
    return groups


def chart_of(words: Words, key: str, reps: Sequence[RepResult]) -> Chart | None:
    """Lay out one measure over some reps; None if no rep has a value.

    Parameters
    ----------
    words
        Units and phrases.
    key
        Key of the measure.
    reps
        In the order of the x axis.
    """
    known = [m for result in reps if (m := _known(result, key)) is not None]
    if not known:
        return None
    target = _target(key, reps)
    is_count = key in MEASURES and MEASURES[key].is_count
    y = _y_axis(known, target, least_margin=0.8 if is_count else 0.0)
    greatest = max(abs(y.low), abs(y.high))
    per_unit, unit = words.texts.figures.axis(unit_word_of(key), greatest)
    least_step = 1.0 if is_count else 0.0
    ticks = round_ticks(y.low * per_unit, y.high * per_unit, MOST_Y_TICKS, least_step=least_step)
    spacing = (RIGHT - LEFT) / len(reps)
    xs = [round(LEFT + (i + 0.5) * spacing, 1) for i in range(len(reps))]
    points, gaps, missing = [], [], []
    for x, result in zip(xs, reps, strict=True):
        measurement = _known(result, key)
        if measurement is None:
            gaps.append(x)
            missing.append(result.rep.index)
        else:
            points.append(_point(words, result, measurement, x, y))
    values = [float(m.value) for m in known if m.value is not None]
    texts = words.report
    return Chart(
        title=words.title(key),
        unit=unit,
        range_words=(
            texts["no_verdict"]
            if target is None
            else texts["chart_range"].format(range=range_text(words, target))
        ),
        missing=texts["chart_missing"].format(reps=reps_text(words, missing)) if missing else "",
        alt=texts["chart_alt"].format(
            measure=words.title(key),
            n=len(reps),
            low=plain_number(key, min(values), words),
            high=plain_number(key, max(values), words),
        ),
        band=None if target is None else _band(target, y),
        edges=() if target is None else _edges(target, y),
        y_ticks=tuple((y.at(tick / per_unit), tick_text(words, tick)) for tick in ticks),
        x_ticks=tuple(
            (xs[i], str(reps[i].rep.index)) for i in whole_ticks(len(reps), MOST_X_TICKS)
        ),
        points=tuple(points),
        gaps=tuple(gaps),
        mark=round(min(LARGEST_MARK, max(SMALLEST_MARK, 0.45 * spacing)), 1),
    )


def _known(result: RepResult, key: str) -> Measurement | None:
    measurement = result.measurements.get(key)
    if measurement is None or measurement.value is None or not math.isfinite(measurement.value):
        return None
    return measurement


def _target(key: str, reps: Sequence[RepResult]) -> TargetRange | None:
    """Return the first target range: all reps of one clip and move have the same."""
    verdicts = (verdict_of(result, key) for result in reps)
    return next((v.target for v in verdicts if v is not None), None)


def _interval(measurement: Measurement) -> tuple[float, float]:
    value = float(measurement.value or 0.0)
    low, high = measurement.interval95 or (value, value)
    return (low, high) if math.isfinite(low) and math.isfinite(high) else (value, value)


def _y_axis(known: Sequence[Measurement], target: TargetRange | None, least_margin: float) -> Axis:
    ends = [end for measurement in known for end in _interval(measurement)]
    ends += [float(m.value) for m in known if m.value is not None]
    if target is not None:
        ends += [bound for bound in (target.low, target.high) if bound is not None]
    low, high = min(ends), max(ends)
    margin = max(0.08 * (high - low), least_margin) or 0.1 * abs(high) or 1.0
    return Axis(low=low - margin, high=high + margin, start=BOTTOM, stop=TOP)


def _band(target: TargetRange, y: Axis) -> tuple[float, float]:
    """Return y and height of the range: open sides reach the edge, narrow ranges stay visible."""
    top = TOP if target.high is None else y.at(target.high)
    bottom = BOTTOM if target.low is None else y.at(target.low)
    if bottom - top < 3.0:
        top, bottom = top - 1.5, bottom + 1.5
    return round(top, 1), round(bottom - top, 1)


def _edges(target: TargetRange, y: Axis) -> tuple[float, ...]:
    return tuple(y.at(bound) for bound in (target.low, target.high) if bound is not None)


def _point(words: Words, result: RepResult, measurement: Measurement, x: float, y: Axis) -> Point:
    low, high = _interval(measurement)
    verdict = verdict_of(result, measurement.key)
    number, index = number_text(words, measurement), result.rep.index
    if verdict is None:
        label = words.report["chart_point"].format(index=index, number=number)
    else:
        label = words.report["chart_point_judged"].format(
            index=index, number=number, verdict=verdict_text(words, verdict)
        )
    return Point(
        x=x,
        y=y.at(float(measurement.value or 0.0)),
        top=y.at(high),
        bottom=y.at(low),
        shape="plain" if verdict is None else SHAPES[verdict.word],
        label=label,
    )
