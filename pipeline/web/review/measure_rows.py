"""Rows of a rep's numbers on its page, from the log or as measured again."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from pipeline.core.results import RepResult
from pipeline.core.types import Scene
from pipeline.feedback.words import Words
from pipeline.report.rep_section import Row, row_of
from pipeline.report.verdict_marks import in_order
from pipeline.web.review.recent_reps import PastValue, SmallChart, small_chart


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberRow:
    """One number of a rep as a row.

    Attributes
    ----------
    key
        Of the measure.
    row
        Texts with the verdict and the drawn line of value and range.
    by_coach
        Whether it depends on a person's edit.
    chart
        Over the last reps; None if there are too few.
    """

    key: str
    row: Row
    by_coach: bool
    chart: SmallChart | None


def number_rows(
    words: Words,
    result: RepResult,
    past: Mapping[str, Sequence[PastValue]],
    *,
    scene: Scene | None,
    by_coach: Collection[str],
) -> list[NumberRow]:
    """Make the rows: first those with a range, then the others.

    Parameters
    ----------
    words
        Texts.
    result
        The rep with its numbers and verdicts.
    past
        The last reps by measure (`recent_reps.read_last`); `result` replaces the value of this rep.
    scene
        Camera and scale; None = not available.
    by_coach
        Keys of the numbers that depend on a person's edit.
    """
    verdicts = {verdict.key: verdict for verdict in result.verdicts}
    rows = []
    for key in in_order(list(result.measurements)):
        measured = result.measurements[key]
        verdict = verdicts.get(key)
        now = PastValue(
            is_this=True,
            value=measured.value,
            u=measured.u,
            verdict=None if verdict is None or verdict.target is None else verdict.word,
        )
        values = [now if one.is_this else one for one in past.get(key, ())]
        reason = words.translate(measured.reason or "")
        row = replace(
            row_of(words, result, key, scene),
            title=words.title(key),
            reason=words.text("rep_view.not_measured", reason=reason) if reason else "",
        )
        rows.append(
            NumberRow(
                key=key, row=row, by_coach=key in by_coach, chart=small_chart(words, key, values)
            )
        )
    return sorted(rows, key=lambda row: not row.row.word)


def without_lines(rows: Sequence[NumberRow]) -> list[NumberRow]:
    """Remove the drawn lines: the log holds ranges as written, not in the measure's unit."""
    return [replace(row, row=replace(row.row, strip=None)) for row in rows]
