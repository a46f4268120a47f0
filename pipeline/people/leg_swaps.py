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
    cost = np.zeros(2)  # of the best way so far: as the model has it, and exchanged
    came_from = np.zeros((found.size, 2), dtype=int)
    for i in range(1, found.size):
        from_model = cost[0] + np.array([same[i - 1], crossed[i - 1]])
        from_exchanged = cost[1] + np.array([crossed[i - 1], same[i - 1]])
        came_from[i] = from_exchanged < from_model
        cost = np.minimum(from_model, from_exchanged) + np.array([0.0, doubt[i]])
    state = int(np.argmin(cost))
    for i in range(found.size - 1, -1, -1):
        exchanged[found[i]] = bool(state)
        state = int(came_from[i, state])
    return exchanged


def _way(a: FloatArray, b: FloatArray) -> FloatArray:
    """(n,) mean distance between the parts of two legs."""
    return np.asarray(np.linalg.norm(a - b, axis=-1).mean(axis=-1))
