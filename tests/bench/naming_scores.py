"""Holds found and named reps against the true ones: segmental F1, confusion, calibration.

References
----------
.. [1] C. Lea, M. D. Flynn, R. Vidal, A. Reiter, G. D. Hager, "Temporal Convolutional Networks for
   Action Segmentation and Detection", *CVPR* 2017, 156-165 (the F1 of segments at an overlap).
.. [2] C. Guo, G. Pleiss, Y. Sun, K. Q. Weinberger, "On Calibration of Modern Neural Networks",
   *ICML* 2017, 1321-1330 (expected calibration error).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from tests.bench.scoring import overlap_over_union
from tests.bench.segment_scores import Segment as LabelledSegment
from tests.bench.segment_scores import expected_calibration_error, segmental_f1

UNKNOWN, NONE = "unknown", "none"
OVERLAPS = (0.10, 0.25, 0.50)
PAIRED = 0.25
"""A found rep is held against the true one with which it shares at least this of the union."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Segment:
    """A rep, true or found: window in s, move, and the probability that was stated for it."""

    start_s: float
    stop_s: float
    move: str
    probability: float = 1.0

    @property
    def window(self) -> tuple[float, float]:
        """Start and stop."""
        return self.start_s, self.stop_s


@dataclass(frozen=True, slots=True, kw_only=True)
class Film:
    """True and found reps of one film of some length."""

    name: str
    duration_s: float
    true: Sequence[Segment]
    found: Sequence[Segment]


def segmental_counts(film: Film, overlap: float, *, by_move: bool = True) -> tuple[int, int, int]:
    """True positives, false positives and false negatives of one film [1]_."""

    def labelled(segments: Sequence[Segment]) -> list[LabelledSegment]:
        return [
            LabelledSegment(one.start_s, one.stop_s, one.move if by_move else "")
            for one in segments
        ]

    counts = segmental_f1(labelled(film.true), labelled(film.found), overlap)
    return counts.true_positive, counts.false_positive, counts.false_negative


def f1(films: Sequence[Film], overlap: float, *, by_move: bool = True) -> float:
    """F1 of all segments of all films at an overlap; NaN where there is nothing."""
    counts = np.sum([segmental_counts(film, overlap, by_move=by_move) for film in films], axis=0)
    right, wrong, missed = (int(count) for count in counts)
    whole = 2 * right + wrong + missed
    return 2 * right / whole if whole else float("nan")


def pairs(film: Film) -> list[tuple[Segment | None, Segment | None]]:
    """Pair true and found segments by their overlap, whatever their moves; None = no partner."""
    shares = sorted(
        (
            (overlap_over_union(true.window, found.window), i, j)
            for i, true in enumerate(film.true)
            for j, found in enumerate(film.found)
        ),
        reverse=True,
    )
    partner: dict[int, int] = {}
    for share, i, j in shares:
        if share >= PAIRED and i not in partner and j not in partner.values():
            partner[i] = j
    paired: list[tuple[Segment | None, Segment | None]] = [
        (true, film.found[partner[i]] if i in partner else None) for i, true in enumerate(film.true)
    ]
    return paired + [
        (None, found) for j, found in enumerate(film.found) if j not in partner.values()
    ]


def taught_f1(films: Sequence[Film], overlap: float) -> float:
    """F1 of finding the reps of known moves; a found rep on a true one of another move is neither.

    A rep of a move that was never taught is not asked for: that it is found is no mistake, and that
    it is left alone is none either.
    """
    foreign = [replace(film, true=[t for t in film.true if t.move == UNKNOWN]) for film in films]
    asked = []
    for film, other in zip(films, foreign, strict=True):
        on_foreign = [found for true, found in pairs(other) if true is not None]
        true = [segment for segment in film.true if segment.move != UNKNOWN]
        found = [segment for segment in film.found if segment not in on_foreign]
        asked.append(replace(film, true=true, found=found))
    return f1(asked, overlap, by_move=False)


def confusion(films: Sequence[Film]) -> dict[str, dict[str, int]]:
    """Count by true move and found move; ``none`` where there was no partner."""
    counts: dict[str, dict[str, int]] = {}
    for film in films:
        for true, found in pairs(film):
            row = counts.setdefault(NONE if true is None else true.move, {})
            column = NONE if found is None else found.move
            row[column] = row.get(column, 0) + 1
    return counts


def stated_and_right(films: Sequence[Film]) -> tuple[list[float], list[bool]]:
    """Give the stated probability of each found rep and whether its move was right."""
    stated, right = [], []
    for film in films:
        for true, found in pairs(film):
            if found is not None:
                stated.append(found.probability)
                right.append(true is not None and true.move == found.move)
    return stated, right


def summed_up(films: Sequence[Film]) -> dict[str, float]:
    """Every figure of a set of films by its name."""
    counts = confusion(films)
    named = {move: row for move, row in counts.items() if move not in (UNKNOWN, NONE)}
    found_named = sum(sum(row.values()) - row.get(NONE, 0) for row in named.values())
    named_right = sum(row.get(move, 0) for move, row in named.items())
    foreign = counts.get(UNKNOWN, {})
    n_foreign = sum(foreign.values())
    stated, right = stated_and_right(films)
    minutes = sum(film.duration_s for film in films) / 60.0
    return {
        "films": len(films),
        "minutes": minutes,
        "true_reps": sum(len(film.true) for film in films),
        **{f"f1_at_{round(100 * k)}": f1(films, k) for k in OVERLAPS},
        **{f"finding_f1_at_{round(100 * k)}": f1(films, k, by_move=False) for k in OVERLAPS},
        **{f"taught_f1_at_{round(100 * k)}": taught_f1(films, k) for k in OVERLAPS},
        "named_right_of_found": named_right / found_named if found_named else float("nan"),
        "foreign_not_named": 1.0 - sum(
            n for move, n in foreign.items() if move not in (UNKNOWN, NONE)
        ) / n_foreign if n_foreign else float("nan"),
        "foreign_found_unknown": foreign.get(UNKNOWN, 0) / n_foreign if n_foreign else float("nan"),
        "calibration_error": expected_calibration_error(stated, right),
        "false_in_10_minutes": 10.0 * sum(counts.get(NONE, {}).values()) / minutes,
    }  # fmt: skip


def confusion_words(counts: dict[str, dict[str, int]]) -> str:
    """Write the confusion matrix as a table in Markdown, rows true, columns found."""
    moves = list(dict.fromkeys([*counts, *(c for row in counts.values() for c in row)]))
    moves = [m for m in moves if m not in (UNKNOWN, NONE)] + [UNKNOWN, NONE]
    short = {m: m.replace("_", " ") for m in moves}
    lines = ["| true \\ found | " + " | ".join(short[m] for m in moves) + " |"]
    lines.append("| --- |" + " ---: |" * len(moves))
    for true in moves:
        row = counts.get(true, {})
        if row:
            cells = " | ".join(str(row.get(m, "")) for m in moves)
            lines.append(f"| {short[true]} | {cells} |")
    return "\n".join(lines)
