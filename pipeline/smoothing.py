"""Clean tracks: outliers rejected, short gaps filled, zero-lag low-pass on uneven times.

The low-pass is a cubic smoothing spline on the frames' own times. Away from the ends its gain is
``1 / (1 + (f / fc)**4)``, that of a second-order Butterworth filter run forwards and backwards [1]_,
with the half-gain frequency ``fc``; unlike the filter it takes gaps and a varying frame rate as
they are. ``fc`` follows from the data by residual analysis [2]_. Since residual analysis is known to
cut too low for fast movement [3]_, hands, wrists and elbows have a floor.

References
----------
.. [1] H. J. Woltring, "A Fortran package for generalized, cross-validatory spline smoothing and
   differentiation", *Advances in Engineering Software* 8(2), 1986, 104-113.
.. [2] D. A. Winter, *Biomechanics and Motor Control of Human Movement*, 4th edition, 2009, section 3.4.
.. [3] B. Yu et al., "Estimate of the optimum cutoff frequency for the Butterworth low-pass digital
   filter", *Journal of Applied Biomechanics* 15, 1999, 318-329.
"""

from __future__ import annotations

import numpy as np

from pipeline.types import JOINTS, LANDMARKS, FloatArray, SmoothTracks, Tracks

GRIP_FROM_WRIST = 0.75
"""Centre of the grip on the shaft: share of the way from the wrist to the knuckles."""

LONGEST_GAP_S = 0.25
"""Longer gaps stay unknown."""

CUTOFF_GRID_HZ = (2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 14.0)
SLOW_FLOOR_HZ = 4.0
FAST_FLOOR_HZ = 10.0
FAST_PARTS = ("elbow", "wrist", "hand")
OUTLIER_SCALE = 4.0


def joints_from_landmarks(landmarks: FloatArray) -> FloatArray:
    """Pick the measured joints from the model's points; hands are put at the grip.

    Parameters
    ----------
    landmarks
        ``S + (33, d)``.

    Returns
    -------
    numpy.ndarray
        ``S + (23, d)`` in the order of `JOINTS`.
    """
    columns = []
    for name in JOINTS:
        if name.endswith("_hand"):
            side = name.split("_")[0]
            wrist = landmarks[..., LANDMARKS.index(f"{side}_wrist"), :]
            knuckles = 0.5 * (
                landmarks[..., LANDMARKS.index(f"{side}_index_finger"), :]
                + landmarks[..., LANDMARKS.index(f"{side}_little_finger"), :]
            )
            columns.append(wrist + GRIP_FROM_WRIST * (knuckles - wrist))
        else:
            columns.append(landmarks[..., LANDMARKS.index(name), :])
    return np.stack(columns, axis=-2)


