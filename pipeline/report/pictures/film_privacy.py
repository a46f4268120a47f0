"""Finds what each frame of a film must hide: possible heads, and people near a stranger."""

from __future__ import annotations

import numpy as np

from pipeline.core.types import JOINTS, BoolArray, FloatArray, SmoothTracks
from pipeline.report.pictures.faces import HEAD_RADIUS_OF_BODY

LONGEST_OCCLUSION_S = 1.5
"""Longest time to the nearest frame with a known head over which its position is interpolated."""

ASTRAY_OF_BODY_PER_S = 0.8
"""Growth of the hidden radius with that time, as a share of the body's extent."""

WIDEST_OF_BODY = 0.45
"""Greatest growth of the hidden radius, as a share of the body's extent."""

WIDER = 1.3
"""Factor on the radius of a still: hair and chin too, because a film has many frames."""

BEFORE_AND_AFTER = (-1, 0, 1)
"""Frames whose head positions are hidden in each frame: the joints are not exact."""

SIZE_WINDOW_S = 0.4
"""Window over which the largest body extent counts: a body that bends looks shorter."""

STRANGER_S = 0.5
"""Time before and after a stranger's overlap during which a person is hidden entirely."""

NEAR_OF_BODY = 0.15
"""Tracked people closer than this share of a body's extent may overlap each other."""

_HEAD = [JOINTS.index(name) for name in ("nose", "left_eye", "right_eye", "left_ear", "right_ear")]
_SHOULDERS = [JOINTS.index(name) for name in ("left_shoulder", "right_shoulder")]
_HIPS = [JOINTS.index(name) for name in ("left_hip", "right_hip")]


class FilmHeads:
    """Heads and people to hide in each frame of a film.

    Parameters
    ----------
    tracks
        Tracks of all people.
    """

    def __init__(self, tracks: SmoothTracks) -> None:
        self._image_px = tracks.image_px
        self._circles = heads_over_time(tracks.image_px, tracks.time_s)
        self._stranger = stranger_near(tracks)

    def joints_px(self, frame: int) -> FloatArray:
        """Return (n_people, 23, 2) joints in a frame; NaN for people to hide entirely."""
        hidden = self._stranger[:, frame, None, None]
        return np.asarray(np.where(hidden, np.nan, self._image_px[:, frame]))

    def circles_px(self, frame: int) -> FloatArray:
        """Return (n, 3) x, y and radius of circles to hide, px; NaN where unknown.

        Includes the circles of the neighbouring frames.
        """
        beside = np.clip(frame + np.array(BEFORE_AND_AFTER), 0, self._circles.shape[1] - 1)
        return np.asarray(self._circles[:, beside].reshape(-1, 3))


def stranger_near(tracks: SmoothTracks) -> BoolArray:
    """Return when a body that belongs to no tracked person overlaps a tracked person.

    The head of such a passer-by lies at an unknown place near the person.

    Parameters
    ----------
    tracks
        Tracks of all people.

    Returns
    -------
    numpy.ndarray
        (n_people, n_frames) of bool.
    """
    overlapped = tracks.overlapped
    low, high = _boxes_px(tracks.image_px)
    explained = np.zeros(overlapped.shape, bool)
    for person in range(overlapped.shape[0]):
        for other in range(overlapped.shape[0]):
            if other == person:
                continue
            margin = NEAR_OF_BODY * np.linalg.norm(high[person] - low[person], axis=-1)
            apart = np.maximum(low[person] - high[other], low[other] - high[person]).max(axis=-1)
            # A lost person may be anywhere, so it explains the overlap too.
            near = ~(apart > margin)
            explained[person] |= near & overlapped[other]
    alone = overlapped & ~explained
    time_s = tracks.time_s
    first = np.searchsorted(time_s, time_s - STRANGER_S)
    after = np.searchsorted(time_s, time_s + STRANGER_S, side="right")
    so_far = np.pad(np.cumsum(alone, axis=1), ((0, 0), (1, 0)))
    return np.asarray(so_far[:, after] > so_far[:, first])


