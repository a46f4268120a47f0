"""Chooses the part of each frame that an output film shows: the whole, or around the athlete."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline.core.types import FloatArray
from pipeline.film.container import Picture
from pipeline.report.pictures.drawing import DARK
from pipeline.report.pictures.rep_picture import DrawnMeasure, moved_mark

CALM_S = 0.5
"""Half width of the moving average that steadies the view on the athlete."""

MOST_ENLARGED = 2.0
"""Greatest enlargement: more would only show compression blocks."""

BODIES_HIGH = 2.0
"""Height of the following view in body heights: room for the stick."""


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """A part of a frame, scaled for display.

    Attributes
    ----------
    corner_px
        (2,) left and top in the image frame; may lie outside the picture.
    scale
        Displayed pixels per pixel of the frame.
    size_px
        Displayed width and height.
    """

    corner_px: FloatArray
    scale: float
    size_px: tuple[int, int]

    def cut(self, picture: Picture) -> Picture:
        """Cut this view from a (height, width, 3) picture; dark outside the picture."""
        import cv2

        if self.scale < 1.0 and not self.corner_px.any():
            return np.asarray(
                cv2.resize(picture, self.size_px, interpolation=cv2.INTER_AREA), np.uint8
            )
        if self.scale == 1.0 and not self.corner_px.any() and picture.shape[1::-1] == self.size_px:
            return picture.copy()
        x, y = self.corner_px.tolist()
        matrix = np.array([[self.scale, 0.0, -self.scale * x], [0.0, self.scale, -self.scale * y]])
        shown = cv2.warpAffine(
            picture, matrix, self.size_px, flags=cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_CONSTANT, borderValue=DARK,
        )  # fmt: skip
        return np.asarray(shown, np.uint8)

    def points(self, points_px: FloatArray) -> FloatArray:
        """Map ``S + (2,)`` points of the image frame into this view, px."""
        return np.asarray((points_px - self.corner_px) * self.scale)

    def circles(self, circles_px: FloatArray) -> FloatArray:
        """Map ``S + (3,)`` circles (x, y, radius) of the image frame into this view, px."""
        return np.concatenate(
            [self.points(circles_px[..., :2]), circles_px[..., 2:] * self.scale], axis=-1
        )

    def mark(self, mark: DrawnMeasure) -> DrawnMeasure:
        """Map a drawn measure into this view."""
        return moved_mark(mark, self.corner_px, self.scale)


def whole_view(picture_px: tuple[int, int], size_px: tuple[int, int]) -> View:
    """Return the view of the whole picture in a size of about the same aspect ratio."""
    return View(
        corner_px=np.zeros(2), scale=size_px[0] / picture_px[0], size_px=size_px
    )  # fmt: skip


def following_views(
    joints_px: FloatArray,
    time_s: FloatArray,
    first: int,
    stop: int,
    *,
    picture_px: tuple[int, int],
    size_px: tuple[int, int],
) -> list[View]:
    """Return views of one scale that follow the athlete smoothly.

    Parameters
    ----------
    joints_px
        (n_frames, 23, 2) smoothed joints of the athlete; NaN where unknown.
    time_s
        (n_frames,) times.
    first, stop
        Range of frames, stop excluded.
    picture_px, size_px
        Width and height of the film's pictures, and of the view.

    Returns
    -------
    list of View
        One per frame; the whole picture if the athlete is unknown in all of them.
    """
    known = np.isfinite(joints_px).all(axis=-1, keepdims=True)
    low = np.where(known, joints_px, np.inf).min(axis=1)
    high = np.where(known, joints_px, -np.inf).max(axis=1)
    tracked = np.isfinite(low).all(axis=-1)
    near = np.zeros(tracked.size, bool)
    near[first:stop] = True
    if not (tracked & near).any():
        return [_fitted(picture_px, size_px)] * (stop - first)
    body_px = float(np.percentile((high[tracked & near] - low[tracked & near])[:, 1], 80))
    scale = size_px[1] / max(BODIES_HIGH * body_px, 1.0)
    least = _fitted(picture_px, size_px).scale
    scale = min(max(scale, least), max(MOST_ENLARGED, least))
    # Interpolated while the athlete is lost, or the view would jump.
    middle = 0.5 * (low[tracked] + high[tracked])
    centre = np.stack([np.interp(time_s, time_s[tracked], along) for along in middle.T], axis=-1)
    frames = np.arange(first, stop)
    return [
        View(
            corner_px=_inside(
                _calm(centre, time_s, int(frame)) - 0.5 * np.array(size_px) / scale,
                np.array(size_px) / scale,
                picture_px,
            ),
            scale=scale,
            size_px=size_px,
        )
        for frame in frames
    ]


def _fitted(picture_px: tuple[int, int], size_px: tuple[int, int]) -> View:
    """Return the view of the whole picture, with dark edges if the aspect ratios differ."""
    scale = min(size_px[0] / picture_px[0], size_px[1] / picture_px[1])
    corner = 0.5 * (np.array(picture_px) - np.array(size_px) / scale)
    return View(corner_px=corner, scale=scale, size_px=size_px)


def _calm(centre_px: FloatArray, time_s: FloatArray, frame: int) -> FloatArray:
    """Return the (2,) athlete's centre, averaged over `CALM_S` with raised cosine weights, px."""
    start, stop = np.searchsorted(time_s, time_s[frame] + np.array([-CALM_S, CALM_S])).tolist()
    near = slice(min(start, frame), max(stop, frame + 1))
    weight = 1.0 + np.cos(np.pi * (time_s[near] - time_s[frame]) / CALM_S)
    return np.asarray(weight @ centre_px[near] / weight.sum())


def _inside(corner: FloatArray, extent: FloatArray, picture_px: tuple[int, int]) -> FloatArray:
    """Move a view inside the picture as far as its size allows."""
    room = np.array(picture_px) - extent
    return np.asarray(np.where(room >= 0, np.clip(corner, 0, np.maximum(room, 0)), 0.5 * room))
