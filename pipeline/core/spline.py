"""A zero-lag low-pass on uneven times, its cut-off by residual analysis, and spans of rows.

The low-pass is a cubic smoothing spline on the frames' own times. Away from the ends its gain is
``1 / (1 + (f / fc)**4)``, that of a second-order Butterworth filter run forwards and backwards
[1]_, with the half-gain frequency ``fc``; unlike the filter it takes gaps and a varying frame rate
as they are. ``fc`` can follow from the data by residual analysis [2]_, which is known to cut too
low for fast movement [3]_: callers put a floor under it.

References
----------
.. [1] H. J. Woltring, "A Fortran package for generalized, cross-validatory spline smoothing and
   differentiation", *Advances in Engineering Software* 8(2), 1986, 104-113.
.. [2] D. A. Winter, *Biomechanics and Motor Control of Human Movement*, 4th edition, 2009,
   section 3.4.
.. [3] B. Yu et al., "Estimate of the optimum cutoff frequency for the Butterworth low-pass digital
   filter", *Journal of Applied Biomechanics* 15, 1999, 318-329.
"""

from __future__ import annotations

import numpy as np

from pipeline.core.types import BoolArray, FloatArray

CUTOFF_GRID_HZ = (2.0, 4.0, 6.0, 8.0, 11.0, 14.0)

FEWEST_KNOWN = 8
"""Samples that an analysis of residuals needs at least."""


def spline_smooth(
    time_s: FloatArray, values: FloatArray, weight: FloatArray, cutoff_hz: float | FloatArray
) -> FloatArray:
    """Cubic smoothing spline through weighted samples at uneven times.

    Minimises ``sum w (y - x)**2 + penalty * integral (second derivative)**2``; the penalty is set
    so that a sine at `cutoff_hz`, sampled at the median frame interval, is halved. Tracks on the
    same times are solved together, as blocks of one band matrix.

    Parameters
    ----------
    time_s
        (n,) strictly rising.
    values
        ``S + (n, columns)``; entries of weight 0 may be NaN.
    weight
        ``S + (n,)`` at least 0; 0 = missing.
    cutoff_hz
        Frequency at which the gain is one half: one for all, or ``S``.

    Returns
    -------
    numpy.ndarray
        ``S + (n, columns)`` smooth values at every time.
    """
    from scipy.linalg import solveh_banded

    n = time_s.size
    known = np.where(weight[..., None] > 0, values, 0.0)
    if n < 3:
        return known
    step = np.diff(time_s)
    usual = float(np.median(step))
    penalty = 1.0 / ((2 * np.pi * np.asarray(cutoff_hz)[..., None]) ** 4 * usual)
    # Second derivative by divided differences on uneven times: rows of a three-wide band matrix.
    first, second = step[:-1], step[1:]
    span = 0.5 * (first + second)
    row = np.stack([1 / (first * span), -(1 / first + 1 / second) / span, 1 / (second * span)])
    # The entries between two tracks stay 0: the blocks do not touch.
    band = np.zeros((3, *weight.shape))
    for i in range(3):
        scaled = row[i] * (penalty * span)
        for j in range(i + 1):
            band[i - j, ..., j : j + n - 2] += scaled * row[j]
    band[0] += np.maximum(weight, 1e-9)
    known *= weight[..., None]
    smooth = solveh_banded(
        band.reshape(3, -1), known.reshape(-1, known.shape[-1]), lower=True,
        overwrite_ab=True, overwrite_b=True,
    )  # fmt: skip
    return np.asarray(smooth).reshape(known.shape)


def robust_smooth(
    time_s: FloatArray,
    values: FloatArray,
    weight: FloatArray,
    cutoff_hz: float | FloatArray,
    floor: float,
) -> FloatArray:
    """Smooth twice more with less weight for samples far from the curve (Cauchy weights).

    Parameters
    ----------
    time_s, values, weight, cutoff_hz
        As for `spline_smooth`; the distance is that of the first two columns.
    floor
        Scale of deviations that always count as noise, unit of the first two columns.

    Returns
    -------
    numpy.ndarray
        ``S + (n, columns)``.
    """
    known, judged, softer = weight > 0, values[..., :2], weight
    for _ in range(2):
        off = judged - spline_smooth(time_s, judged, softer, cutoff_hz)
        distance = np.sqrt(np.sum(off * off, axis=-1))
        scale = 3.0 * (1.5 * _median_of(distance, known) + floor)
        softer = weight / (1.0 + (np.nan_to_num(distance) / scale[..., None]) ** 2)
    return spline_smooth(time_s, values, softer, cutoff_hz)


