"""Ranks the reps for a coach's review by what matters most in each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Literal

from sqlalchemy import Connection, delete, insert, select

from pipeline.core.results import RepResult
from pipeline.feedback.priority import Weight, ranked_verdicts, worth_of
from pipeline.log.marks import ANSWERS, MarkedRep, as_mark, standing
from pipeline.log.schema import FLAGS, REPS, REVIEW_MARKS
from pipeline.log.stored_reps import logged_result

FlagKind = Literal["fault", "close", "unknown", "none"]
UNKNOWN_MOVE = "unknown"
_AT_ONCE = 500


def flag_of(result: RepResult, weight: Weight) -> tuple[FlagKind, str | None, float]:
    """Return the kind of a rep's flag, the measure behind it, and its score.

    The measure is the one that matters most of those measured, if it is out of range or too
    close to call: see `pipeline.feedback.priority`. The score of a verdict too close to call is the
    probability of being out of range times the weight of the measure.

    Parameters
    ----------
    result
        The rep with its measures and verdicts.
    weight
        Importance of each measure.
    """
    move = result.rep.move
    if move == UNKNOWN_MOVE:
        return "unknown", None, 1.0 - result.rep.move_probability
    ranked = ranked_verdicts(move, result.verdicts, result.measurements, weight)
    chief = next((verdict for verdict in ranked if verdict.word != "not measured"), None)
    if chief is None or chief.probability_inside is None:
        return "none", None, 0.0
    if chief.word == "too close to call":
        score = (1.0 - chief.probability_inside) * weight(move, chief.key)
        return "close", chief.key, float(score)
    worth = worth_of(chief, result.measurements[chief.key], weight(move, chief.key))
    if chief.word == "out of range" and worth is not None:
        return "fault", chief.key, float(worth.score)
    return "none", None, 0.0


def put_flags(connection: Connection, results: Mapping[int, RepResult], weight: Weight) -> None:
    """Compute and store the flags of some reps, and whether they wait for an answer.

    Parameters
    ----------
    connection
        To the log.
    results
        Each rep by its number in the log.
    weight
        Importance of each measure.
    """
    rep_ids = list(results)
    for first in range(0, len(rep_ids), _AT_ONCE):
        _put_some(connection, rep_ids[first : first + _AT_ONCE], results, weight)


def fill_flags(connection: Connection, weight: Weight) -> int:
    """Compute the flags of reps without one, as in an older log; returns their number."""
    query = select(REPS).outerjoin(FLAGS, FLAGS.c.rep_id == REPS.c.id)
    rows = connection.execute(query.where(FLAGS.c.rep_id.is_(None))).mappings().all()
    results = {row["id"]: logged_result(connection, row)[0] for row in rows}
    put_flags(connection, results, weight)
    return len(results)


def refresh_open(connection: Connection, rep: MarkedRep) -> bool:
    """Update whether a rep waits for an answer, after a mark was added or undone."""
    is_open = _is_open(rep, _marks_by_clip(connection, [rep.clip_id]).get(rep.clip_id, []))
    connection.execute(FLAGS.update().where(FLAGS.c.rep_id == rep.id).values(open=is_open))
    return is_open


def _put_some(
    connection: Connection,
    rep_ids: Sequence[int],
    results: Mapping[int, RepResult],
    weight: Weight,
) -> None:
    reps = connection.execute(select(REPS).where(REPS.c.id.in_(rep_ids))).mappings().all()
    marks = _marks_by_clip(connection, sorted({rep["clip_id"] for rep in reps}))
    rows = []
    for rep in reps:
        kind, key, score = flag_of(results[rep["id"]], weight)
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
