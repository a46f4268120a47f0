"""Dynamic time warping of plain arrays: how far two motions are apart if each may dwell and hurry.

The distance is that of Sakoe and Chiba [1]_ without slope weights: the least sum of squared
distances over all monotone pairings of the samples, and the root of it. The library dtaidistance
does the work.

References
----------
.. [1] H. Sakoe, S. Chiba, "Dynamic programming algorithm optimization for spoken word recognition",
   *IEEE Transactions on Acoustics, Speech, and Signal Processing* 26(1), 1978, 43-49.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from pipeline.core.types import FloatArray

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
