"""Reads reps with measures and verdicts back from the training log."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, cast

from sqlalchemy import Connection, select

from pipeline.core.messages import message_of
from pipeline.core.results import Measurement, RepResult, TargetRange, Verdict
from pipeline.core.types import Rep
from pipeline.core.written_range import written_range_of
from pipeline.log.schema import MEASURES
from pipeline.targets.lookup import written_target

if TYPE_CHECKING:
    from pipeline.core.results import VerdictWord

BY_COACH = "coach"
"""Source of a number that depends on a person's correction."""


def stored_range(key: str, document: Mapping[str, Any]) -> TargetRange:
    """Return a target range from the stored value of the column ``target_range``."""
    if "text" not in document:
        return written_target(key, written_range_of(document))
    return TargetRange(
        key=key, unit="", low=None, high=None, words=document["text"], set_by="", why=""
    )


def logged_result(
    connection: Connection, rep: Mapping[Any, Any]
) -> tuple[RepResult, frozenset[str]]:
    """Read a rep's numbers from the log, and the keys of those that depend on an edit."""
    query = select(MEASURES).where(MEASURES.c.rep_id == rep["id"])
    rows = connection.execute(query).mappings().all()
    coach = frozenset(row["key"] for row in rows if row["source"] == BY_COACH)
    return result_of_rows(rep, rows), coach


def result_of_rows(rep: Mapping[Any, Any], rows: Sequence[Mapping[Any, Any]]) -> RepResult:
    """Make a rep of its row in the log and the rows of its measures.

    Bounds in parts of a length stay words: the log holds ranges as they were written.
    """
    measurements, verdicts = {}, []
    for row in rows:
        key, has_value = row["key"], row["value"] is not None
        measurements[key] = Measurement(
            key=key,
            unit=row["unit"],
            value=row["value"],
            u=row["u"],
            reason=None if has_value else message_of(row["reason"] or {"text": "-"}),
        )
        if row["verdict"] is None:
            continue
        target = stored_range(key, row["target_range"]) if row["target_range"] else None
        verdicts.append(
            Verdict(
                key=key,
                word=cast("VerdictWord", row["verdict"]),
                side=row["verdict_side"],
                probability_inside=row["probability_inside"],
                target=target,
            )
        )
    return RepResult(
        rep=Rep(
            index=rep["number"], start_s=rep["start_s"], stop_s=rep["stop_s"], start_frame=0,
            stop_frame=0, move=rep["move"], stick_hand=rep["hand"],
            move_probability=rep["move_probability"],
        ),
        measurements=measurements,
        verdicts=tuple(verdicts),
        feedback=(),
        cautions=(),
    )  # fmt: skip
