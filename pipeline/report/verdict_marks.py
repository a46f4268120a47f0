"""Verdicts as the report shows them: a word and a shape, and what they are about; never colour."""

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
"""A name for the style sheet and the drawn shape of each verdict."""


def verdict_text(words: Words, verdict: Verdict) -> str:
    """Say a verdict with its side."""
    return words.verdict(verdict.word, verdict.side)


def verdict_of(result: RepResult, key: str) -> Verdict | None:
    """Give the verdict of a rep on one measure; None if there is no range for it."""
    return next((v for v in result.verdicts if v.key == key and v.target is not None), None)


def in_order(keys: Sequence[str]) -> list[str]:
    """Sort keys of measures as in the table; those that are not in it come last."""
    known = list(MEASURES)
    return sorted(keys, key=lambda key: known.index(key) if key in MEASURES else len(known))


def by_move(results: Sequence[RepResult]) -> dict[str, list[RepResult]]:
    """Put reps of one move together, in the order in which the moves first appear."""
    moves = dict.fromkeys(result.rep.move for result in results)
    return {move: [r for r in results if r.rep.move == move] for move in moves}


def value_of(measurement: Measurement | None) -> float | None:
    """Value of a measurement, None if there is none of either."""
    return None if measurement is None else measurement.value


def reps_text(words: Words, indices: Sequence[int]) -> str:
    """Say which reps: ``rep 2`` or ``reps 2 and 4``."""
    name = "one_rep" if len(indices) == 1 else "many_reps"
    return words.cautions[name].format(list=listed(words, indices))
