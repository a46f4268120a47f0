"""Keeps the left leg left: undoes the mixing up of the legs of a runner seen from the side."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from pipeline.core.types import LANDMARKS, BoolArray, FloatArray, Tracks

LEG_PARTS = ("knee", "ankle", "heel", "toe")
LEFT = [LANDMARKS.index(f"left_{part}") for part in LEG_PARTS]
RIGHT = [LANDMARKS.index(f"right_{part}") for part in LEG_PARTS]

DOUBT_PER_S = 0.45
"""Price of contradicting the model, in body lengths of leg movement a second."""


def keep_sides(tracks: Tracks, time_s: FloatArray) -> Tracks:
    """Exchange the legs in those frames in which the model took the left one for the right.

    Of all ways to exchange them, frame by frame, the one in which the legs move least over the
    film is taken, at a small price for every exchanged frame (dynamic programming over two states:
    Viterbi, 1967). A mix-up makes both legs jump at once, and jump back; one that lasts for
    most of a swing, from one passing of the legs to the next, is not seen.

    Parameters
    ----------
    tracks
        Raw tracks.
    time_s
        (n_frames,) frame times.

    Returns
    -------
    Tracks
        The same, with the legs exchanged where needed.
    """
    image_px, world_m = tracks.image_px.copy(), tracks.world_m.copy()
    visibility = tracks.visibility.copy()
    for person in range(tracks.n_people):
        exchanged = np.flatnonzero(legs_exchanged(image_px[person], time_s))[:, None]
        for points in (image_px[person], world_m[person], visibility[person]):
            points[exchanged, LEFT + RIGHT] = points[exchanged, RIGHT + LEFT]
    return replace(tracks, image_px=image_px, world_m=world_m, visibility=visibility)


def legs_exchanged(image_px: FloatArray, time_s: FloatArray) -> BoolArray:
    """Tell in which frames one person's legs are exchanged.

    Parameters
    ----------
    image_px
        (n_frames, 33, 2) landmarks in the image frame; NaN where not found.
    time_s
        (n_frames,) frame times.

    Returns
    -------
    numpy.ndarray
        (n_frames,) true where left is right.
    """
    exchanged = np.zeros(len(image_px), bool)
    found = np.flatnonzero(np.isfinite(image_px[:, LEFT + RIGHT]).all(axis=(1, 2)))
    if found.size < 3:
        return exchanged
    size_px = max(float(np.median(np.ptp(image_px[found][:, :, 1], axis=1))), 1.0)
    left = image_px[found][:, LEFT].astype(float) / size_px
    right = image_px[found][:, RIGHT].astype(float) / size_px
    same = _way(left[1:], left[:-1]) + _way(right[1:], right[:-1])
    crossed = _way(left[1:], right[:-1]) + _way(right[1:], left[:-1])
    doubt = DOUBT_PER_S * np.diff(time_s[found], prepend=time_s[found[0]])
    # Plain numbers: the search goes frame by frame, where small arrays take five times as long.
    as_found, as_exchanged = 0.0, 0.0  # costs of the best ways so far that end in either state
    came_from: list[tuple[bool, bool]] = []
    for stay, change, price in zip(
        same.tolist(), crossed.tolist(), doubt[1:].tolist(), strict=True
    ):
        came_from.append(
            (as_exchanged + change < as_found + stay, as_exchanged + stay < as_found + change)
        )
        as_found, as_exchanged = (
            min(as_found + stay, as_exchanged + change),
            min(as_found + change, as_exchanged + stay) + price,
        )
    state = as_exchanged < as_found
    states = [state]
    for before in reversed(came_from):
        state = before[state]
        states.append(state)
    exchanged[found] = states[::-1]
    return exchanged


def _way(a: FloatArray, b: FloatArray) -> FloatArray:
    """(n,) mean distance between the parts of two legs."""
    return np.asarray(np.linalg.norm(a - b, axis=-1).mean(axis=-1))
