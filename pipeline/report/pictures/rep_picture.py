"""Draws the picture of a rep: the athlete's skeleton and the measures on a frame of the film."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from pipeline.core.types import FloatArray
from pipeline.film.container import Picture
from pipeline.report.pictures.drawing import (
    DARK,
    Colour,
    Pixel,
    broken_text,
    draw_skeletons,
    line_width,
    point,
    text_size,
    with_caption,
    write_box,
)
from pipeline.report.pictures.faces import hide_faces_of_all

DrawnKind = Literal["height", "ground", "step", "span", "point"]

WIDEST_PX = 960
"""Greatest width of a picture: sharp on a phone, small to send."""

TALLEST_ENLARGED_PX = 800
"""Greatest height to which a picture is enlarged."""

_ON_GROUND: frozenset[DrawnKind] = frozenset({"ground", "step", "span"})

_LEAST_CROP_PX = 240
_MARGIN_OF_CROP = 0.30
_ROOM_BELOW_GROUND = 0.15
_ROOM_FOR_ANOTHER = 0.12
_JPEG_QUALITY = 84

# Kinds differ in shape as well: bars at the ends, dots at the ends, an arrow, plain, a ring.
_COLOURS: dict[DrawnKind, Colour] = {
    "height": (255, 196, 61),
    "ground": (94, 214, 255),
    "step": (94, 214, 255),
    "span": (255, 150, 190),
    "point": (255, 196, 61),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnMeasure:
    """One measure to draw on a picture.

    Attributes
    ----------
    start_px, stop_px
        Its two ends in the image frame of the whole picture; equal for a point.
    text
        Label beside it, such as ``1.71 m``.
    kind
        ``height`` (bars at the ends), ``ground`` (dots at the ends), ``step`` (an arrow on the
        ground), ``span`` (a plain line on the ground) or ``point`` (a ring).
    """

    start_px: tuple[float, float]
    stop_px: tuple[float, float]
    text: str
    kind: DrawnKind


def draw_rep_picture(
    frame_rgb: Picture,
    joints_px: FloatArray,
    marks: Sequence[DrawnMeasure],
    *,
    caption: str = "",
    hide_faces: bool = True,
) -> Picture:
    """Draw the key picture of a rep, cropped to the people and the measures.

    Parameters
    ----------
    frame_rgb
        (height, width, 3) upright frame of the film.
    joints_px
        (n_people, 23, 2) joints (`JOINTS`) in its pixels, the athlete first; NaN where unknown.
    marks
        Measures to draw; one with an end that is not finite is left out.
    caption
        One short line below the picture; empty for none.
    hide_faces
        Whether to pixelate the heads, and the surroundings that may show other people.

    Returns
    -------
    (height, width, 3) array
        A new picture, at most `WIDEST_PX` wide.
    """
    import cv2

    drawable = [mark for mark in marks if np.isfinite([mark.start_px, mark.stop_px]).all()]
    left, top, right, bottom = _crop(frame_rgb.shape, joints_px, drawable)
    scale = WIDEST_PX / (right - left)
    if scale > 1.0:
        # More than twice the film's size would only show compression blocks.
        scale = max(1.0, min(scale, 2.0, TALLEST_ENLARGED_PX / (bottom - top)))
    size = (max(1, round((right - left) * scale)), max(1, round((bottom - top) * scale)))
    how = cv2.INTER_AREA if scale < 1.0 else cv2.INTER_LINEAR
    cut = np.ascontiguousarray(frame_rgb[top:bottom, left:right])
    picture = np.asarray(cv2.resize(cut, size, interpolation=how), np.uint8)
    offset = np.array([left, top], float)
    joints = (np.asarray(joints_px, float) - offset) * scale
    if hide_faces:
        picture = hide_faces_of_all(picture, joints)
    draw_skeletons(picture, joints)
    draw_marks(picture, [moved_mark(mark, offset, scale) for mark in drawable])
    return with_caption(picture, caption) if caption else picture


def moved_mark(mark: DrawnMeasure, corner_px: FloatArray, scale: float) -> DrawnMeasure:
    """Map a drawn measure into a part of the picture with this corner and scale."""
    start, stop = (
        ((np.array(end) - corner_px) * scale).tolist() for end in (mark.start_px, mark.stop_px)
    )
    return DrawnMeasure(start_px=tuple(start), stop_px=tuple(stop), text=mark.text, kind=mark.kind)


def draw_marks(
    picture: Picture,
    marks: Sequence[DrawnMeasure],
    occupied: Sequence[tuple[int, int, int, int]] = (),
) -> None:
    """Draw measures with their labels on a picture, in place.

    Parameters
    ----------
    picture
        (height, width, 3).
    marks
        Measures in its pixels; one with an end that is not finite is left out.
    occupied
        Left, top, right and bottom of existing labels, px.
    """
    thin, boxes = line_width(picture), list(occupied)
    drawable = [mark for mark in marks if np.isfinite([mark.start_px, mark.stop_px]).all()]
    ends = [(point(np.array(m.start_px)), point(np.array(m.stop_px))) for m in drawable]
    for mark, (start, stop) in zip(drawable, ends, strict=True):
        _draw_line(picture, start, stop, mark.kind, thin)
    for mark, (start, stop) in zip(drawable, ends, strict=True):
        _write_beside(picture, start, stop, mark, boxes)


def encode_jpeg(picture_rgb: Picture) -> bytes:
    """Encode a picture as JPEG: a third of the time and size of PNG for film.

    Raises
    ------
    ValueError
        The picture is not (height, width, 3) of 8 bits.
    """
    import cv2

    if picture_rgb.ndim != 3 or picture_rgb.shape[2] != 3 or picture_rgb.dtype != np.uint8:
        raise ValueError(
            f"a picture must be (height, width, 3) of uint8, but got "
            f"{picture_rgb.shape} of {picture_rgb.dtype}"
        )
    bgr = cv2.cvtColor(picture_rgb, cv2.COLOR_RGB2BGR)
    _, encoded = cv2.imencode(".jpg", bgr, [cv2.IMWRITE_JPEG_QUALITY, _JPEG_QUALITY])
    return encoded.tobytes()


def _crop(
    shape: tuple[int, ...], joints_px: FloatArray, marks: Sequence[DrawnMeasure]
) -> tuple[int, int, int, int]:
    """Return left, top, right and bottom around everything drawn; the whole frame if nothing."""
    height, width = shape[:2]
    points = [np.asarray(joints_px, float).reshape(-1, 2)]
    points += [np.array([mark.start_px, mark.stop_px], float) for mark in marks]
    stacked = np.concatenate(points)
    known = stacked[np.isfinite(stacked).all(axis=1)]
    if len(known) == 0:
        return 0, 0, width, height
    low, high = known.min(axis=0), known.max(axis=0)
    n_on_ground = sum(mark.kind in _ON_GROUND for mark in marks)
    if n_on_ground:  # room for the labels below the lines
        room = _ROOM_BELOW_GROUND + _ROOM_FOR_ANOTHER * (n_on_ground - 1)
        high[1] += room * (high[1] - low[1])
    centre, half = 0.5 * (low + high), 0.5 * (high - low)
    half = np.maximum(half + _MARGIN_OF_CROP * half.max(), 0.5 * _LEAST_CROP_PX)
    # A limited aspect ratio keeps the layout similar from rep to rep.
    half[0] = max(half[0], 0.75 * half[1])
    half[1] = max(half[1], 0.5 * half[0])
    left, top = np.floor(np.clip(centre - half, 0, [width - 1, height - 1])).astype(int)
    right, bottom = np.ceil(np.clip(centre + half, [left + 1, top + 1], [width, height])).astype(
        int
    )
    return int(left), int(top), int(right), int(bottom)


def _draw_line(picture: Picture, start: Pixel, stop: Pixel, kind: DrawnKind, thin: int) -> None:
    import cv2

    colour, bar = _COLOURS[kind], 7 * thin
    for width, ink, grown in ((2 * thin + 3, DARK, 1), (2 * thin, colour, 0)):
        if kind == "point":
            cv2.circle(picture, start, bar, ink, width, cv2.LINE_AA)
            continue
        if kind == "step":
            length = max(1.0, float(np.hypot(stop[0] - start[0], stop[1] - start[1])))
            cv2.arrowedLine(
                picture, start, stop, ink, width, cv2.LINE_AA, tipLength=min(0.5, 9 * thin / length)
            )
            cv2.circle(picture, start, 3 * thin + grown, ink, -1, cv2.LINE_AA)
            continue
        cv2.line(picture, start, stop, ink, width, cv2.LINE_AA)
        for x, y in (start, stop):
            if kind == "height":
                cv2.line(picture, (x - bar, y), (x + bar, y), ink, width, cv2.LINE_AA)
            elif kind == "ground":
                cv2.circle(picture, (x, y), 3 * thin + grown, ink, -1, cv2.LINE_AA)


def _write_beside(
    picture: Picture,
    start: Pixel,
    stop: Pixel,
    mark: DrawnMeasure,
    occupied: list[tuple[int, int, int, int]],
) -> None:
    """Write a label near the middle of its line, inside the picture and clear of other labels.

    Parameters
    ----------
    occupied
        Left, top, right and bottom of the other labels, px; the new one is added.
    """
    lines = broken_text(picture, mark.text)
    text_height = text_size(picture, mark.text)[1]
    pad = text_height // 2
    box_width = max(text_size(picture, line)[0] for line in lines) + 2 * pad
    box_height = len(lines) * (text_height + pad) + pad
    height, width = picture.shape[:2]
    gap = 2 * pad
    x = (start[0] + stop[0]) // 2 + gap
    y = (start[1] + stop[1] - box_height) // 2
    if mark.kind in _ON_GROUND:
        below = max(start[1], stop[1]) + gap
        if below + box_height <= height:
            x, y = (start[0] + stop[0] - box_width) // 2, below
        else:  # no room below: beside the line
            x = max(start[0], stop[0]) + gap
    if x + box_width > width:
        x = min(start[0], stop[0]) - gap - box_width
    x = min(max(x, 0), max(0, width - box_width))
    y = min(max(y, 0), max(0, height - box_height))
    for other in sorted(occupied, key=lambda box: box[1]):
        if x < other[2] and other[0] < x + box_width and y < other[3] and other[1] < y + box_height:
            y = other[3] + 2
    if y + box_height > height:
        y = max(0, min((box[1] for box in occupied), default=height) - box_height - 2)
    occupied.append((x, y, x + box_width, y + box_height))
    write_box(picture, (x, y), (box_width, box_height), lines, _COLOURS[mark.kind])
