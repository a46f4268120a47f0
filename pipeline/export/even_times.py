"""Paths on even times, for formats that know a rate and no time stamps."""

from __future__ import annotations

import numpy as np

from pipeline.core.types import FloatArray

LONGEST_GAP_S = 0.1
"""A path is not carried on over more time than this without a frame, or than two frames take."""


def even_times_s(time_s: FloatArray, rate_hz: float) -> FloatArray:
    """Give even times from the first frame to the last.

    Parameters
    ----------
    time_s
        (n,) times of the film's frames, rising, from 0.
    rate_hz
        Samples a second.

    Returns
    -------
    numpy.ndarray
        (m,) with ``m`` the number of whole periods in the film, and one.
    """
    n_periods = int(np.floor((time_s[-1] - time_s[0]) * rate_hz + 1e-6))
    return np.asarray(time_s[0] + np.arange(n_periods + 1) / rate_hz)


def on_even_times(time_s: FloatArray, paths: FloatArray, even_s: FloatArray) -> FloatArray:
    """Read paths at other times, by cubic splines through each stretch that is known.

    Parameters
    ----------
    time_s
        (n,) times of the film's frames, rising.
    paths
        (n, ...) values at these times; NaN where unknown.
    even_s
        (m,) times that are asked for.

    Returns
    -------
    numpy.ndarray
        (m, ...) NaN outside the known stretches: nothing is carried on over a missing frame.
    """
    flat = paths.reshape(time_s.size, -1)
    read = np.full((even_s.size, flat.shape[1]), np.nan)
    if time_s.size > 1:
        longest_s = max(LONGEST_GAP_S, 2.0 * float(np.median(np.diff(time_s))))
        hole = np.flatnonzero(np.diff(time_s) > longest_s) + 1
    else:
        hole = np.array([], int)
    for column in range(flat.shape[1]):
        known = np.isfinite(flat[:, column])
        starts = np.flatnonzero(known & ~np.r_[False, known[:-1]])
        ends = np.flatnonzero(known & ~np.r_[known[1:], False]) + 1
        for start, end in zip(starts, ends, strict=True):
            inner = hole[(hole > start) & (hole < end)]
            for first, last in zip([start, *inner], [*inner, end], strict=True):
                _read_stretch(time_s[first:last], flat[first:last, column], even_s, read[:, column])
    return read.reshape(even_s.size, *paths.shape[1:])


def _read_stretch(
    time_s: FloatArray, values: FloatArray, even_s: FloatArray, into: FloatArray
) -> None:
    # Containers round their time stamps: a sample that falls on a frame must not miss it by that.
    near_s = 1e-4
    inside = (even_s >= time_s[0] - near_s) & (even_s <= time_s[-1] + near_s)
    if not inside.any():
        return
    at_s = np.clip(even_s[inside], time_s[0], time_s[-1])
    if time_s.size < 4:
        into[inside] = np.interp(at_s, time_s, values)
        return
    from scipy.interpolate import make_interp_spline

    into[inside] = make_interp_spline(time_s, values, k=3)(at_s)
