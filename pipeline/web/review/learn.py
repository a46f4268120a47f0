"""Turns a coach's marks into corrections, and retrains the classifier of moves."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, select

from models.moves.classifier import NOT_A_REP
from pipeline.core.errors import CrossemetryError
from pipeline.core.files import locked, made_folder
from pipeline.log.marks import UNDO, MarkedRep, ReviewMark, as_mark, standing
from pipeline.log.schema import CLIPS, REPS, REVIEW_MARKS
from pipeline.log.store import TrainingLog
from pipeline.teaching.correct import CorrectionRequest, correct, retrain
from pipeline.teaching.corrections_store import (
    FOLDER,
    corrections_path,
    load_corrections,
    save_corrections,
)

TAUGHT = ("other_move", "not_a_rep")
"""Reasons of a disagreement that teach the classifier."""


def learn_from_marks(log: TrainingLog, *, by: str, at: str) -> dict[str, Any]:
    """Make corrections from marks in force, remove those of undone marks, and retrain.

    Parameters
    ----------
    log
        The open log.
    by, at
        Who requested it, and when (UTC, ISO 8601).

    Returns
    -------
    dict
        ``n_corrections``; ``n_failed``, the marks without a correction; ``n`` and ``n_films``, the
        held-out reps and films; ``right_before`` and ``right_after``, the correctly named held-out
        reps; ``in_force`` and ``why_not``.

    Raises
    ------
    CrossemetryError
        There is no correction, or a file cannot be written.
    """
    with log.reading() as connection:
        marks = taught_marks(connection)
        undone = _undone(connection)
    _remove_corrections(undone)
    done = {(one.clip, one.by, one.at) for one in load_corrections().made}
    n_failed = 0
    for row, mark in marks:
        signed = (row["file_digest"], mark.by, mark.at.isoformat())
        if signed not in done and not _corrected(row, mark):
            n_failed += 1
    learned = retrain(by=by, at=at, anyway=False)
    version = learned.version
    return {
        "n_corrections": version.n_corrections,
        "n_failed": n_failed,
        "n": version.n,
        "n_films": version.n_films,
        "right_before": version.right_before,
        "right_after": version.right_after,
        "in_force": learned.in_force,
        "why_not": learned.why_not,
    }


def taught_marks(connection: Connection) -> list[tuple[Mapping[Any, Any], ReviewMark]]:
    """Read the marks in force that teach moves, each with the row of its rep and clip."""
    reps = select(
        REPS, CLIPS.c.file_digest, CLIPS.c.results_path, CLIPS.c.cache_path, CLIPS.c.film_path
    ).join(CLIPS, CLIPS.c.id == REPS.c.clip_id)
    wanted = select(REVIEW_MARKS.c.clip_id).where(REVIEW_MARKS.c.why.in_(TAUGHT))
    found: list[tuple[Mapping[Any, Any], ReviewMark]] = []
    marks: dict[int, list[Mapping[Any, Any]]] = {}
    query = select(REVIEW_MARKS).where(REVIEW_MARKS.c.clip_id.in_(wanted))
    for row in connection.execute(query.order_by(REVIEW_MARKS.c.id)).mappings():
        marks.setdefault(row["clip_id"], []).append(row)
    for row in connection.execute(reps.where(REPS.c.clip_id.in_(list(marks)))).mappings():
        names = ("id", "clip_id", "number", "start_s", "stop_s", "move")
        rep = MarkedRep(**{name: row[name] for name in names})
        mine = [as_mark(m) for m in marks[rep.clip_id] if rep.holds(m)]
        found += [(row, mark) for mark in standing(mine) if mark.why in TAUGHT]
    return found


def _corrected(row: Mapping[Any, Any], mark: ReviewMark) -> bool:
    """Make a correction from a mark; returns whether it could be made."""
    if row["results_path"] is None:
        return False
    request = CorrectionRequest(
        rep=row["number"], move=mark.move or NOT_A_REP, split_at_s=None, join_with=None,
        by=mark.by, at=mark.at.isoformat(),
    )  # fmt: skip
    film = None if row["film_path"] is None else Path(row["film_path"])
    try:
        correct(
            Path(row["results_path"]) / "reps.json",
            request,
            clip_path=film if film is not None and film.is_file() else None,
            cache_dir=Path(row["cache_path"] or row["results_path"]),
        )
    except CrossemetryError:
        return False
    return True


def _undone(connection: Connection) -> set[tuple[str, str, str]]:
    """Film, author and time of undone marks that had taught moves."""
    back = select(REVIEW_MARKS.c.undoes).where(REVIEW_MARKS.c.kind == UNDO)
    query = (
        select(CLIPS.c.file_digest, REVIEW_MARKS)
        .join(CLIPS, CLIPS.c.id == REVIEW_MARKS.c.clip_id)
        .where(REVIEW_MARKS.c.why.in_(TAUGHT), REVIEW_MARKS.c.id.in_(back))
    )
    return {
        (row["file_digest"], row["by"], row["at"].isoformat())
        for row in connection.execute(query).mappings()
    }


def _remove_corrections(undone: set[tuple[str, str, str]]) -> None:
    if not undone:
        return
    made_folder(FOLDER)
    with locked(corrections_path()):
        known = load_corrections()
        remaining = tuple(one for one in known.made if (one.clip, one.by, one.at) not in undone)
        if len(remaining) < len(known.made):
            clips: Sequence[str] = [one.clip for one in remaining]
            anchors = {clip: known.anchors[clip] for clip in known.anchors if clip in clips}
            save_corrections(replace(known, made=remaining, anchors=anchors))
