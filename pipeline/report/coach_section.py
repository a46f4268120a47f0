"""Puts a coach's words into a report that is written already, and takes them out again."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path

from pipeline.feedback.words import Words
from pipeline.report.templates import page_templates

BEGIN, END = "<!-- coach: begin -->", "<!-- coach: end -->"
_PLACE = re.compile(f"{re.escape(BEGIN)}.*?{re.escape(END)}", re.DOTALL)


def with_coach_section(page: str, words: Words, said: Mapping[int, Sequence[str]]) -> str:
    """Give a report page with these words of the coach in it, in place of those that were there.

    Parameters
    ----------
    page
        HTML as `pipeline.report.page.render_page` wrote it; one of an older version has no place
        for a coach's words and stays as it is.
    words
        In which the section's own words are said.
    said
        By the number of the rep, what the coach said of it; empty for no section.
    """
    section = _section(words, said) if said else ""
    return _PLACE.sub(lambda _: f"{BEGIN}{section}{END}", page, count=1)


def _section(words: Words, said: Mapping[int, Sequence[str]]) -> str:
    environment = page_templates(Path(__file__).parent / "templates")
    reps = [(index, words.text("report.rep", index=index), said[index]) for index in sorted(said)]
    html = environment.get_template("coach.html").render(
        title=words.text("review.coach_says"), reps=reps
    )
    # What somebody wrote can neither end the section nor begin another one.
    return html.replace("<!--", "&lt;!--")
