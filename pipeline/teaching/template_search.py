"""Finds where examples of a drill come again in a motion, at any tempo, by time warping.

The distance is that of Sakoe and Chiba [1]_ without slope weights: the least sum of squared
distances over all monotone pairings of the samples, and the root of it. The library dtaidistance
does the work.

References
----------
.. [1] H. Sakoe, S. Chiba, "Dynamic programming algorithm optimization for spoken word recognition",
   *IEEE Transactions on Acoustics, Speech, and Signal Processing* 26(1), 1978, 43-49.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.core.types import BoolArray, FloatArray

IntArray = npt.NDArray[np.intp]


def warped_distance(
    a: npt.ArrayLike, b: npt.ArrayLike, *, window: int | None = None, penalty: float = 0.0
) -> float:
    """Distance between two series after the best warping of their times.

    Parameters
    ----------
    a, b
        (n,) or (n, d) and (m,) or (m, d) samples; finite.
    window
        How many samples a pair may lie off the diagonal, which itself counts as one; None = any.
    penalty
        Its square is added to the sum for every step that is not diagonal.

    Returns
    -------
    float
        Root of the least sum of squared distances.

    Raises
    ------
    ValueError
        An array is empty, holds what is not finite, or the two have different columns.

    Examples
    --------
    >>> warped_distance([0.0, 1.0, 2.0], [0.0, 0.0, 1.0, 1.0, 2.0])
    0.0
    >>> warped_distance([0.0, 0.0], [3.0, 4.0], window=1)
    5.0
    """
    from dtaidistance import dtw, dtw_ndim

    one, other = _columns(a, b)
    quick = dtw.try_import_c(verbose=False)
    return float(dtw_ndim.distance(one, other, window=window, penalty=penalty, use_c=quick))


def warping_path(a: npt.ArrayLike, b: npt.ArrayLike, *, window: int | None = None) -> IntArray:
    """Pair the samples of two series by the best warping.

    Parameters
    ----------
    a, b, window
        As in `warped_distance`.

    Returns
    -------
    numpy.ndarray
        (k, 2) indices into `a` and `b`, both never falling, from the first pair to the last.

    Raises
    ------
    ValueError
        As in `warped_distance`.
    """
    from dtaidistance import dtw

    one, other = _columns(a, b)
    several = one.shape[1] > 1
    if not several:  # the library takes a single column as a flat array only
        one, other = one[:, 0], other[:, 0]
    quick = dtw.try_import_c(verbose=False)
    path = dtw.warping_path(one, other, window=window, use_ndim=several, use_c=quick)
    return np.asarray(path, dtype=np.intp)


def carried_over(path: IntArray, place: float) -> float:
    """Where a place in the first series lies in the second, by a warping path.

    Parameters
    ----------
    path
        (k, 2) from `warping_path`.
    place
        Index into the first series; between samples too.

    Returns
    -------
    float
        Index into the second series: the middle of all samples that are paired with it.

    Examples
    --------
    >>> carried_over(np.array([[0, 0], [1, 1], [1, 2], [1, 3], [2, 4]]), 1.0)
    2.0
    """
    first = np.unique(path[:, 0])
    count = np.bincount(path[:, 0])[first]
    middle = np.bincount(path[:, 0], weights=path[:, 1])[first] / count
    return float(np.interp(place, first, middle))


def _columns(a: npt.ArrayLike, b: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Both series as contiguous (n, d) doubles."""
    found = []
    for name, series in (("a", a), ("b", b)):
        values = np.ascontiguousarray(series, dtype=np.double)
        values = values[:, None] if values.ndim == 1 else values
        if values.ndim != 2 or values.size == 0:
            raise ValueError(f"{name} must have shape (n,) or (n, d), but got {np.shape(series)}")
        if not np.isfinite(values).all():
            raise ValueError(f"{name} must be finite")
        found.append(values)
    if found[0].shape[1] != found[1].shape[1]:
        raise ValueError(
            f"a and b must have the same columns, but got {found[0].shape[1]} and "
            f"{found[1].shape[1]}"
        )
    return found[0], found[1]


TEMPOS = (0.72, 0.85, 1.0, 1.18, 1.38)
"""Shares of an example's length at which it is looked for."""

WARP_SHARE = 0.12
"""How far a pair may lie off the even tempo, as a share of the length."""

