"""Renders the report page: one HTML file without scripts, for screen and paper."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline import __version__
from pipeline.core.results import Analysis, RepResult
from pipeline.feedback.words import Words, column_unit, plain_number, raised, words_of
from pipeline.report.charts import chart_groups
from pipeline.report.page_pictures import page_pictures
from pipeline.report.rep_section import rep_view, source_text
from pipeline.report.session_section import session_section
from pipeline.report.summary import facts_of, summary_blocks
from pipeline.report.templates import page_templates
from pipeline.report.timing import timings
from pipeline.report.verdict_marks import (
    SHAPES,
    by_move,
    in_order,
    value_of,
    verdict_of,
    verdict_text,
)
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


REPS_PER_TABLE = 5
"""Columns that fit on a sheet of paper."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One rep in a row: number, verdict as text, and its marker shape; empty where missing."""

    number: str
    word: str
    shape: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportTable:
    """Table with measures as rows and reps as columns; each row is title, unit and cells."""

    caption: str
    indices: tuple[int, ...]
    rows: tuple[tuple[str, str, tuple[Cell, ...]], ...]


def tables_over_reps(words: Words, analysis: Analysis) -> list[ReportTable]:
    """Build the tables of each move with at least two reps, `REPS_PER_TABLE` reps in each."""
    tables = []
    for move, reps in by_move(analysis.reps).items():
        if len(reps) < 2:
            continue
        keys = in_order(list(dict.fromkeys(key for result in reps for key in result.measurements)))
        for start in range(0, len(reps), REPS_PER_TABLE):
            some = reps[start : start + REPS_PER_TABLE]
            indices = tuple(result.rep.index for result in some)
            name = "all_caption" if analysis.move else "all_caption_move"
            caption = words.report[name].format(
                move=raised(words.move_name(move)), first=indices[0], last=indices[-1]
            )
            rows = tuple(
                (
                    words.title(key),
                    column_unit(words, key),
                    tuple(_cell(words, key, result) for result in some),
                )
                for key in keys
            )
            tables.append(ReportTable(caption=caption, indices=indices, rows=rows))
    return tables


def _cell(words: Words, key: str, result: RepResult) -> Cell:
    value = value_of(result.measurements.get(key))
    if value is None:
        return Cell(number="", word=words.report["none"], shape="none")
    verdict = verdict_of(result, key)
    return Cell(
        number=plain_number(key, value, words),
        word="" if verdict is None else verdict_text(words, verdict),
        shape="" if verdict is None else SHAPES[verdict.word],
    )


def range_sources(words: Words, results: Sequence[RepResult]) -> list[str]:
    """Return who set the target ranges and why, each pair once."""
    targets = (v.target for result in results for v in result.verdicts if v.target)
    sources = ((words.ground(target.set_by), words.ground(target.why)) for target in targets)
    sentence = words.report["range_from"]
    return [sentence.format(set_by=raised(by), why=why) for by, why in dict.fromkeys(sources)]
