"""Inserts a coach's comments into a finished report page, or removes them."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path

from pipeline.feedback.words import Words
from pipeline.report.templates import page_templates

BEGIN, END = "<!-- coach: begin -->", "<!-- coach: end -->"
_SECTION = re.compile(f"{re.escape(BEGIN)}.*?{re.escape(END)}", re.DOTALL)


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
    environment = page_templates(Path(__file__).parent / "templates")
    reps = [
        (index, words.text("report.rep", index=index), comments[index])
        for index in sorted(comments)
    ]
    html = environment.get_template("coach.html").render(
        title=words.text("review.coach_says"), reps=reps
    )
    # A comment must not contain the section's own markers.
    return html.replace("<!--", "&lt;!--")