def _median_of(values: FloatArray, known: BoolArray) -> FloatArray:
    """``S`` medians of the known among ``S + (n,)`` values; NaN where none is known."""
    ordered = np.sort(np.where(known, values, np.inf), axis=-1)
    count = known.sum(axis=-1, keepdims=True)
    low, high = np.maximum(count - 1, 0) // 2, np.minimum(count // 2, values.shape[-1] - 1)
    middle = 0.5 * (np.take_along_axis(ordered, low, -1) + np.take_along_axis(ordered, high, -1))
    return np.asarray(np.where(count > 0, middle, np.nan)[..., 0])


def residual_cutoff_hz(
    time_s: FloatArray, values: FloatArray, weight: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Cut-off and noise by Winter's residual analysis.

    The root mean square of what each cut-off removes falls steeply while it still removes movement
    and then along a straight line that is noise alone; the line carried back to zero frequency is
    the noise, and the cut-off chosen is where the residual equals it.

    Parameters
    ----------
    time_s
        (n,).
    values
        ``S + (n, columns)``.
    weight
        ``S + (n,)``.

    Returns
    -------
    tuple of numpy.ndarray
        ``S`` half-gain frequencies in Hz and ``S`` noise of one raw coordinate (same unit as
        `values`); NaN noise where too few samples are known.
    """
    half_rate_hz = 0.5 / float(np.median(np.diff(time_s)))
    grid = np.array([f for f in CUTOFF_GRID_HZ if f < 0.95 * half_rate_hz])
    known = weight > 0
    n_known = known.sum(axis=-1)
    usual_hz = np.full(n_known.shape, min(6.0, 0.5 * half_rate_hz))
    unknown = np.full(n_known.shape, np.nan)
    if grid.size < 3 or not (n_known >= FEWEST_KNOWN).any():
        return usual_hz, unknown
    squares = np.stack(
        [
            np.where(known[..., None], values - spline_smooth(time_s, values, weight, f), 0.0) ** 2
            for f in grid
        ]
    ).sum(axis=(-2, -1))
    residual = np.sqrt(squares / np.maximum(n_known * values.shape[-1], 1)).reshape(grid.size, -1)
    tail = grid >= 0.45 * grid[-1]
    slope, noise = np.polyfit(grid[tail], residual[tail], 1)
    noise = np.maximum(noise, residual[-1])
    cutoff = [
        np.interp(-level, -falling, grid) if down < 0 else grid[-1]
        for level, falling, down in zip(noise, residual.T, slope, strict=True)
    ]
    enough = n_known >= FEWEST_KNOWN
    return (
        np.where(enough, np.reshape(cutoff, n_known.shape), usual_hz),
        np.where(enough, noise.reshape(n_known.shape), unknown),
    )


def noise_gain(time_s: FloatArray, cutoff_hz: FloatArray) -> FloatArray:
    """Share of the standard deviation of white noise that passes the spline.

    The integral of the squared gain up to half the frame rate is 0.833 ``fc`` for a low ``fc``.

    Parameters
    ----------
    time_s
        (n,).
    cutoff_hz
        ``S`` half-gain frequencies.

    Returns
    -------
    numpy.ndarray
        ``S``.
    """
    half_rate_hz = 0.5 / float(np.median(np.diff(time_s)))
    return np.asarray(np.minimum(1.0, np.sqrt(0.833 * np.asarray(cutoff_hz) / half_rate_hz)))


def gaps_longer_than(time_s: FloatArray, known: BoolArray, longest_s: float) -> BoolArray:
    """Find the samples in gaps too long to be filled.

    Parameters
    ----------
    time_s
        (n,).
    known
        (n,) where there is a sample.
    longest_s
        Gaps that last longer stay open.

    Returns
    -------
    numpy.ndarray
        (n,) true in long gaps, before the first and after the last sample.
    """
    index = np.flatnonzero(known)
    if index.size == 0:
        return np.ones(time_s.size, dtype=bool)
    position = np.searchsorted(index, np.arange(time_s.size))
    before = index[np.clip(position - 1, 0, None)]
    after = index[np.clip(position, None, index.size - 1)]
    inside = (position > 0) & (position < index.size)
    too_long = (time_s[after] - time_s[before]) > longest_s
    return np.asarray(~known & (~inside | too_long))


def runs(mask: BoolArray) -> list[tuple[int, int]]:
    """Start and stop (not included) of each run of true values.

    Examples
    --------
    >>> runs(np.array([False, True, True, False, True]))
    [(1, 3), (4, 5)]
    """
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
