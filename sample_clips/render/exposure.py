"""How a frame gathers light: long exposure, rows in turn, uneven times, noise in low light."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from .tracks import GRID_HZ

Floats = NDArray[np.float64]
Picture = NDArray[np.uint8]

LONGEST_READOUT_OF_FRAME = 0.95
"""The rows of one frame are read before those of the next."""


def exposure_offsets(exposure_s: float, n_instants: int) -> list[int]:
    """Return the grid steps, from the frame's time, whose mean stands for a long exposure.

    The middles of ``n_instants`` equal parts of the exposure, rounded to the grid outwards.
    """
    middles = (np.arange(n_instants) + 0.5) / n_instants - 0.5
    steps = middles * exposure_s * GRID_HZ
    return [int(np.sign(step) * np.floor(abs(step) + 0.5)) for step in steps]


def mean_of(pictures: Sequence[Picture]) -> Picture:
    """Return the mean picture."""
    total = np.zeros(pictures[0].shape, dtype=np.uint16)
    for picture in pictures:
        total += picture
    mean: Picture = ((total + len(pictures) // 2) // len(pictures)).astype(np.uint8)
    return mean


def readout_within(readout_s: float, fps: float) -> float:
    """Return the readout time, cut to what fits between two frames."""
    return min(readout_s, LONGEST_READOUT_OF_FRAME / fps)


def row_offsets(height_px: int, readout_s: float) -> NDArray[np.int64]:
    """Return for each row of the picture the grid step, from the frame's time, that it shows."""
    share = (np.arange(height_px) + 0.5) / height_px - 0.5
    return np.round(share * readout_s * GRID_HZ).astype(np.int64)


def rows_in_turn(instants: Mapping[int, Picture], offset_of_row: NDArray[np.int64]) -> Picture:
    """Put a picture together from rows of pictures at several instants.

    Parameters
    ----------
    instants : mapping
        From grid step to picture; a row whose step is missing is taken from the nearest step.
    offset_of_row : int array (height,)
    """
    steps = np.array(sorted(instants))
    nearest = steps[np.abs(offset_of_row[:, None] - steps).argmin(axis=1)]
    result = instants[int(steps[0])].copy()
    for step in np.unique(nearest).tolist():
        result[nearest == step] = instants[step][nearest == step]
    return result


def uneven_rows(
    rows: NDArray[np.int64], dropped_share: float, rng: np.random.Generator
) -> NDArray[np.int64]:
    """Shift frames in time and leave some out, as a phone does that is short of light or power.

    Parameters
    ----------
    rows : int array (n_frames,)
        Evenly spaced rows of the motion grid.
    dropped_share : float
        Share of the frames that are left out, about a third of them in runs of two or three.
    rng : Generator

    Returns
    -------
    int array (n_kept,)
        Increasing; the first and the last frame are kept.
    """
    step = int(rows[1] - rows[0])
    most = max(1, step // 5)
    shifted = rows + rng.integers(-most, most + 1, len(rows))
    shifted[0], shifted[-1] = rows[0], rows[-1]
    keep = np.ones(len(rows), dtype=bool)
    n_dropped = round(dropped_share * len(rows))
    while (~keep).sum() < n_dropped:
        run = int(rng.choice([1, 2, 3], p=[0.8, 0.13, 0.07]))
        start = int(rng.integers(1, len(rows) - 1))
        keep[start : min(start + run, len(rows) - 1)] = False
    return shifted[keep]


def low_light(picture: Picture, light: float, grain: float, rng: np.random.Generator) -> Picture:
    """Return the picture with less light and the noise of a small sensor at high gain.

    Parameters
    ----------
    picture : array (height, width, 3)
    light : float
        Share of the light that is left in the picture.
    grain : float
        Standard deviation of the noise at a middle grey (128); it grows with the root of the
        signal from half of that at black. A third as much is blotches of colour.
    rng : Generator
    """
    import cv2

    height, width = picture.shape[:2]
    dim = picture.astype(np.float32) * light
    size = grain * (0.5 + 0.5 * np.sqrt(dim.mean(axis=2, keepdims=True) / 128.0))
    fine = rng.standard_normal((height, width, 1), dtype=np.float32)
    coarse = rng.standard_normal((height // 4 + 1, width // 4 + 1, 3), dtype=np.float32)
    blotches = cv2.resize(coarse, (width, height), interpolation=cv2.INTER_LINEAR)
    noisy = dim + size * (fine + 0.33 * blotches)
    result: Picture = np.clip(np.rint(noisy), 0, 255).astype(np.uint8)
    return result
