"""Tables over all reps of a move: the numbers behind the charts, as text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.core.results import Analysis, RepResult
from pipeline.feedback.words import Words, column_unit, plain_number, raised
from pipeline.report.verdict_marks import (
    SHAPES,
    by_move,
    in_order,
    value_of,
    verdict_of,
    verdict_text,
)

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
