"""An athlete's last ten reps of a move, and a small chart of each measure over them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, and_, or_, select

from pipeline.feedback.words import COVERAGE_FACTOR, Words, plain_number
from pipeline.log.schema import MEASURES, REPS
from pipeline.report.verdict_marks import SHAPES

N_LAST = 10
WIDTH, HEIGHT = 150.0, 44.0
MARGIN, MARK = 8.0, 4.4
"""Sizes in units of the drawing, about one pixel each."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Dot:
    """One rep in the chart: position, ends of its interval, and shape of its verdict."""

    x: float
    y: float
    top: float
    bottom: float
    shape: str
    is_this: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SmallChart:
    """One measure over the last reps, ready to draw; `description` is the alternative text."""

    dots: tuple[Dot, ...]
    description: str
    width: float = WIDTH
    height: float = HEIGHT
    mark: float = MARK


@dataclass(frozen=True, slots=True, kw_only=True)
class PastValue:
    """Value of a measure in one logged rep; None if there is no value."""

    is_this: bool
    value: float | None
    u: float | None
    verdict: str | None


def read_last(connection: Connection, rep: Mapping[str, Any]) -> dict[str, list[PastValue]]:
    """Read the last ten reps of the same move up to this one, oldest first, by measure.

    Parameters
    ----------
    connection
        To the log.
    rep
        Row of the rep.
    """
    earlier = or_(
        REPS.c.day < rep["day"],
        and_(REPS.c.day == rep["day"], REPS.c.clip_id < rep["clip_id"]),
        and_(
            REPS.c.day == rep["day"],
            REPS.c.clip_id == rep["clip_id"],
            REPS.c.number <= rep["number"],
        ),
    )
    newest = (REPS.c.day.desc(), REPS.c.clip_id.desc(), REPS.c.number.desc())
    ids = list(
        connection.execute(
            select(REPS.c.id)
            .where(REPS.c.athlete_id == rep["athlete_id"], REPS.c.move == rep["move"],
                   REPS.c.day <= rep["day"], earlier)
            .order_by(*newest)
            .limit(N_LAST)
        ).scalars()
    )[::-1]  # fmt: skip
    columns = (MEASURES.c.rep_id, MEASURES.c.key, MEASURES.c.value, MEASURES.c.u,
               MEASURES.c.verdict)  # fmt: skip
    rows = connection.execute(select(*columns).where(MEASURES.c.rep_id.in_(ids))).all()
    place = {rep_id: number for number, rep_id in enumerate(ids)}
    found: dict[str, list[PastValue]] = {}
    for row in sorted(rows, key=lambda row: place[row.rep_id]):
        found.setdefault(row.key, []).append(
            PastValue(
                is_this=row.rep_id == rep["id"], value=row.value, u=row.u, verdict=row.verdict
            )
        )
    return found


def small_chart(words: Words, key: str, values: Sequence[PastValue]) -> SmallChart | None:
    """Lay out a measure over the last reps; None if there are fewer than two values.

    Parameters
    ----------
    words
        For the alternative text.
    key
        Key of the measure.
    values
        Oldest first.
    """
    known = [(i, one, one.value) for i, one in enumerate(values) if one.value is not None]
    if len(known) < 2:
        return None
    halves = [COVERAGE_FACTOR * (one.u or 0.0) for _, one, _ in known]
    low = min(value - half for (_, _, value), half in zip(known, halves, strict=True))
    high = max(value + half for (_, _, value), half in zip(known, halves, strict=True))
    span = (high - low) or 1.0

    def y(value: float) -> float:
        return round(HEIGHT - MARGIN - (HEIGHT - 2 * MARGIN) * (value - low) / span, 1)

    step = (WIDTH - 2 * MARGIN) / max(1, len(values) - 1)
    shapes: Mapping[str, str] = {str(word): shape for word, shape in SHAPES.items()}
    dots = tuple(
        Dot(
            x=round(MARGIN + i * step, 1),
            y=y(value),
            top=y(value + half),
            bottom=y(value - half),
            shape=shapes.get(one.verdict or "", "plain"),
            is_this=one.is_this,
        )
        for (i, one, value), half in zip(known, halves, strict=True)
    )
    listed = ", ".join(plain_number(key, value, words) for _, _, value in known)
    return SmallChart(
        dots=dots, description=words.text("rep_view.last_ten", n=len(known), list=listed)
    )