def heads_over_time(image_px: FloatArray, time_s: FloatArray) -> FloatArray:
    """Bound where heads may be in each frame; rather too wide than too narrow.

    Parameters
    ----------
    image_px
        (n_people, n_frames, 23, 2) smoothed joints in the image frame; NaN where unknown.
    time_s
        (n_frames,) times.

    Returns
    -------
    numpy.ndarray
        (n_people, n_frames, 3) x, y and radius of a circle, px; NaN further than
        `LONGEST_OCCLUSION_S` from a known head.
    """
    circles = np.full((*image_px.shape[:2], 3), np.nan)
    for person, joints_px in enumerate(image_px):
        centre_px = _centres_px(joints_px)
        known = np.asarray(np.isfinite(centre_px).all(axis=-1))
        if not known.any():
            continue
        extent_px = _largest_nearby(_extents_px(joints_px), time_s)
        rows = np.arange(time_s.size)
        extent_px = np.interp(rows, rows[known], extent_px[known])
        radius_px = np.maximum(WIDER * HEAD_RADIUS_OF_BODY * extent_px, 6.0)
        away_s = _from_nearest_s(known, time_s)
        for axis in (0, 1):
            circles[person, :, axis] = np.interp(time_s, time_s[known], centre_px[known, axis])
        wider_px = np.minimum(ASTRAY_OF_BODY_PER_S * away_s, WIDEST_OF_BODY) * extent_px
        circles[person, :, 2] = radius_px + wider_px
        circles[person, away_s > LONGEST_OCCLUSION_S] = np.nan
    return circles


def _centres_px(joints_px: FloatArray) -> FloatArray:
    """Return (n_frames, 2) mean of the head's joints; above the trunk where none is known."""
    head = joints_px[:, _HEAD]
    n_known = np.isfinite(head).all(axis=-1).sum(axis=1)
    total = np.where(np.isfinite(head).all(axis=-1, keepdims=True), head, 0.0).sum(axis=1)
    centre = np.where(n_known[:, None] > 0, total / np.maximum(n_known, 1)[:, None], np.nan)
    shoulders, hips = joints_px[:, _SHOULDERS].mean(axis=1), joints_px[:, _HIPS].mean(axis=1)
    # Trunk 0.29 of stature, centre of the head 0.12 above the shoulders: 0.4 trunks.
    above = shoulders + 0.4 * (shoulders - hips)
    return np.asarray(np.where(np.isfinite(centre), centre, above))


def _boxes_px(joints_px: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the least and the greatest x and y of the known joints, ``S + (2,)``; NaN for none."""
    known = np.isfinite(joints_px).all(axis=-1, keepdims=True)
    low = np.where(known, joints_px, np.inf).min(axis=-2)
    high = np.where(known, joints_px, -np.inf).max(axis=-2)
    none = ~np.isfinite(low)
    low[none], high[none] = np.nan, np.nan
    return low, high


def _extents_px(joints_px: FloatArray) -> FloatArray:
    """Return (n_frames,) diagonals of the known joints' bounding box, px; 0 where none is known."""
    low, high = _boxes_px(joints_px)
    return np.asarray(np.nan_to_num(np.linalg.norm(high - low, axis=-1)))


def _largest_nearby(values: FloatArray, time_s: FloatArray) -> FloatArray:
    """Return (n,) largest values within `SIZE_WINDOW_S`."""
    step_s = float(np.median(np.diff(time_s))) if time_s.size > 1 else SIZE_WINDOW_S
    reach = max(1, min(round(SIZE_WINDOW_S / max(step_s, 1e-3)), 200))
    padded = np.pad(values, reach, mode="edge")
    return np.asarray(np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1).max(axis=-1))


def _from_nearest_s(known: BoolArray, time_s: FloatArray) -> FloatArray:
    """Return (n,) times from each frame to the nearest known one, s."""
    at_s = time_s[known]
    after = np.clip(np.searchsorted(at_s, time_s), 0, at_s.size - 1)
    before = np.clip(after - 1, 0, at_s.size - 1)
    return np.asarray(np.minimum(np.abs(at_s[after] - time_s), np.abs(at_s[before] - time_s)))
