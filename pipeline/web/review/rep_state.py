"""State of a rep with people's edits; makes and undoes edits in the log."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timezone
from typing import TYPE_CHECKING, Any

from pipeline.core.results import RepResult
from pipeline.core.types import JOINTS, Rep
from pipeline.feedback.words import Words
from pipeline.log.rep_edits import (
    StoredChange,
    add_change,
    changes_of,
    undo_change,
)
from pipeline.log.rep_rows import put_measures
from pipeline.log.stored_reps import logged_result
from pipeline.targets.verdicts import judged
from pipeline.web.review.clip_cache import CachedClip, shared, targets_now
from pipeline.web.review.context import ReviewContext
from pipeline.web.review.film_times import tracks_on_film
from pipeline.web.review.measure_rows import NumberRow, number_rows
from pipeline.web.review.recent_reps import read_last
from pipeline.web.review.remeasure import Remeasured
from pipeline.web.review.rep_edits import RepEdit, edits_in_force, parse_edit

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from pipeline.log.store import TrainingLog

SAME_REP = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class RepState:
    """A rep in its present state.

    Attributes
    ----------
    found
        The rep as detected.
    now
        The rep with the edits in force.
    rows
        Rows of its numbers.
    edits
        Edits of this rep, newest first.
    """

    found: Rep
    now: Remeasured
    rows: Sequence[NumberRow]
    edits: Sequence[StoredChange]


def state_of(log: TrainingLog, words: Words, clip: CachedClip, row: Mapping[str, Any]) -> RepState:
    """Measure a rep with its edits in force, and update the log if its numbers differ."""
    found = clip.rep_of(row)
    with log.reading() as connection:
        edits = _edits_of(connection, row, found)
    now = clip.measured(found, _in_force(edits))
    return _written(log, words, clip, row, found, now, edits)


def make_edit(
    context: ReviewContext, clip: CachedClip, row: Mapping[str, Any], change: RepEdit
) -> RepState:
    """Make an edit, store it, and measure the rep with it.

    Raises
    ------
    ReviewError
        The edit does not fit; nothing is stored then.
    """
    found = clip.rep_of(row)
    with context.log.reading() as connection:
        edits = _edits_of(connection, row, found)
    in_force = _in_force(edits)
    before = clip.measured(found, in_force)
    now = clip.measured(found, edits_in_force((*in_force, change)))
    entry = {
        "rep_number": row["number"],
        "start_frame": found.start_frame,
        "stop_frame": found.stop_frame,
        "kind": change.kind,
        "before": json.dumps(_before(clip, before, change)),
        "after": change.text(),
        "by": context.by,
        "at": datetime.now(tz=timezone.utc),
    }
    with context.log.writing() as connection:
        add_change(connection, row["clip_id"], entry)
        edits = _edits_of(connection, row, found)
    return _written(context.log, context.words, clip, row, found, now, edits)


def undo_edit(
    context: ReviewContext, clip: CachedClip, row: Mapping[str, Any], change_id: int
) -> RepState:
    """Undo an edit; raises `LogError` if no edit of that number is in force."""
    with context.log.writing() as connection:
        at = datetime.now(tz=timezone.utc)
        undo_change(connection, row["clip_id"], change_id, by=context.by, at=at)
    return state_of(context.log, context.words, clip, row)


def _edits_of(connection: Connection, row: Mapping[str, Any], found: Rep) -> list[StoredChange]:
    """Read the edits of a rep, oldest first."""
    window = (float(found.start_frame), float(found.stop_frame))
    return [
        edits
        for edits in changes_of(connection, row["clip_id"])
        if shared((float(edits.start_frame), float(edits.stop_frame)), window) >= SAME_REP
    ]


def _in_force(edits: Sequence[StoredChange]) -> tuple[RepEdit, ...]:
    return edits_in_force(parse_edit(json.loads(one.after)) for one in edits if not one.undone)


def _before(clip: CachedClip, before: Remeasured, change: RepEdit) -> dict[str, Any]:
    """State of the edited event, joint or foot before the edit."""
    if change.kind == "event":
        event = before.rep.events[change.name]
        return {"frame": event.frame, "time_s": event.time_s, "u_s": event.u_s}
    if change.kind == "joint":
        tracks = tracks_on_film(clip.placed, before.smooth)
        at_px = tracks.image_px[change.person, change.frame, JOINTS.index(change.name)]
        return {"at_px": [round(v, 2) if math.isfinite(v) else None for v in at_px.tolist()]}
    foot = ("left", "right").index(change.name)
    return {"stands": bool(before.people[0].contact[change.frame, foot])}


def _written(
    log: TrainingLog,
    words: Words,
    clip: CachedClip,
    row: Mapping[str, Any],
    found: Rep,
    now: Remeasured,
    edits: Sequence[StoredChange],
) -> RepState:
    """Judge a rep, update the log if an edit changes its numbers, and make its rows."""
    result = RepResult(
        rep=now.rep,
        measurements=now.measurements,
        verdicts=judged(now.rep, now.measurements, targets_now(clip.settings), clip.settings),
        feedback=(),
        cautions=(),
    )
    with log.reading() as connection:
        # Without any edit the log holds the numbers of the analysis.
        is_old = bool(edits) and _differ(logged_result(connection, row), result, now.by_coach)
    if is_old:
        with log.writing() as connection:
            put_measures(connection, row["id"], result, sorted(now.by_coach), words.weight_of)
    with log.reading() as connection:
        past = read_last(connection, row)
    rows = number_rows(words, result, past, scene=clip.placed.scene, by_coach=now.by_coach)
    return RepState(found=found, now=now, rows=rows, edits=list(edits)[::-1])


def _differ(
    logged: tuple[RepResult, frozenset[str]], result: RepResult, by_coach: frozenset[str]
) -> bool:
    """Whether the logged numbers differ from the present ones."""

    def numbers(one: RepResult) -> dict[str, tuple[float | None, float | None]]:
        return {key: (m.value, m.u) for key, m in one.measurements.items()}

    return logged[1] != by_coach or numbers(logged[0]) != numbers(result)
