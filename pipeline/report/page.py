"""Renders the report page: one HTML file without scripts, for screen and paper."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline import __version__
from pipeline.core.results import Analysis
from pipeline.feedback.words import Words, raised, words_of
from pipeline.report.charts import chart_groups
from pipeline.report.page_pictures import page_pictures
from pipeline.report.rep_section import rep_view, source_text
from pipeline.report.session_section import session_section
from pipeline.report.summary import facts_of, summary_blocks
from pipeline.report.tables import range_sources, tables_over_reps
from pipeline.report.templates import page_templates
from pipeline.report.timing import timings
from pipeline.scene.uncertainty import dominant_source

if TYPE_CHECKING:
    from jinja2 import Template

TEMPLATES = Path(__file__).parent / "templates"


def render_page(analysis: Analysis, pictures: Mapping[int, bytes]) -> str:
    """Render the report page as one text.

    Parameters
    ----------
    analysis
        The result for one clip.
    pictures
        Encoded JPEG or PNG by index of the rep; embedded in the page.

    Returns
    -------
    str
        HTML.
    """
    return "".join(page_parts(analysis, pictures))


def page_parts(analysis: Analysis, pictures: Mapping[int, bytes]) -> Iterator[str]:
    """Render the report page piece by piece, so that memory stays small for a long film.

    Parameters
    ----------
    analysis, pictures
        As for `render_page`.

    Returns
    -------
    iterator of str
        Pieces of HTML in order.
    """
    words = words_of(analysis)
    fitted = page_pictures(pictures)
    return _template().generate(
        texts=words.report,
        language=words.language,
        clip_name=analysis.clip.path.name,
        summary=_summary(words, analysis),
        blocks=summary_blocks(words, analysis),
        cautions=[caution.text for caution in analysis.cautions],
        reps=[
            rep_view(
                words,
                result,
                fitted.get(result.rep.index),
                scene=analysis.scene,
            )
            for result in analysis.reps
        ],
        charts=chart_groups(words, analysis.reps),
        timings=timings(words, analysis.reps),
        session=session_section(words, analysis.session),
        tables=tables_over_reps(words, analysis),
        grade=analysis.scene.grade,
        grade_words=words.grades[analysis.scene.grade],
        notes=[words.translate(note) for note in (*analysis.scene.notes, *analysis.notes)],
        limits=_limits(words, analysis),
        sources=range_sources(words, analysis.reps),
        facts=facts_of(words, analysis),
        version=__version__,
    )


@lru_cache(maxsize=1)
def _template() -> Template:
    environment = page_templates(TEMPLATES)
    return environment.get_template("report.html")


def _summary(words: Words, analysis: Analysis) -> str:
    found = raised(words.found_text(analysis.move, [result.rep.move for result in analysis.reps]))
    time_s = analysis.clip.time_s
    seconds = float(time_s[-1] - time_s[0]) if time_s.size else 0.0
    if seconds < 100:
        return words.text("report.found_s", found=found, length=seconds)
    return words.text("report.found_min", found=found, length=seconds / 60)


def _limits(words: Words, analysis: Analysis) -> str:
    """Return the largest source of uncertainty of most numbers, or how to request it."""
    measured = [
        measurement
        for result in analysis.reps
        for measurement in result.measurements.values()
        if measurement.value is not None
    ]
    if not measured:
        return ""
    if all(measurement.sources is None for measurement in measured):
        return words.report["limits_ask"]
    counts = Counter(dominant_source(measurement.sources or {}) for measurement in measured)
    counts.pop(None, None)
    if not counts:
        return ""
    return source_text(words, counts.most_common(1)[0][0] or "", analysis.scene)