def spline_smooth(
    time_s: FloatArray, values: FloatArray, weight: FloatArray, cutoff_hz: float
) -> FloatArray:
    """Cubic smoothing spline through weighted samples at uneven times.

    Minimises ``sum w (y - x)**2 + penalty * integral (second derivative)**2``; the penalty is set so
    that a sine at `cutoff_hz`, sampled at the median frame interval, is halved.

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
    from scipy.linalg import solveh_banded  # noqa: PLC0415 (slow import, only needed here)

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


def reject_outliers(values: FloatArray, weight: FloatArray, floor: float) -> FloatArray:
    """Set the weight of single wild samples to 0 by their distance to the running median of seven.

    Parameters
    ----------
    values
        (n, d) one joint.
    weight
        (n,).
    floor
        Deviation below which nothing is rejected, same unit as `values`.

    Returns
    -------
    numpy.ndarray
        (n,) weight.
    """
    n = values.shape[0]
    if n < 7:
        return weight
    padded = np.pad(np.where(weight[:, None] > 0, values, np.nan), ((3, 3), (0, 0)), mode="edge")
    windows = np.lib.stride_tricks.sliding_window_view(padded, 7, axis=0)
    # A moving hand leaves its running median by its speed: compare with the neighbours' spread.
    with np.errstate(invalid="ignore"):
        ordered = np.sort(windows, axis=-1)
        middle = ordered[..., 3]
        reach = np.nan_to_num(ordered[..., 5] - ordered[..., 1], nan=0.0)
        wild = np.any(np.abs(values - middle) > OUTLIER_SCALE * 0.5 * reach + floor, axis=-1)
    return np.where(wild, 0.0, weight)


def _gaps_longer_than(time_s: FloatArray, known: FloatArray, longest_s: float) -> FloatArray:
    """(n,) true in gaps that last longer than `longest_s`, and before the first or after the last sample."""
    index = np.flatnonzero(known)
    if index.size == 0:
        return np.ones(time_s.size, dtype=bool)
    position = np.searchsorted(index, np.arange(time_s.size))
    before = index[np.clip(position - 1, 0, None)]
    after = index[np.clip(position, None, index.size - 1)]
    inside = (position > 0) & (position < index.size)
    too_long = (time_s[after] - time_s[before]) > longest_s
    return np.asarray(~known & (~inside | too_long))


def smooth_tracks(tracks: Tracks, time_s: FloatArray) -> SmoothTracks:
    """Make clean joint tracks of raw landmark tracks.

    Parameters
    ----------
    tracks
        Raw landmarks.
    time_s
        (n_frames,) frame times.

    Returns
    -------
    SmoothTracks
        Joints in px and in model-size metres relative to mid-hip, with the noise that is left.
    """
    image_px = joints_from_landmarks(tracks.image_px.astype(float))
    body_m = joints_from_landmarks(tracks.world_m.astype(float))
    n_people, n_frames, n_joints = image_px.shape[:3]
    noise_px = np.full((n_people, n_frames, n_joints), np.nan)
    for person in range(n_people):
        found = np.isfinite(image_px[person, :, 0, 0])
        lost = _gaps_longer_than(time_s, found, LONGEST_GAP_S)
        size_px = _body_size_px(image_px[person])
        for joint, name in enumerate(JOINTS):
            fast = name.split("_")[-1] in FAST_PARTS
            both = np.concatenate([image_px[person, :, joint], body_m[person, :, joint]], axis=-1)
            weight = reject_outliers(both[:, :2], found.astype(float), 0.03 * size_px)
            if weight.sum() < 4 or n_frames < 4:
                continue
            cutoff_hz, raw_noise = residual_cutoff_hz(time_s, both[:, :2], weight)
            cutoff_hz = max(cutoff_hz, FAST_FLOOR_HZ if fast else SLOW_FLOOR_HZ)
            smooth = spline_smooth(time_s, both, weight, cutoff_hz)
            smooth[lost] = np.nan
            image_px[person, :, joint], body_m[person, :, joint] = smooth[:, :2], smooth[:, 2:]
            noise_px[person, :, joint] = raw_noise * _noise_gain(time_s, cutoff_hz)
        noise_px[person, lost] = np.nan
    return SmoothTracks(
        time_s=time_s,
        image_px=image_px,
        body_m=body_m,
        noise_px=noise_px,
        overlapped=tracks.overlapped,
    )


def _noise_gain(time_s: FloatArray, cutoff_hz: float) -> float:
    """Share of white noise that passes the smoothing spline: integral of its squared gain."""
    half_rate_hz = 0.5 / float(np.median(np.diff(time_s)))
    return float(min(1.0, np.sqrt(0.833 * cutoff_hz / half_rate_hz)))


def _body_size_px(image_px: FloatArray) -> float:
    """Median height of the person in the picture, px; 0 when never found."""
    height = np.nanmax(image_px[..., 1], axis=-1, initial=-np.inf) - np.nanmin(
        image_px[..., 1], axis=-1, initial=np.inf
    )
    height = height[np.isfinite(height)]
    return float(np.median(height)) if height.size else 0.0
