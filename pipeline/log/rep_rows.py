"""Writes the reps of an analysis into the training log, with their measures and verdicts."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import Connection, insert, select

from pipeline.log.counts import counts_of
from pipeline.log.schema import MEASURES, REPS
from pipeline.result_types import Analysis, RepResult, Verdict


def put_reps(
    connection: Connection, analysis: Analysis, shared: Mapping[str, Any], like: str | None
) -> None:
    """Write the reps of an analysis with their measures and verdicts.

    Parameters
    ----------
    connection
        To the log.
    analysis
        The reps.
    shared
        Columns that all of them have: clip, athlete, session, day.
    like
        The built-in move that a taught drill resembles; None for none.
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
        for row in measure_rows(result)
    ]
    if measures:
        connection.execute(insert(MEASURES), measures)


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


def measure_rows(result: RepResult) -> list[dict[str, Any]]:
    """Give the rows of a rep's measures, without the rep's number in the log."""
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
                "reason": measured.reason,
                "verdict": None if verdict is None else verdict.word,
                "verdict_side": None if verdict is None else verdict.side,
                "probability_inside": None if inside is None else float(inside),
                "range_words": None if target is None else target.words[:120],
            }
        )
    return rows
