"""Applies the stored edits of a film to its new numbers after a new analysis."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import select

from pipeline.core.errors import ReviewError
from pipeline.feedback.words import Words
from pipeline.log.rep_edits import changes_of
from pipeline.log.schema import REPS
from pipeline.web.review.clip_cache import load_clip
from pipeline.web.review.context import rep_row
from pipeline.web.review.rep_state import state_of

if TYPE_CHECKING:
    from pipeline.log.store import TrainingLog


def reapply_edits(log: TrainingLog, words: Words, clip_id: int, cache: Path) -> int:
    """Measure the reps of a film again with the edits in force, if there are any.

    Parameters
    ----------
    log
        The open log, with the film's new reps.
    words
        For the weights of the measures.
    clip_id
        Of the film.
    cache
        Folder of the cached landmarks.

    Returns
    -------
    int
        Number of reps whose numbers depend on an edit.
    """
    with log.reading() as connection:
        if all(change.undone for change in changes_of(connection, clip_id)):
            return 0
        numbers = connection.execute(select(REPS.c.number).where(REPS.c.clip_id == clip_id))
        rows = [rep_row(connection, clip_id, number) for number in numbers.scalars().all()]
    n_reps = 0
    clip = None
    for row in rows:
        if row is None:
            continue
        try:
            clip = load_clip(row, cache) if clip is None else clip
            n_reps += bool(state_of(log, words, clip, row).now.by_coach)
        except ReviewError:  # other reps may still be found
            continue
    return n_reps
