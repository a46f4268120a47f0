"""A rep with the changes of people: what is shown of it, and what is kept when one is made."""

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
from pipeline.targets.verdicts import judged
from pipeline.web.review.clip_cache import KeptClip, shared, targets_now
from pipeline.web.review.context import ReviewContext
from pipeline.web.review.film_times import filmed
from pipeline.web.review.measure_rows import NumberRow, logged_result, number_rows
from pipeline.web.review.recent_reps import read_last
from pipeline.web.review.remeasure import Remeasured
from pipeline.web.review.rep_edits import RepEdit, change_of, standing

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from pipeline.log.store import TrainingLog

SAME_REP = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class RepState:
    """A rep as it is now.

    Attributes
    ----------
    found
        As the program found it.
    now
        With the changes that stand.
    rows
        Its numbers in words.
    kept
        The changes in this rep, and in this film's joints and feet, newest first.
    """

    found: Rep
    now: Remeasured
    rows: Sequence[NumberRow]
    kept: Sequence[StoredChange]


def state_of(log: TrainingLog, words: Words, clip: KeptClip, row: Mapping[str, Any]) -> RepState:
    """Measure a rep as it is now; what the log says of it is brought up to date if it is not."""
    found = clip.rep_of(row)
    with log.reading() as connection:
        kept = _kept_of(connection, row, found)
    now = clip.measured(found, _standing(kept))
    return _written(log, words, clip, row, found, now, kept)


def changed(
    context: ReviewContext, clip: KeptClip, row: Mapping[str, Any], change: RepEdit
) -> RepState:
    """Make a change, keep it, and measure the rep with it.

    Raises
    ------
    ReviewError
        It cannot be made; nothing is kept then.
    """
    found = clip.rep_of(row)
    with context.log.reading() as connection:
        kept = _kept_of(connection, row, found)
    stood = _standing(kept)
    before = clip.measured(found, stood)
    now = clip.measured(found, standing((*stood, change)))
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
        kept = _kept_of(connection, row, found)
    return _written(context.log, context.words, clip, row, found, now, kept)


def undone(
    context: ReviewContext, clip: KeptClip, row: Mapping[str, Any], change_id: int
) -> RepState:
    """Take a change back; raises `LogError` if there is none of that number that stands."""
    with context.log.writing() as connection:
        at = datetime.now(tz=timezone.utc)
        undo_change(connection, row["clip_id"], change_id, by=context.by, at=at)
    return state_of(context.log, context.words, clip, row)


def _kept_of(connection: Connection, row: Mapping[str, Any], found: Rep) -> list[StoredChange]:
    """Read the changes that were made in a rep, oldest first."""
    window = (float(found.start_frame), float(found.stop_frame))
    return [
        kept
        for kept in changes_of(connection, row["clip_id"])
        if shared((float(kept.start_frame), float(kept.stop_frame)), window) >= SAME_REP
    ]


def _standing(kept: Sequence[StoredChange]) -> tuple[RepEdit, ...]:
    return standing(change_of(json.loads(one.after)) for one in kept if not one.undone)


def _before(clip: KeptClip, before: Remeasured, change: RepEdit) -> dict[str, Any]:
    """Tell how what is changed was before."""
    if change.kind == "event":
        event = before.rep.events[change.name]
        return {"frame": event.frame, "time_s": event.time_s, "u_s": event.u_s}
    if change.kind == "joint":
        tracks = filmed(clip.seen, before.smooth)
        at_px = tracks.image_px[change.person, change.frame, JOINTS.index(change.name)]
        return {"at_px": [round(v, 2) if math.isfinite(v) else None for v in at_px.tolist()]}
    foot = ("left", "right").index(change.name)
    return {"stands": bool(before.people[0].contact[change.frame, foot])}


def _written(
    log: TrainingLog,
    words: Words,
    clip: KeptClip,
    row: Mapping[str, Any],
    found: Rep,
    now: Remeasured,
    kept: Sequence[StoredChange],
) -> RepState:
    """Bring the log up to date where people changed something, and put all of it in words."""
    result = RepResult(
        rep=now.rep,
        measurements=now.measurements,
        verdicts=judged(now.rep, now.measurements, targets_now(clip.settings), clip.settings),
        feedback=(),
        cautions=(),
    )
    with log.reading() as connection:
        # Without any change the log holds what the analysis said.
        is_old = bool(kept) and _differ(logged_result(connection, row), result, now.by_coach)
    if is_old:
        with log.writing() as connection:
            put_measures(connection, row["id"], result, sorted(now.by_coach), words.weight_of)
    with log.reading() as connection:
        past = read_last(connection, row)
    rows = number_rows(words, result, past, scene=clip.seen.scene, by_coach=now.by_coach)
    return RepState(found=found, now=now, rows=rows, kept=list(kept)[::-1])


def _differ(
    logged: tuple[RepResult, frozenset[str]], result: RepResult, by_coach: frozenset[str]
) -> bool:
    """Tell whether the log holds other numbers than a rep has now."""

    def numbers(one: RepResult) -> dict[str, tuple[float | None, float | None]]:
        return {key: (m.value, m.u) for key, m in one.measurements.items()}

    return logged[1] != by_coach or numbers(logged[0]) != numbers(result)
