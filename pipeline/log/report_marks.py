"""Writes coaches' comments on a film's reps into the film's report page."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import Connection, select

from pipeline.core.errors import OutputError
from pipeline.feedback.words import Words
from pipeline.log.marks import ReviewMark, marks_for_report
from pipeline.log.schema import ATHLETES, CLIPS
from pipeline.report.coach_section import with_coach_section
from pipeline.report.manifest import Origin, write_recorded

SHOWN_KINDS = ("note", "cue", "disagree")
"""Marks shown to the player; a coach's agreement adds nothing to the report."""


def coach_comments(connection: Connection, words: Words, digest: str) -> dict[int, list[str]]:
    """Return coaches' comments on the reps of a film, by the number of the rep.

    Parameters
    ----------
    connection
        To the log.
    words
        Phrases of the comments.
    digest
        SHA-256 of the film's file.
    """
    found = {
        number: [_comment(words, mark) for mark in marks if mark.kind in SHOWN_KINDS]
        for number, marks in marks_for_report(connection, digest).items()
    }
    return {number: comments for number, comments in found.items() if comments}


def put_marks_into_report(connection: Connection, words: Words, clip_id: int) -> bool:
    """Write coaches' comments into the report of a film, if the report exists.

    Returns
    -------
    bool
        Whether the report was changed.

    Raises
    ------
    OutputError
        The report cannot be written.
    """
    query = (
        select(CLIPS.c.results_path, CLIPS.c.file_digest, ATHLETES.c.name)
        .join(ATHLETES, ATHLETES.c.id == CLIPS.c.athlete_id)
        .where(CLIPS.c.id == clip_id)
    )
    row = connection.execute(query).first()
    if row is None or row.results_path is None:
        return False
    path = Path(row.results_path) / "report.html"
    if not path.is_file() or path.is_symlink():
        return False
    origin = Origin(made_by="report", films=(row.file_digest,), athletes=(row.name,))
    try:
        page = path.read_text(encoding="utf-8")
        new = with_coach_section(page, words, coach_comments(connection, words, row.file_digest))
        if new != page:
            write_recorded(path.parent, {path.name: [new.encode("utf-8")]}, origin)
    except (OSError, UnicodeDecodeError) as error:
        raise OutputError.of("coachs_words_not_written", file=path, why=str(error)) from error
    return new != page


def _comment(words: Words, mark: ReviewMark) -> str:
    if mark.kind in ("note", "cue"):
        return mark.text or ""
    about = words.title(mark.measure) if mark.measure else words.text("review.this_rep")
    why = words.text(f"review.why_{mark.why}")
    if mark.move:
        why = words.text("review.why_is_move", move=words.move_name(mark.move))
    comment = words.text("review.put_right", about=about, why=why)
    return words.text("review.with_text", said=comment, text=mark.text) if mark.text else comment
