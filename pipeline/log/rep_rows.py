"""Writes reps with measures, verdicts and flags into the training log."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, delete, insert, select

from pipeline.core.messages import message_document
from pipeline.core.results import Analysis, RepResult, TargetRange, Verdict
from pipeline.feedback.priority import Weight
from pipeline.log.counts import counts_of
from pipeline.log.review_priority import put_flags
from pipeline.log.schema import MEASURES, REPS
from pipeline.log.stored_reps import BY_COACH


def put_reps(
    connection: Connection,
    analysis: Analysis,
    shared: Mapping[str, Any],
    like: str | None,
    weight: Weight,
) -> None:
    """Write the reps of an analysis with their measures, verdicts and flags.

    Parameters
    ----------
    connection
        To the log.
    analysis
        Source of the reps.
    shared
        Columns with equal values for all reps: clip, athlete, session, day.
    like
        Built-in move that a taught drill resembles; None for none.
    weight
        Importance of each measure, for the flags.
    """
    near = {
        index for caution in analysis.cautions if caution.key == "contact" for index in caution.reps
    }
    rows = [
        {**shared, **_rep_row(result, like=like, contact=result.rep.index in near)}
        for result in analysis.reps
    ]
    if not rows:
        return
    connection.execute(insert(REPS), rows)
    query = select(REPS.c.number, REPS.c.id).where(REPS.c.clip_id == shared["clip_id"])
    numbers = {row.number: row.id for row in connection.execute(query)}
    measures = [
        {"rep_id": numbers[result.rep.index], **row}
        for result in analysis.reps
        for row in _measure_rows(result)
    ]
    results = {numbers[result.rep.index]: result for result in analysis.reps}
    _put_measures(connection, results, measures, weight)


def put_measures(
    connection: Connection, rep_id: int, result: RepResult, by_coach: Sequence[str], weight: Weight
) -> None:
    """Replace the measures and the flag of a rep.

    Parameters
    ----------
    connection
        To the log.
    rep_id, result
        Number of the rep in the log, and its measures and verdicts.
    by_coach
        Keys of the measures that depend on a person's correction.
    weight
        Importance of each measure, for the flag.
    """
    rows = [
        {"rep_id": rep_id, **row, "source": BY_COACH if row["key"] in by_coach else None}
        for row in _measure_rows(result)
    ]
    connection.execute(delete(MEASURES).where(MEASURES.c.rep_id == rep_id))
    _put_measures(connection, {rep_id: result}, rows, weight)


def _put_measures(
    connection: Connection,
    results: Mapping[int, RepResult],
    rows: Sequence[Mapping[str, Any]],
    weight: Weight,
) -> None:
    """Write rows of measures, and recompute the flags of these reps."""
    if rows:
        connection.execute(insert(MEASURES), rows)
    put_flags(connection, results, weight)


def _rep_row(result: RepResult, *, like: str | None, contact: bool) -> dict[str, Any]:
    rep = result.rep
    return {
        "number": rep.index,
        "start_s": float(rep.start_s),
        "stop_s": float(rep.stop_s),
        "move": rep.move,
        "move_probability": float(rep.move_probability),
        "move_by": rep.move_by,
        "hand": rep.stick_hand,
        "side": result.field_side.side,
        **counts_of(rep, like=like, contact=contact),
    }


def _measure_rows(result: RepResult) -> list[dict[str, Any]]:
    """Return the rows of a rep's measures, without the rep's number in the log."""
    verdicts: dict[str, Verdict] = {verdict.key: verdict for verdict in result.verdicts}
    rows = []
    for key, measured in result.measurements.items():
        verdict = verdicts.get(key)
        target = None if verdict is None else verdict.target
        inside = None if verdict is None else verdict.probability_inside
        rows.append(
            {
                "key": key,
                "value": None if measured.value is None else float(measured.value),
                "u": None if measured.u is None else float(measured.u),
                "unit": measured.unit,
                "reason": None if measured.reason is None else message_document(measured.reason),
                "verdict": None if verdict is None else verdict.word,
                "verdict_side": None if verdict is None else verdict.side,
                "probability_inside": None if inside is None else float(inside),
                "target_range": None if target is None else _range_document(target),
            }
        )
    return rows


def _range_document(target: TargetRange) -> dict[str, Any]:
    if target.written is None:
        return {"text": str(target.words)}
    return target.written.document()
