"""Keeps the left leg left: undoes the mixing up of the legs of a runner seen from the side."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from pipeline.bodies import ANKLES, HIPS, KNEES
from pipeline.types import LANDMARKS, BoolArray, FloatArray, Tracks

LEG_PARTS = ("knee", "ankle", "heel", "toe")
LEFT = [LANDMARKS.index(f"left_{part}") for part in LEG_PARTS]
RIGHT = [LANDMARKS.index(f"right_{part}") for part in LEG_PARTS]

DOUBT = 0.05
"""What it costs, per frame, to contradict the model; in body lengths, as the jumps are."""
LARGEST_JUMP = 0.4
"""A jump counts no more than this, in body lengths, lest one stray landmark decide."""


def keep_sides(tracks: Tracks) -> Tracks:
    """Exchange the legs in those frames in which the model took the left one for the right.

    Of all ways to exchange them, frame by frame, the one with the least change of velocity of
    knees and ankles relative to the hips is taken, with a small cost for each exchanged frame
    (dynamic programming: Viterbi, 1967). Each stretch of frames without a gap is judged by itself.

    Parameters
    ----------
    tracks
        Raw tracks.

    Returns
    -------
    Tracks
        The same, with the legs exchanged where needed.
    """
    image_px, world_m = tracks.image_px.copy(), tracks.world_m.copy()
    visibility = tracks.visibility.copy()
    for person in range(tracks.n_people):
        exchanged = np.flatnonzero(legs_exchanged(image_px[person]))[:, None]
        for points in (image_px[person], world_m[person], visibility[person]):
            points[exchanged, LEFT + RIGHT] = points[exchanged, RIGHT + LEFT]
    return replace(tracks, image_px=image_px, world_m=world_m, visibility=visibility)


def legs_exchanged(image_px: FloatArray) -> BoolArray:
    """Tell in which frames one person's legs are exchanged.

    Parameters
    ----------
    image_px
        (n_frames, 33, 2) landmarks in the image frame; NaN where not found.

    Returns
    -------
    array
        (n_frames,) true where left is right.
    """
    exchanged = np.zeros(len(image_px), bool)
    found = np.isfinite(image_px[:, 0, 0]).astype(int)
    edges = np.diff(found, prepend=0, append=0)
    for start, stop in zip(np.flatnonzero(edges == 1), np.flatnonzero(edges == -1), strict=True):
        if stop - start >= 4:
            exchanged[start:stop] = _judge(image_px[start:stop])
    return exchanged


def _judge(image_px: FloatArray) -> BoolArray:
    """Tell in which frames of a stretch without gaps the legs are exchanged."""
    hips = image_px[:, HIPS].mean(axis=1, keepdims=True)
    heights = np.ptp(image_px[:, :, 1], axis=1)
    legs = (image_px[:, KNEES + ANKLES] - hips) / max(float(np.median(heights)), 1.0)
    # One entry for each way to see a frame: as the model says, and with the legs exchanged.
    seen = np.stack([legs, legs[:, [1, 0, 3, 2]]], axis=1)  # (n, 2, 4, 2)
    # Cost of three frames in a row, by how each is seen: [frame, before last, last, now].
    bends = (
        seen[:-2, :, None, None] - 2 * seen[1:-1, None, :, None] + seen[2:, None, None, :]
    )  # (n - 2, 2, 2, 2, 4, 2)
    jumps = np.minimum(np.linalg.norm(bends, axis=-1), LARGEST_JUMP).sum(axis=-1)
    doubt = DOUBT * np.arange(2)
    total = doubt[:, None] + doubt[None, :]  # best cost so far by how the last two are seen
    choices = np.empty((len(jumps), 2, 2), np.int64)
    for i, jump in enumerate(jumps):
        options = total[:, :, None] + jump + doubt[None, None, :]
        choices[i] = np.argmin(options, axis=0)
        total = np.min(options, axis=0)
    last, now = np.unravel_index(int(np.argmin(total)), (2, 2))
    ways = [int(now), int(last)]
    for choice in choices[::-1]:
        ways.append(int(choice[ways[-1], ways[-2]]))
    return np.array(ways[::-1], bool)
