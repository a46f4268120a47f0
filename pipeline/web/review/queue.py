"""The review queue: reps that need a coach's attention first, with keyset pagination."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import date
from typing import Any, Literal
from urllib.parse import urlencode

from sqlalchemy import Connection, Select, func, literal, select, tuple_

from pipeline.log.marks import MarkedRep
from pipeline.log.schema import ATHLETES, CLIPS, FLAGS, MEASURES, REPS, REVIEW_MARKS

QueueKind = Literal["fault", "close", "unknown"]
QUEUES: tuple[QueueKind, ...] = ("fault", "close", "unknown")
HANDS = ("left", "right")
PER_PAGE = 20

After = tuple[float, int]
"""Score and id of the last rep of the previous page."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Filters:
    """Filters of the queue; None = everything.

    Attributes
    ----------
    kind
        Faults, verdicts too close to call, or moves that could not be named.
    who
        Id of an athlete.
    move, measure, hand
        Keys.
    since, until
        First and last day.
    """

    kind: QueueKind = "fault"
    who: int | None = None
    move: str | None = None
    measure: str | None = None
    hand: str | None = None
    since: date | None = None
    until: date | None = None

    def query(self, **changed: object) -> str:
        """Give the filters as the query of an address; None is left out."""
        values = {field.name: getattr(self, field.name) for field in fields(self)} | changed
        return urlencode({name: str(value) for name, value in values.items() if value is not None})


def parse_filters(query: Mapping[str, str]) -> Filters:
    """Read filters from the query of an address; values that are not valid are left out."""
    kind = query.get("kind", "fault")
    who = query.get("who", "")
    hand = query.get("hand")
    return Filters(
        kind=next((known for known in QUEUES if known == kind), "fault"),
        who=int(who) if who.isascii() and who.isdigit() and len(who) < 10 else None,
        move=query.get("move") or None,
        measure=query.get("measure") or None,
        hand=hand if hand in HANDS else None,
        since=_day(query.get("since")),
        until=_day(query.get("until")),
    )


def parse_after(typed: str | None) -> After | None:
    """Parse where a page begins; None for the first page.

    Examples
    --------
    >>> parse_after("0.5,12"), parse_after("nan,12"), parse_after("x")
    ((0.5, 12), None, None)
    """
    score, _, number = (typed or "").partition(",")
    try:
        found = float(score), int(number)
    except ValueError:
        return None
    return found if 0.0 <= found[0] < 1e6 and 0 <= found[1] < 2**62 else None


def queue_rows(
    connection: Connection, filters: Filters, after: After | None = None, *, n: int = PER_PAGE
) -> list[dict[str, Any]]:
    """Read one page of the queue.

    Parameters
    ----------
    connection
        To the log.
    filters
        Which reps.
    after
        Where the page begins; None = at the start.
    n
        Greatest number of reps.

    Returns
    -------
    list of dict
        Columns of the rep; of the flag ``score``, ``measure`` and ``kind``; of the measure
        ``value``, ``u``, ``unit``, ``verdict``, ``verdict_side``, ``probability_inside`` and
        ``target_range``; the athlete's name (``athlete``), the clip's ``file_name`` and
        ``results_path``, and the ``version`` of the rep's marks.
    """
    page = _matching(select(FLAGS.c.rep_id, FLAGS.c.score), filters)
    if after is not None:
        place = tuple_(FLAGS.c.score, FLAGS.c.rep_id)
        page = page.where(place < tuple_(literal(after[0]), literal(after[1])))
    page = page.order_by(FLAGS.c.score.desc(), FLAGS.c.rep_id.desc()).limit(n)
    ids = [row.rep_id for row in connection.execute(page)]
    return rows_of(connection, ids)


def rows_of(connection: Connection, rep_ids: Sequence[int]) -> list[dict[str, Any]]:
    """Read the rows of some reps in the given order; see `queue_rows`."""
    measured = ("value", "u", "unit", "verdict", "verdict_side", "probability_inside")
    query = (
        select(
            REPS, FLAGS.c.score, FLAGS.c.measure, FLAGS.c.kind, ATHLETES.c.name.label("athlete"),
            CLIPS.c.file_name, CLIPS.c.results_path, MEASURES.c.target_range,
            *(MEASURES.c[name] for name in measured),
        )
        .join(FLAGS, FLAGS.c.rep_id == REPS.c.id)
        .join(ATHLETES, ATHLETES.c.id == REPS.c.athlete_id)
        .join(CLIPS, CLIPS.c.id == REPS.c.clip_id)
        .outerjoin(
            MEASURES, (MEASURES.c.rep_id == REPS.c.id) & (MEASURES.c.key == FLAGS.c.measure)
        )
        .where(REPS.c.id.in_(rep_ids))
    )  # fmt: skip
    found = {row["id"]: dict(row) for row in connection.execute(query).mappings()}
    _add_versions(connection, list(found.values()))
    return [found[number] for number in rep_ids if number in found]


def counts(connection: Connection, filters: Filters) -> dict[QueueKind, int]:
    """Count the reps of each queue that pass the filters."""
    query = _matching(select(FLAGS.c.kind, func.count()), filters, any_kind=True)
    found = {kind: int(n) for kind, n in connection.execute(query.group_by(FLAGS.c.kind))}
    return {kind: found.get(kind, 0) for kind in QUEUES}


def choices(connection: Connection) -> list[tuple[int, str]]:
    """Read id and name of each athlete."""
    query = select(ATHLETES.c.id, ATHLETES.c.name).order_by(ATHLETES.c.name_key)
    return [(row.id, row.name) for row in connection.execute(query)]


def _matching(query: Select[Any], filters: Filters, *, any_kind: bool = False) -> Select[Any]:
    kinds = QUEUES if any_kind else (filters.kind,)
    query = query.where(FLAGS.c.kind.in_(kinds), FLAGS.c.open.is_(True))
    for column, wanted in (
        (FLAGS.c.who, filters.who), (FLAGS.c.move, filters.move),
        (FLAGS.c.measure, filters.measure), (FLAGS.c.hand, filters.hand),
    ):  # fmt: skip
        if wanted is not None:
            query = query.where(column == wanted)
    if filters.since is not None:
        query = query.where(FLAGS.c.day >= filters.since)
    if filters.until is not None:
        query = query.where(FLAGS.c.day <= filters.until)
    return query


def _add_versions(connection: Connection, rows: Sequence[dict[str, Any]]) -> None:
    """Add to each rep its version: the id of its last mark."""
    names = ("id", "clip_id", "number", "start_s", "stop_s", "move")
    query = select(
        REVIEW_MARKS.c.id,
        REVIEW_MARKS.c.clip_id,
        REVIEW_MARKS.c.rep_number,
        REVIEW_MARKS.c.time_s,
    ).where(REVIEW_MARKS.c.clip_id.in_({row["clip_id"] for row in rows}))
    marks = connection.execute(query).mappings().all()
    for row in rows:
        rep = MarkedRep(**{name: row[name] for name in names})
        mine = [m["id"] for m in marks if m["clip_id"] == rep.clip_id and rep.holds(m)]
        row["version"] = max(mine, default=0)


def _day(typed: str | None) -> date | None:
    try:
        return date.fromisoformat(typed) if typed else None
    except ValueError:
        return None