FEWEST_KNOWN = 0.7
"""Share of a stretch in which the body has to have been seen."""

APART_SHARE = 0.5
"""Two finds end at least this share of the shortest example apart."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A stretch of a motion that is like an example.

    Attributes
    ----------
    start, stop
        Samples of the motion; `stop` is not included.
    example
        Which of the examples it is most like.
    distance
        Root mean square over the warped pairs.
    """

    start: int
    stop: int
    example: int
    distance: float


def at_tempo(example: FloatArray, length: int) -> FloatArray:
    """Play an example (m, d) evenly in another number of samples."""
    place = np.linspace(0.0, len(example) - 1.0, length)
    before = np.minimum(place.astype(int), len(example) - 2)
    part = (place - before)[:, None]
    return np.asarray(example[before] * (1.0 - part) + example[before + 1] * part)


def distance_between(a: FloatArray, b: FloatArray) -> float:
    """Root mean square distance of two stretches, (n, d) and (m, d), after warping in a band."""
    longer = max(len(a), len(b))
    even = [values if len(values) == longer else at_tempo(values, longer) for values in (a, b)]
    window = 1 + round(WARP_SHARE * longer)
    # Without a price for warping, a still moment is like any motion.
    price = _step_price(even[0], even[1])
    return warped_distance(even[0], even[1], window=window, penalty=price) / float(np.sqrt(longer))


def _step_price(a: FloatArray, b: FloatArray) -> float:
    """Price of a step off the even tempo: half the root mean square distance without warping.

    A step off it so costs a quarter of what a pair of samples costs on the average.
    """
    return float(0.5 * np.sqrt(np.mean(np.sum((a - b) ** 2, axis=1))))


def stretches(
    examples: Sequence[FloatArray], values: FloatArray, known: BoolArray, *, reach: float = np.inf
) -> list[Stretch]:
    """Every stretch of a motion that is more like the examples than those next to it.

    Parameters
    ----------
    examples
        (m, d) each, at least two samples long.
    values
        (n, d) the motion.
    known
        (n,) where it is to be trusted.
    reach
        Stretches further away than this are left out.

    Returns
    -------
    list of Stretch
        Nearest first.
    """
    n = len(values)
    best = np.full(n + 1, np.inf)
    which = np.zeros(n + 1, dtype=int)
    length = np.zeros(n + 1, dtype=int)
    seen = np.concatenate([[0], np.cumsum(known)])
    for number, example in enumerate(examples):
        for tempo in TEMPOS:
            m = max(2, round(tempo * len(example)))
            if m > n:
                continue
            apart = _sliding(at_tempo(example, m), values)
            apart[seen[m:] - seen[:-m] < FEWEST_KNOWN * m] = np.inf
            nearer = apart < best[m:]
            best[m:][nearer] = apart[nearer]
            which[m:][nearer], length[m:][nearer] = number, m
    shortest = min(len(example) for example in examples)
    gap = max(1, round(APART_SHARE * shortest))
    found = []
    for stop in _lowest(best, gap):
        start, nearest = stop - int(length[stop]), int(which[stop])
        distance = distance_between(examples[nearest], values[start:stop])
        if distance <= reach:
            found.append(Stretch(start=start, stop=stop, example=nearest, distance=distance))
    return sorted(found, key=lambda stretch: stretch.distance)


def _sliding(example: FloatArray, values: FloatArray) -> FloatArray:
    """(n - m + 1,) root mean square distance of an example to the motion from each sample on."""
    from scipy.signal import oaconvolve

    m = len(example)
    energy = np.concatenate([[0.0], np.cumsum(np.sum(values**2, axis=1))])
    shared = oaconvolve(values, example[::-1], mode="valid", axes=0).sum(axis=1)
    squared = energy[m:] - energy[:-m] + np.sum(example**2) - 2.0 * shared
    return np.asarray(np.sqrt(np.maximum(squared, 0.0) / m))


def _lowest(best: FloatArray, gap: int) -> list[int]:
    """Places lower than all others within a gap, the lowest first."""
    left = best.copy()
    found = []
    while np.isfinite(left).any():
        place = int(np.argmin(left))
        found.append(place)
        left[max(0, place - gap) : place + gap + 1] = np.inf
    return found
