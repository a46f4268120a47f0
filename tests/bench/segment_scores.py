"""Scores of labelled segments: segmental F1, edit score, calibration of probabilities."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tests.bench.scoring import overlap_over_union


@dataclass(frozen=True, slots=True)
class Segment:
    """A labelled span of time, s; the background is no segment."""

    start_s: float
    stop_s: float
    label: str


@dataclass(frozen=True, slots=True, kw_only=True)
class F1:
    """Counts of found, false and missed segments, added up over clips with ``+``."""

    true_positive: int = 0
    false_positive: int = 0
    false_negative: int = 0

    def __add__(self, other: F1) -> F1:
        return F1(
            true_positive=self.true_positive + other.true_positive,
            false_positive=self.false_positive + other.false_positive,
            false_negative=self.false_negative + other.false_negative,
        )

    @property
    def score(self) -> float:
        """F1 from 0 to 1; NaN where there was nothing to find and nothing was found."""
        all_ = 2 * self.true_positive + self.false_positive + self.false_negative
        return 2 * self.true_positive / all_ if all_ else float("nan")


def segmental_f1(truths: Sequence[Segment], found: Sequence[Segment], least_overlap: float) -> F1:
    """Segmental F1 at an overlap (Lea et al. 2017, "Temporal convolutional networks", CVPR).

    A found segment is true if the true segment of the same label that it overlaps best
    (intersection over union) is overlapped by so much and was not found before; else it is false.
    True segments that are left are missed.

    Parameters
    ----------
    truths, found
        Without the background, in order.
    least_overlap
        Share, e.g. 0.5.

    Returns
    -------
    F1
    """
    used = [False] * len(truths)
    true_positive = 0
    for segment in found:
        overlaps = [
            overlap_over_union((t.start_s, t.stop_s), (segment.start_s, segment.stop_s))
            if t.label == segment.label
            else 0.0
            for t in truths
        ]
        best = int(np.argmax(overlaps)) if overlaps else -1
        if best >= 0 and overlaps[best] >= least_overlap and not used[best]:
            used[best] = True
            true_positive += 1
    return F1(
        true_positive=true_positive,
        false_positive=len(found) - true_positive,
        false_negative=used.count(False),
    )


def edit_score(truths: Sequence[Segment], found: Sequence[Segment]) -> float:
    """Order of the labels, 0 to 1: 1 less the Levenshtein distance over the longer row (ibid.)."""
    a, b = [t.label for t in truths], [s.label for s in found]
    row = np.arange(len(b) + 1)
    for i, label in enumerate(a, start=1):
        above, row = row, np.full(len(b) + 1, i)
        for j, other in enumerate(b, start=1):
            row[j] = min(above[j] + 1, row[j - 1] + 1, above[j - 1] + (label != other))
    longest = max(len(a), len(b))
    return 1.0 - float(row[-1]) / longest if longest else 1.0


def expected_calibration_error(
    probabilities: Sequence[float], right: Sequence[bool], n_bins: int = 10
) -> float:
    """Mean gap between stated probability and share right, over equal bins of probability.

    Guo et al. 2017, "On calibration of modern neural networks", ICML, section 2; weighted by the
    number in each bin.
    """
    stated, hit = np.asarray(probabilities, dtype=float), np.asarray(right, dtype=float)
    if stated.size == 0:
        return float("nan")
    bins = np.minimum((stated * n_bins).astype(int), n_bins - 1)
    gaps = [
        (bins == k).mean() * abs(hit[bins == k].mean() - stated[bins == k].mean())
        for k in np.unique(bins)
    ]
    return float(np.sum(gaps))
