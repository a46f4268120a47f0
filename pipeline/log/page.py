"""Renders the trainer's volume page: one HTML file with charts and without scripts."""

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
from pipeline.feedback.words import Words, mean_text
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
"""Size of a chart in SVG units; y points down."""

N_SHADES = 4
BAND = (0.8, 1.3)
"""Ratio of acute to chronic load (Gabbett 2016, Br J Sports Med 50:273-280); disputed."""


@dataclass(frozen=True, slots=True)
class Day:
    """A cell of the calendar: day, number of throws, shade (0 to `N_SHADES`), kind of day."""

    day: date
    n: int
    shade: int
    kind: str


@dataclass(frozen=True, slots=True)
class Bar:
    """A stacked bar of one week: x, width, parts (name, top, height) from the bottom, counts."""

    x: float
    width: float
    parts: tuple[tuple[str, float, float], ...]
    last: date
    left: int
    right: int
    unknown: int


@dataclass(frozen=True, slots=True)
class Lines:
    """Acute and chronic load as SVG points, the value at the top, and the current values."""

    acute: str
    chronic: str
    band: str
    greatest: float
    now: tuple[float, float]


def calendar(overview: AthleteOverview) -> list[list[Day]]:
    """Lay out the days of the weeks, one row per week, oldest first."""
    throws: dict[date, int] = {}
    for one in overview.done:
        throws[one.day] = throws.get(one.day, 0) + one.counts["throws"]
    trained = {bout.day for bout in overview.bouts}
    start = min(trained, default=overview.last)
    most = max((n for day, n in throws.items() if day >= overview.volume.weeks[0].first), default=0)
    rows = []
    for week in overview.volume.weeks:
        days = [week.first + timedelta(days=i) for i in range(WEEK_DAYS)]
        rows.append([_day(day, throws.get(day, 0), most, day in trained, start) for day in days])
    return rows


def bars(overview: AthleteOverview) -> tuple[list[Bar], int]:
    """Stack the throws of each week by hand; returns the bars and the number at the top."""
    weeks = overview.volume.weeks
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


def load_lines(overview: AthleteOverview) -> Lines | None:
    """Lay out acute and chronic throws per day; None with too few days or no throws."""
    start = min((bout.day for bout in overview.bouts), default=None)
    if start is None or (overview.last - start).days + 1 < CHRONIC_DAYS:
        return None
    throws = by_day(
        start, overview.last, [(o.day, float(o.counts["throws"])) for o in overview.done]
    )
    n = min(throws.size, WEEK_DAYS * len(overview.volume.weeks))
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


def drift_lines(overview: AthleteOverview, drift: Drift) -> list[tuple[float, float]]:
    """Return y of the first and of the last third of each session, for one line per session."""
    (series,) = (s for s in overview.series if (s.move, s.key) == (drift.move, drift.key))
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
"""Weeks in the tables, and drift charts, that fit on an athlete's sheet."""

TEMPLATES = Path(__file__).parent / "templates"


def volume_page(words: Words, overviews: Sequence[AthleteOverview], today: date) -> str:
    """Render the volume page.

    Parameters
    ----------
    words
        Texts of the page.
    overviews
        One per athlete.
    today
        Date in the footer.

    Returns
    -------
    str
        HTML without external files.
    """
    environment = page_templates(TEMPLATES)
    return environment.get_template("volume.html").render(
        texts=words.log,
        language=words.language,
        style=(TEMPLATES / "volume.css").read_text(encoding="utf-8"),
        athletes=[_athlete(words, overview) for overview in overviews],
        notes=notes_of(words, overviews),
        made=words.log["page_made"].format(number=__version__, day=today.isoformat()),
        width=WIDTH,
        height=HEIGHT,
    )


def _athlete(words: Words, overview: AthleteOverview) -> dict[str, Any]:
    texts, figures = words.log, words.texts.figures
    weekdays = texts["weekdays"].split("|")
    stacked, most = bars(overview)
    lines = load_lines(overview)
    days = calendar(overview)
    return {
        "name": overview.athlete.name,
        "head": texts["head"].format(name=overview.athlete.name, day=overview.last.isoformat()),
        "watch": [watch_text(words, one) for one in overview.watch],
        "limits": [_limit(words, limit) for limit in overview.limits],
        "weekdays": [weekdays[day.day.weekday()] for day in days[-1]],
        "calendar": list(zip(overview.volume.weeks, days, strict=True))[: -MOST_ROWS - 1 : -1],
        "columns": columns(words),
        "weeks": [week_row(words, week) for week in overview.volume.weeks[: -MOST_ROWS - 1 : -1]],
        "bars": stacked,
        "most": most,
        "bars_alt": "; ".join(
            texts["page_bar"].format(
                day=bar.last.isoformat(), left=bar.left, right=bar.right, unknown=bar.unknown
            )
            for bar in stacked
        ),
        "lines": lines,
        "lines_alt": ""
        if lines is None
        else texts["page_load_now"].format(
            acute=figures.number(lines.now[0], 1),
            chronic=figures.number(lines.now[1], 1),
            day=overview.last.isoformat(),
        ),
        "comparison": comparison(words, overview),
        "drifts": [_drift(words, overview, i) for i in range(len(overview.drifts))][:MOST_DRIFTS],
    }


def _drift(words: Words, overview: AthleteOverview, i: int) -> dict[str, Any]:
    drift = overview.drifts[i]
    return {
        "text": words.log["page_drift_of"].format(
            measure=words.title(drift.key),
            move=words.move_name(drift.move),
            n=drift.n_sessions,
            early=mean_text(words, drift.key, drift.early),
            late=mean_text(words, drift.key, drift.late),
        ),
        "lines": drift_lines(overview, drift),
    }


def _limit(words: Words, limit: Limit) -> str:
    texts = words.log
    sentence = texts["page_limit" if limit.hand is None else "page_limit_of_hand"]
    return sentence.format(
        most=limit.most,
        counted=texts[limit.counted],
        per=texts[f"per_{limit.per}"],
        hand="" if limit.hand is None else texts[limit.hand],
        by=limit.set_by,
        date=limit.set_at.date().isoformat(),
        why=limit.why,
    )
