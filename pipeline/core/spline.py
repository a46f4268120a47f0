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


def spline_smooth(
    time_s: FloatArray, values: FloatArray, weight: FloatArray, cutoff_hz: float
) -> FloatArray:
    """Cubic smoothing spline through weighted samples at uneven times.

    Minimises ``sum w (y - x)**2 + penalty * integral (second derivative)**2``; the penalty is set
    so that a sine at `cutoff_hz`, sampled at the median frame interval, is halved.

    Parameters
    ----------
    time_s
        (n,) strictly rising.
    values
        (n, columns); entries of weight 0 may be NaN.
    weight
        (n,) at least 0; 0 = missing.
    cutoff_hz
        Frequency at which the gain is one half.

    Returns
    -------
    numpy.ndarray
        (n, columns) smooth values at every time.
    """
    from scipy.linalg import solveh_banded

    n = time_s.size
    known = np.where(weight[:, None] > 0, values, 0.0)
    if n < 3:
        return known
    step = np.diff(time_s)
    usual = float(np.median(step))
    penalty = 1.0 / ((2 * np.pi * cutoff_hz) ** 4 * usual)
    # Second derivative by divided differences on uneven times: rows of a three-wide band matrix.
    first, second = step[:-1], step[1:]
    span = 0.5 * (first + second)
    row = np.stack([1 / (first * span), -(1 / first + 1 / second) / span, 1 / (second * span)])
    scaled = row * (penalty * span)
    band = np.zeros((3, n))
    for i in range(3):
        for j in range(i + 1):
            band[i - j, j : j + n - 2] += scaled[i] * row[j]
    band[0] += np.maximum(weight, 1e-9)
    return np.asarray(solveh_banded(band, known * weight[:, None], lower=True))


def robust_smooth(
    time_s: FloatArray, values: FloatArray, weight: FloatArray, cutoff_hz: float, floor: float
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
        (n, columns).
    """
    smooth = spline_smooth(time_s, values, weight, cutoff_hz)
    for _ in range(2):
        distance = np.linalg.norm((values - smooth)[:, :2], axis=-1)
        scale = 3.0 * (1.5 * float(np.median(distance[weight > 0])) + floor)
        softer = weight / (1.0 + (np.nan_to_num(distance) / scale) ** 2)
        smooth = spline_smooth(time_s, values, softer, cutoff_hz)
    return smooth


def residual_cutoff_hz(
    time_s: FloatArray, values: FloatArray, weight: FloatArray
) -> tuple[float, float]:
    """Cut-off and noise by Winter's residual analysis.

    The root mean square of what each cut-off removes falls steeply while it still removes movement
    and then along a straight line that is noise alone; the line carried back to zero frequency is
    the noise, and the cut-off chosen is where the residual equals it.

    Parameters
    ----------
    time_s
        (n,).
    values
        (n, columns).
    weight
        (n,).

    Returns
    -------
    tuple of float
        Half-gain frequency in Hz and noise of one raw coordinate (same unit as `values`).
    """
    half_rate_hz = 0.5 / float(np.median(np.diff(time_s)))
    grid = np.array([f for f in CUTOFF_GRID_HZ if f < 0.95 * half_rate_hz])
    known = weight > 0
    if grid.size < 3 or known.sum() < 8:
        return float(min(6.0, 0.5 * half_rate_hz)), float("nan")
    residual = np.array(
        [
            np.sqrt(np.mean((values - spline_smooth(time_s, values, weight, f))[known] ** 2))
            for f in grid
        ]
    )
    tail = grid >= 0.45 * grid[-1]
    slope, noise = np.polyfit(grid[tail], residual[tail], 1)
    noise = float(max(noise, residual[-1]))
    cutoff = float(np.interp(-noise, -residual, grid)) if slope < 0 else float(grid[-1])
    return cutoff, noise


def noise_gain(time_s: FloatArray, cutoff_hz: float) -> float:
    """Share of the standard deviation of white noise that passes the spline.

    The integral of the squared gain up to half the frame rate is 0.833 ``fc`` for a low ``fc``.

    Parameters
    ----------
    time_s
        (n,).
    cutoff_hz
        Half-gain frequency.

    Returns
    -------
    float
    """
    half_rate_hz = 0.5 / float(np.median(np.diff(time_s)))
    return float(min(1.0, np.sqrt(0.833 * cutoff_hz / half_rate_hz)))


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
