"""Writes coaches' comments on a film's reps into the film's report page."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path

from sqlalchemy import Connection, select

from pipeline.core.errors import OutputError
from pipeline.feedback.words import Words
from pipeline.log.marks import ReviewMark, marks_for_report
from pipeline.log.schema import ATHLETES, CLIPS
from pipeline.report.manifest import Origin, write_recorded
from pipeline.report.page import TEMPLATES
from pipeline.report.templates import page_templates

BEGIN, END = "<!-- coach: begin -->", "<!-- coach: end -->"
_SECTION = re.compile(f"{re.escape(BEGIN)}.*?{re.escape(END)}", re.DOTALL)

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


def with_coach_section(page: str, words: Words, comments: Mapping[int, Sequence[str]]) -> str:
    """Return a report page whose coach section holds these comments.

    Parameters
    ----------
    page
        HTML from `pipeline.report.page.render_page`. A page without the section's markers is
        returned unchanged.
    words
        Texts of the section's headings.
    comments
        Comments by the number of the rep; empty removes the section.
    """
    section = _section(words, comments) if comments else ""
    return _SECTION.sub(lambda _: f"{BEGIN}{section}{END}", page, count=1)


def _section(words: Words, comments: Mapping[int, Sequence[str]]) -> str:
    environment = page_templates(TEMPLATES)
    reps = [
        (index, words.text("report.rep", index=index), comments[index])
        for index in sorted(comments)
    ]
    html = environment.get_template("coach.html").render(
        title=words.text("review.coach_says"), reps=reps
    )
    # A comment must not contain the section's own markers.
    return html.replace("<!--", "&lt;!--")
