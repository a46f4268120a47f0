"""The trainer's page: one file that opens from disk, with its charts, and no script."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from pipeline import __version__
from pipeline.core.types import FloatArray
from pipeline.feedback.words import Words, say_mean
from pipeline.log.athlete_overview import AthleteOverview
from pipeline.log.limits import Limit
from pipeline.log.load import (
    ACUTE_DAYS,
    CHRONIC_DAYS,
    WEEK_DAYS,
    by_day,
    weighted_means,
)
from pipeline.log.trends import Drift, thirds_of_sessions
from pipeline.log.wording import columns, comparison, notes_of, watch_text, week_row
from pipeline.report.templates import page_templates

WIDTH, HEIGHT = 320.0, 100.0
"""Of the drawing board; y goes down."""

N_SHADES = 4
BAND = (0.8, 1.3)
"""Of acute over chronic load (Gabbett 2016, Br J Sports Med 50:273-280); disputed."""


@dataclass(frozen=True, slots=True)
class Day:
    """A field of the calendar: the day, its number of throws, and how dark it is (0 to 4)."""

    day: date
    n: int
    shade: int
    kind: str


@dataclass(frozen=True, slots=True)
class Bar:
    """A bar: where it begins, how wide it is, and its parts (name, top, height), lowest first."""

    x: float
    width: float
    parts: tuple[tuple[str, float, float], ...]
    last: date
    left: int
    right: int
    unknown: int


@dataclass(frozen=True, slots=True)
class Lines:
    """Polylines as text of points, and the greatest value, which is at the top."""

    acute: str
    chronic: str
    band: str
    greatest: float
    now: tuple[float, float]


def calendar(board: AthleteOverview) -> list[list[Day]]:
    """Lay the days of the weeks out, one row a week, oldest first."""
    throws: dict[date, int] = {}
    for one in board.done:
        throws[one.day] = throws.get(one.day, 0) + one.counts["throws"]
    trained = {bout.day for bout in board.bouts}
    start = min(trained, default=board.last)
    most = max((n for day, n in throws.items() if day >= board.volume.weeks[0].first), default=0)
    rows = []
    for week in board.volume.weeks:
        days = [week.first + timedelta(days=i) for i in range(WEEK_DAYS)]
        rows.append([_day(day, throws.get(day, 0), most, day in trained, start) for day in days])
    return rows


def bars(board: AthleteOverview) -> tuple[list[Bar], int]:
    """Stack throws of each week by hand; returns the bars and the number at the top."""
    weeks = board.volume.weeks
    most = max((week.totals.of("throws") for week in weeks), default=0)
    step = WIDTH / len(weeks)
    found = []
    for i, week in enumerate(weeks):
        hands = [week.totals.by_hand[hand]["throws"] for hand in ("left", "right", None)]
        parts, top = [], HEIGHT
        for name, n in zip(("left", "right", "unknown"), hands, strict=True):
            height = HEIGHT * n / most if most else 0.0
            top -= height
            parts.append((name, round(top, 2), round(height, 2)))
        found.append(
            Bar(round(step * (i + 0.14), 2), round(step * 0.72, 2), tuple(parts), week.last, *hands)
        )
    return found, most


def load_lines(board: AthleteOverview) -> Lines | None:
    """Draw acute and chronic throws a day over the weeks; None with too few days in the log."""
    start = min((bout.day for bout in board.bouts), default=None)
    if start is None or (board.last - start).days + 1 < CHRONIC_DAYS:
        return None
    throws = by_day(start, board.last, [(o.day, float(o.counts["throws"])) for o in board.done])
    n = min(throws.size, WEEK_DAYS * len(board.volume.weeks))
    acute, chronic = (weighted_means(throws, days)[-n:] for days in (ACUTE_DAYS, CHRONIC_DAYS))
    greatest = float(max(acute.max(), BAND[1] * chronic.max()))
    if greatest <= 0.0:
        return None
    low, high = (_points(factor * chronic, greatest) for factor in BAND)
    return Lines(
        acute=" ".join(_points(acute, greatest)),
        chronic=" ".join(_points(chronic, greatest)),
        band=" ".join([*low, *reversed(high)]),
        greatest=greatest,
        now=(float(acute[-1]), float(chronic[-1])),
    )


def drift_lines(board: AthleteOverview, drift: Drift) -> list[tuple[float, float]]:
    """Heights of the first and the last third of each session, for a line across the board."""
    (series,) = (s for s in board.series if (s.move, s.key) == (drift.move, drift.key))
    pairs = np.asarray(thirds_of_sessions(series))
    low, high = float(pairs.min()), float(pairs.max())
    scale = HEIGHT * 0.9 / (high - low) if high > low else 0.0
    heights = HEIGHT * 0.95 - (pairs - low) * scale
    return [(round(float(a), 2), round(float(b), 2)) for a, b in heights]


def _day(day: date, n: int, most: int, trained: bool, start: date) -> Day:
    if n:
        return Day(day, n, math.ceil(N_SHADES * n / most) if most else 1, "throws")
    if trained:
        return Day(day, 0, 0, "session")
    return Day(day, 0, 0, "off" if day >= start else "before")


def _points(values: FloatArray, greatest: float) -> list[str]:
    step = WIDTH / max(1, len(values) - 1)
    return [
        f"{step * i:.1f},{HEIGHT * (1 - value / greatest):.1f}" for i, value in enumerate(values)
    ]


MOST_ROWS = 12
MOST_DRIFTS = 6
"""Weeks in the tables and drawings of drifts that fit on the sheet of an athlete."""

TEMPLATES = Path(__file__).parent / "templates"


def volume_page(words: Words, boards: Sequence[AthleteOverview], today: date) -> str:
    """Make the page.

    Parameters
    ----------
    words
        All texts on it.
    boards
        One for each athlete.
    today
        For the foot of the page.

    Returns
    -------
    str
        HTML that needs nothing else.
    """
    environment = page_templates(TEMPLATES)
    return environment.get_template("volume.html").render(
        said=words.log,
        language=words.language,
        style=(TEMPLATES / "volume.css").read_text(encoding="utf-8"),
        athletes=[_athlete(words, board) for board in boards],
        notes=notes_of(words, boards),
        made=words.log["page_made"].format(number=__version__, day=today.isoformat()),
        width=WIDTH,
        height=HEIGHT,
    )


def _athlete(words: Words, board: AthleteOverview) -> dict[str, Any]:
    said, figures = words.log, words.texts.figures
    weekdays = said["weekdays"].split("|")
    stacked, most = bars(board)
    lines = load_lines(board)
    days = calendar(board)
    return {
        "name": board.athlete.name,
        "head": said["head"].format(name=board.athlete.name, day=board.last.isoformat()),
        "watch": [watch_text(words, one) for one in board.watch],
        "limits": [_limit(words, limit) for limit in board.limits],
        "weekdays": [weekdays[day.day.weekday()] for day in days[-1]],
        "calendar": list(zip(board.volume.weeks, days, strict=True))[: -MOST_ROWS - 1 : -1],
        "columns": columns(words),
        "weeks": [week_row(words, week) for week in board.volume.weeks[: -MOST_ROWS - 1 : -1]],
        "bars": stacked,
        "most": most,
        "bars_said": "; ".join(
            said["page_bar"].format(
                day=bar.last.isoformat(), left=bar.left, right=bar.right, unknown=bar.unknown
            )
            for bar in stacked
        ),
        "lines": lines,
        "lines_said": ""
        if lines is None
        else said["page_load_now"].format(
            acute=figures.number(lines.now[0], 1),
            chronic=figures.number(lines.now[1], 1),
            day=board.last.isoformat(),
        ),
        "comparison": comparison(words, board),
        "drifts": [_drift(words, board, i) for i in range(len(board.drifts))][:MOST_DRIFTS],
    }


def _drift(words: Words, board: AthleteOverview, i: int) -> dict[str, Any]:
    drift = board.drifts[i]
    return {
        "said": words.log["page_drift_of"].format(
            measure=words.title(drift.key),
            move=words.move_name(drift.move),
            n=drift.n_sessions,
            early=say_mean(words, drift.key, drift.early),
            late=say_mean(words, drift.key, drift.late),
        ),
        "lines": drift_lines(board, drift),
    }


def _limit(words: Words, limit: Limit) -> str:
    said = words.log
    sentence = said["page_limit" if limit.hand is None else "page_limit_of_hand"]
    return sentence.format(
        most=limit.most,
        counted=said[limit.counted],
        per=said[f"per_{limit.per}"],
        hand="" if limit.hand is None else said[limit.hand],
        by=limit.set_by,
        date=limit.set_at.date().isoformat(),
        why=limit.why,
    )
