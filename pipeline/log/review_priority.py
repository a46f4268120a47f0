"""Ranks the reps for a coach's review: certainty of a fault times its weight."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, Literal

from sqlalchemy import Connection, delete, insert, select

from pipeline.log.marks import ANSWERS, MarkedRep, as_mark, standing
from pipeline.log.schema import FLAGS, MEASURES, REPS, REVIEW_MARKS

Weight = Callable[[str, str], float]
"""Maps the keys of a move and a measure to the importance of feedback on it."""

FlagKind = Literal["fault", "close", "unknown", "none"]
UNKNOWN_MOVE = "unknown"
_AT_ONCE = 500


def flag_of(
    move: str, move_probability: float, measures: Iterable[Mapping[Any, Any]], weight: Weight
) -> tuple[FlagKind, str | None, float]:
    """Return the kind of a rep's flag, the measure behind it, and its score.

    A fault is a measure out of its range. Its score is the probability of being out of range times
    the weight of the measure. Without a fault, verdicts too close to call are scored the same way.

    Parameters
    ----------
    move, move_probability
        Move as classified by the program, and its probability.
    measures
        Rows with ``key``, ``verdict`` and ``probability_inside``.
    weight
        Importance of each measure.

    Examples
    --------
    >>> row = {"key": "step_back_m", "verdict": "out of range", "probability_inside": 0.01}
    >>> flag_of("throwback_pass", 0.9, [row], lambda move, key: 1.0)
    ('fault', 'step_back_m', 0.99)
    """
    if move == UNKNOWN_MOVE:
        return "unknown", None, 1.0 - move_probability
    kinds: dict[str, FlagKind] = {"out of range": "fault", "too close to call": "close"}
    best: dict[FlagKind, tuple[float, str]] = {}
    for row in measures:
        kind, inside = kinds.get(row["verdict"] or ""), row["probability_inside"]
        if kind is None or inside is None:
            continue
        importance = weight(move, row["key"])
        score = (1.0 - float(inside)) * importance
        if importance > 0.0 and score > best.get(kind, (-1.0, ""))[0]:
            best[kind] = (score, row["key"])
    for kind in ("fault", "close"):
        if kind in best:
            return kind, best[kind][1], best[kind][0]
    return "none", None, 0.0


def put_flags(connection: Connection, rep_ids: Sequence[int], weight: Weight) -> None:
    """Compute and store the flags of some reps, and whether they wait for an answer."""
    for first in range(0, len(rep_ids), _AT_ONCE):
        _put_some(connection, rep_ids[first : first + _AT_ONCE], weight)


def fill_flags(connection: Connection, weight: Weight) -> int:
    """Compute the flags of reps without one, as in an older log; returns their number."""
    query = (
        select(REPS.c.id)
        .outerjoin(FLAGS, FLAGS.c.rep_id == REPS.c.id)
        .where(FLAGS.c.rep_id.is_(None))
    )
    ids = connection.execute(query).scalars().all()
    put_flags(connection, ids, weight)
    return len(ids)


def refresh_open(connection: Connection, rep: MarkedRep) -> bool:
    """Update whether a rep waits for an answer, after a mark was added or undone."""
    is_open = _is_open(rep, _marks_by_clip(connection, [rep.clip_id]).get(rep.clip_id, []))
    connection.execute(FLAGS.update().where(FLAGS.c.rep_id == rep.id).values(open=is_open))
    return is_open


def _put_some(connection: Connection, rep_ids: Sequence[int], weight: Weight) -> None:
    reps = connection.execute(select(REPS).where(REPS.c.id.in_(rep_ids))).mappings().all()
    measures: dict[int, list[Mapping[Any, Any]]] = {}
    query = select(
        MEASURES.c.rep_id, MEASURES.c.key, MEASURES.c.verdict, MEASURES.c.probability_inside
    ).where(MEASURES.c.rep_id.in_(rep_ids))
    for row in connection.execute(query).mappings():
        measures.setdefault(row["rep_id"], []).append(row)
    marks = _marks_by_clip(connection, sorted({rep["clip_id"] for rep in reps}))
    rows = []
    for rep in reps:
        kind, key, score = flag_of(
            rep["move"], rep["move_probability"], measures.get(rep["id"], []), weight
        )
        names = ("id", "clip_id", "number", "start_s", "stop_s", "move")
        marked = MarkedRep(**{name: rep[name] for name in names})
        rows.append(
            {
                "rep_id": rep["id"],
                "kind": kind,
                "open": _is_open(marked, marks.get(rep["clip_id"], [])),
                "score": score,
                "measure": key,
                "who": rep["athlete_id"],
                "move": rep["move"],
                "hand": rep["hand"],
                "day": rep["day"],
            }
        )
    connection.execute(delete(FLAGS).where(FLAGS.c.rep_id.in_(rep_ids)))
    if rows:
        connection.execute(insert(FLAGS), rows)


def _marks_by_clip(
    connection: Connection, clips: Sequence[int]
) -> dict[int, list[Mapping[Any, Any]]]:
    found: dict[int, list[Mapping[Any, Any]]] = {}
    query = select(REVIEW_MARKS).where(REVIEW_MARKS.c.clip_id.in_(clips))
    for row in connection.execute(query.order_by(REVIEW_MARKS.c.id)).mappings():
        found.setdefault(row["clip_id"], []).append(row)
    return found


def _is_open(rep: MarkedRep, marks: Sequence[Mapping[Any, Any]]) -> bool:
    mine = standing([as_mark(row) for row in marks if rep.holds(row)])
    return not any(mark.kind in ANSWERS for mark in mine)
