"""Verdicts as the report shows them: by text and marker shape, never by colour alone."""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.core.results import Measurement, RepResult, Verdict, VerdictWord
from pipeline.feedback.words import Words, listed
from pipeline.measures import MEASURES

SHAPES: dict[VerdictWord, str] = {
    "in range": "in",
    "out of range": "out",
    "too close to call": "close",
    "not measured": "none",
}
"""Marker shape of each verdict, as named in the style sheet."""


def verdict_text(words: Words, verdict: Verdict) -> str:
    """Return a verdict with its side as text."""
    return words.verdict(verdict.word, verdict.side)


def verdict_of(result: RepResult, key: str) -> Verdict | None:
    """Return the verdict of a rep on one measure; None without a target range."""
    return next((v for v in result.verdicts if v.key == key and v.target is not None), None)


def in_order(keys: Sequence[str]) -> list[str]:
    """Sort keys of measures as in the table; unknown keys come last."""
    known = list(MEASURES)
    return sorted(keys, key=lambda key: known.index(key) if key in MEASURES else len(known))


def by_move(results: Sequence[RepResult]) -> dict[str, list[RepResult]]:
    """Group reps by move, in the order in which the moves first appear."""
    moves = dict.fromkeys(result.rep.move for result in results)
    return {move: [r for r in results if r.rep.move == move] for move in moves}


def value_of(measurement: Measurement | None) -> float | None:
    """Return the value of a measurement; None without a measurement or a value."""
    return None if measurement is None else measurement.value


def reps_text(words: Words, indices: Sequence[int]) -> str:
    """Return a list of reps as text: ``rep 2`` or ``reps 2 and 4``."""
    name = "one_rep" if len(indices) == 1 else "many_reps"
    return words.cautions[name].format(list=listed(words, indices))
