"""Writes what coaches said of a film's reps into the report that lies in the film's results."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import Connection, select

from pipeline.core.errors import OutputError
from pipeline.feedback.words import Words
from pipeline.log.marks import ReviewMark, marks_for_report
from pipeline.log.schema import ATHLETES, CLIPS
from pipeline.report.coach_section import with_coach_section
from pipeline.report.manifest import Origin
from pipeline.report.recording import write_recorded

TOLD = ("note", "cue", "disagree")
"""What a player is told; that a coach agrees goes without saying."""


def coach_comments(connection: Connection, words: Words, digest: str) -> dict[int, list[str]]:
    """Say what coaches said of the reps of a film, by the number of the rep.

    Parameters
    ----------
    connection
        To the log.
    words
        In which it is said.
    digest
        Of the film's file.
    """
    found = {
        number: [_said(words, mark) for mark in marks if mark.kind in TOLD]
        for number, marks in marks_for_report(connection, digest).items()
    }
    return {number: said for number, said in found.items() if said}


def put_marks_into_report(connection: Connection, words: Words, clip_id: int) -> bool:
    """Write what coaches said into the report of a film, if it is there.

    Returns
    -------
    bool
        Whether the report was changed.

    Raises
    ------
    OutputError
        It cannot be written.
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


def _said(words: Words, mark: ReviewMark) -> str:
    if mark.kind in ("note", "cue"):
        return mark.text or ""
    about = words.title(mark.measure) if mark.measure else words.text("review.this_rep")
    why = words.text(f"review.why_{mark.why}")
    if mark.move:
        why = words.text("review.why_is_move", move=words.move_name(mark.move))
    said = words.text("review.put_right", about=about, why=why)
    return words.text("review.with_text", said=said, text=mark.text) if mark.text else said
