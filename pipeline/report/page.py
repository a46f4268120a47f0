"""The report page: one file that opens from disk, on a phone and on paper, with no script."""

from __future__ import annotations

import base64
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline import __version__
from pipeline.measures.table import MEASURES
from pipeline.report.facts import facts_of
from pipeline.report.session_section import session_section
from pipeline.result_types import (
    Analysis,
    Measurement,
    RepResult,
    TargetRange,
    Verdict,
    VerdictWord,
)
from pipeline.sources import dominant_source
from pipeline.words import (
    Words,
    load_words,
    plain_number,
    raised,
    say_number,
    say_range,
    say_rep,
)

if TYPE_CHECKING:
    from jinja2 import Template

TEMPLATES = Path(__file__).parent / "templates"

REPS_PER_TABLE = 5
"""Columns of the table over all reps that fit on a sheet of paper."""

# A name for the style sheet, the drawn shape and the word: never colour alone.
_SHAPES: Mapping[VerdictWord, str] = {
    "in range": "in",
    "out of range": "out",
    "too close to call": "close",
    "not measured": "none",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line of the table of a rep, all in words.

    Attributes
    ----------
    title, number, range_words, reason
        Name of the measure; value with its give or take, or why there is none; range.
    word, shape
        Verdict and the name of its shape; empty without a range.
    strip
        Where the value and the range lie on a drawn line; None if there is nothing to draw.
    unsure
        What makes the number unsure most, and what to do about it; empty if it was not asked for.
    """

    title: str
    number: str
    range_words: str
    reason: str
    word: str
    shape: str
    strip: Strip | None
    unsure: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """A value and a range on a line from 0 to 100.

    Attributes
    ----------
    low, high
        The range.
    start, stop
        The 95 % interval of the value.
    value
        The best estimate.
    """

    low: float
    high: float
    start: float
    stop: float
    value: float


def render_page(analysis: Analysis, pictures: Mapping[int, bytes]) -> str:
    """Write the report page.

    Parameters
    ----------
    analysis
        The result for one clip.
    pictures
        By the index of the rep: an encoded JPEG or PNG, put into the page itself.

    Returns
    -------
    str
        HTML.
    """
    return "".join(page_parts(analysis, pictures))


def page_parts(analysis: Analysis, pictures: Mapping[int, bytes]) -> Iterator[str]:
    """Give the report page piece by piece: that of a long film holds many pictures.

    Parameters
    ----------
    analysis, pictures
        As for `render_page`.

    Returns
    -------
    iterator of str
        Pieces of HTML in order.
    """
    words = load_words()
    has_lens = analysis.scene.lens is not None
    reps = [_rep_view(words, result, pictures, has_lens=has_lens) for result in analysis.reps]
    return _template().generate(
        clip_name=analysis.clip.path.name,
        summary=_summary(words, analysis),
        cautions=[caution.text for caution in analysis.cautions],
        session=session_section(words, analysis.session),
        reps=reps,
        tables=_tables_over_reps(words, analysis),
        grade=analysis.scene.grade,
        grade_words=words.grades[analysis.scene.grade],
        notes=(*analysis.scene.notes, *analysis.notes),
        sources=_sources(analysis),
        facts=facts_of(analysis),
        version=__version__,
    )


@lru_cache(maxsize=1)
def _template() -> Template:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template("report.html")


def _summary(words: Words, analysis: Analysis) -> str:
    found = words.say_found(analysis.move, [result.rep.move for result in analysis.reps])
    return f"{raised(found)} found in {_length(analysis)} of film."


def _length(analysis: Analysis) -> str:
    time_s = analysis.clip.time_s
    seconds = float(time_s[-1] - time_s[0]) if time_s.size else 0.0
    return f"{seconds:.1f} s" if seconds < 100 else f"{seconds / 60:.1f} min"


def _rep_view(
    words: Words, result: RepResult, pictures: Mapping[int, bytes], *, has_lens: bool
) -> dict[str, object]:
    rep = result.rep
    verdicts = {verdict.key: verdict for verdict in result.verdicts}
    measured = [key for key in MEASURES if key in result.measurements]
    measured += [key for key in result.measurements if key not in MEASURES]
    # First what has a range, for that is what the words above the table speak of.
    measured.sort(key=lambda key: key not in verdicts or verdicts[key].target is None)
    picture = pictures.get(rep.index)
    named = words.move_name(rep.move)
    if rep.move != "unknown":
        named = f"{named}, by the look of it ({100 * rep.move_probability:.0f} % sure)"
    return {
        "index": rep.index,
        "move": "" if rep.move_by == "told" else named,
        "when": say_rep(rep, result.field_side),
        "feedback": result.feedback,
        "cautions": [caution.text for caution in result.cautions],
        "picture": None if picture is None else _data_uri(picture),
        "alt": f"Rep {rep.index}: the player with the joints and the measures drawn on the film. "
        "The numbers are in the table of this rep.",
        "rows": [
            _row(words, result.measurements[k], verdicts.get(k), has_lens=has_lens)
            for k in measured
        ],
    }


def _row(words: Words, measurement: Measurement, verdict: Verdict | None, *, has_lens: bool) -> Row:
    target = None if verdict is None else verdict.target
    has_value = measurement.value is not None
    word = "" if verdict is None else _word(verdict)
    return Row(
        title=_title(measurement.key),
        number=say_number(words, measurement) if has_value else "",
        range_words="" if target is None else say_range(words, target),
        reason=measurement.reason or "",
        word=word,
        shape="" if verdict is None else _SHAPES[verdict.word],
        strip=_strip(measurement, target),
        unsure=_unsure(words, measurement, has_lens=has_lens),
    )


def _unsure(words: Words, measurement: Measurement, *, has_lens: bool) -> str:
    source = dominant_source(measurement.sources or {})
    if source is None:
        return ""
    # Nobody is told to measure a lens that was measured.
    return words.sources["lens_known" if source == "lens" and has_lens else source]


def _word(verdict: Verdict) -> str:
    return f"{verdict.word}, {verdict.side}" if verdict.side else verdict.word


def _title(key: str) -> str:
    return MEASURES[key].title if key in MEASURES else key.replace("_", " ")


def _strip(measurement: Measurement, target: TargetRange | None) -> Strip | None:
    """Place value and range on a line; an open side of the range runs to the end of it."""
    if measurement.value is None or target is None:
        return None
    value = measurement.value
    start, stop = measurement.interval95 or (value, value)
    low = target.low if target.low is not None else -float("inf")
    high = target.high if target.high is not None else float("inf")
    points = [start, stop, *(bound for bound in (low, high) if abs(bound) != float("inf"))]
    margin = 0.2 * (max(points) - min(points)) or 1.0
    left, right = min(points) - margin, max(points) + margin

    def at(x: float) -> float:
        return round(100.0 * (min(max(x, left), right) - left) / (right - left), 1)

    return Strip(low=at(low), high=at(high), start=at(start), stop=at(stop), value=at(value))


def _tables_over_reps(words: Words, analysis: Analysis) -> list[dict[str, object]]:
    """One table for every few reps of one move: measures down, reps across."""
    tables = []
    for move in dict.fromkeys(result.rep.move for result in analysis.reps):
        reps = [result for result in analysis.reps if result.rep.move == move]
        if len(reps) < 2:
            continue
        keys = list(dict.fromkeys(key for result in reps for key in result.measurements))
        keys.sort(key=lambda key: list(MEASURES).index(key) if key in MEASURES else len(MEASURES))
        for start in range(0, len(reps), REPS_PER_TABLE):
            table = _table(words, keys, reps[start : start + REPS_PER_TABLE])
            named = "" if analysis.move else f"{raised(words.move_name(move))}, reps"
            tables.append(table | {"named": named or "Reps"})
    return tables


def _table(words: Words, keys: Sequence[str], reps: Sequence[RepResult]) -> dict[str, object]:
    rows = []
    for key in keys:
        cells = []
        for result in reps:
            measurement = result.measurements.get(key)
            verdict = next((v for v in result.verdicts if v.key == key), None)
            value = None if measurement is None else measurement.value
            cells.append(
                {
                    "number": "" if value is None else plain_number(key, value),
                    "word": "not measured" if value is None else _word(verdict) if verdict else "",
                    "shape": "none" if value is None else _SHAPES[verdict.word] if verdict else "",
                }
            )
        unit = words.units[MEASURES[key].unit_word] if key in MEASURES else ""
        rows.append({"title": _title(key), "unit": unit, "cells": cells})
    return {"indices": [result.rep.index for result in reps], "rows": rows}


def _sources(analysis: Analysis) -> list[str]:
    """Who set the ranges and on what ground, each said once."""
    targets = (v.target for result in analysis.reps for v in result.verdicts if v.target)
    return list(dict.fromkeys(f"{raised(t.set_by)}: {t.why}." for t in targets))


def _data_uri(picture: bytes) -> str:
    kind = "png" if picture.startswith(b"\x89PNG") else "jpeg"
    return f"data:image/{kind};base64,{base64.b64encode(picture).decode('ascii')}"
