"""How the camera turns in the hands of a person: slow drift, breathing and sway, and tremor."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d
from scipy.spatial.transform import Rotation

from .tracks import GRID_HZ

Floats = NDArray[np.float64]

DRIFT_HZ = 0.35
"""Up to about this rate the slow part moves."""
TREMOR_HZ = (4.0, 12.0)
"""Rates of the tremor of hands and arms, common values of physiology."""
ROLL_OF_DRIFT = 0.4
"""Roll moves less than the aim."""


def _wander(rng: np.random.Generator, n_times: int, rate_hz: float) -> Floats:
    """Return noise (n_times, 3) without parts much above a rate, standard deviation 1."""
    sigma = GRID_HZ / (2 * np.pi * rate_hz)
    pad = int(5 * sigma)
    raw = gaussian_filter1d(rng.normal(size=(n_times + 2 * pad, 3)), sigma, axis=0)
    # The exact factor of the filter, so that a short clip is not scaled by its own chance.
    scaled: Floats = raw[pad : pad + n_times] * np.sqrt(2 * np.sqrt(np.pi) * sigma)
    return scaled


def shake_of(n_times: int, drift_deg: float, tremor_deg: float, rng: np.random.Generator) -> Floats:
    """Return the turn of a hand-held camera on the motion grid.

    Parameters
    ----------
    n_times : int
    drift_deg : float
        Greatest slow turn (pitch and yaw together) away from the first instant.
    tremor_deg : float
        Standard deviation of the tremor about each axis.
    rng : Generator

    Returns
    -------
    turns : array (n_times, 3, 3)
        Camera axes of each instant from those of the first one; the first is the identity.
    """
    slow = _wander(rng, n_times, DRIFT_HZ)
    slow = (slow - slow[0]) * np.array([1.0, 1.0, ROLL_OF_DRIFT])
    most = np.hypot(slow[:, 0], slow[:, 1]).max()
    slow = slow * drift_deg / max(most, 1e-12)
    low, high = (_wander(rng, n_times, rate) for rate in TREMOR_HZ)
    # What lies under the lower rate is taken out of the faster noise.
    sigma = GRID_HZ / (2 * np.pi * TREMOR_HZ[0])
    tremor = 0.7 * (high - gaussian_filter1d(high, sigma, axis=0)) + 0.3 * low
    tremor = tremor / tremor.std(axis=0) * tremor_deg
    angles = np.deg2rad(slow + tremor - tremor[0])
    turns: Floats = Rotation.from_rotvec(angles).as_matrix()
    return turns
