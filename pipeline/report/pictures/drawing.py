"""Draws skeletons and text on pictures, legibly on a phone, and shrinks pictures."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence

import numpy as np

from pipeline.core.types import JOINTS, FloatArray
from pipeline.film.container import Picture

Pixel = tuple[int, int]
Colour = tuple[int, int, int]

DARK: Colour = (18, 24, 28)
INK: Colour = (255, 255, 255)


def shrunk(picture: Picture, size_px: tuple[int, int]) -> Picture:
    """Shrink a picture to a width and height, by halves as far as possible.

    Halves are quick and average all pixels; averaging by odd ratios takes ten times as long.
    """
    import cv2

    width, height = size_px
    while picture.shape[1] >= 2 * width and picture.shape[0] >= 2 * height:
        half = (-(-picture.shape[1] // 2), -(-picture.shape[0] // 2))
        picture = np.asarray(cv2.resize(picture, half, interpolation=cv2.INTER_LINEAR), np.uint8)
    return np.asarray(cv2.resize(picture, size_px, interpolation=cv2.INTER_LINEAR), np.uint8)


def write_box(
    picture: Picture, corner: Pixel, size: Pixel, lines: Sequence[str], colour: Colour
) -> None:
    """Write lines of text on a dark box with a coloured edge, in place."""
    import cv2

    (x, y), (box_width, box_height) = corner, size
    text_height = text_size(picture, lines[0])[1]
    pad = text_height // 2
    edge = max(2, pad // 2)
    cv2.rectangle(picture, (x, y), (x + box_width, y + box_height), DARK, -1)
    cv2.rectangle(picture, (x, y), (x + edge, y + box_height), colour, -1)
    for i_line, line in enumerate(lines, start=1):
        at = (x + pad + edge // 2, y + i_line * (text_height + pad))
        _put_text(picture, line, at, INK)


def write_label(
    picture: Picture, text: str, corner: Pixel, colour: Colour
) -> tuple[int, int, int, int]:
    """Write one line of text in a box, in place; returns its left, top, right and bottom, px.

    A negative coordinate of the corner counts from the right or bottom edge of the picture.
    """
    text_width, text_height = text_size(picture, text)
    size = (text_width + text_height, 2 * text_height)
    x, y = (
        at if at >= 0 else room - own + at
        for at, room, own in zip(corner, picture.shape[1::-1], size, strict=True)
    )
    x, y = max(x, 0), max(y, 0)
    write_box(picture, (x, y), size, [text], colour)
    return x, y, x + size[0], y + size[1]


def with_caption(picture: Picture, caption: str) -> Picture:
    """Return a picture with a line of text on a dark band below it."""
    text_width, text_height = text_size(picture, caption)
    room = picture.shape[1] - 2 * text_height
    band = np.empty((round(2.4 * text_height), picture.shape[1], 3), np.uint8)
    band[:] = DARK
    at = (text_height, round(1.7 * text_height))
    _put_text(band, caption, at, INK, shrunk=min(1.0, room / max(1, text_width)))
    return np.vstack([picture, band])


def broken_text(picture: Picture, text: str) -> list[str]:
    """Split a text at its first comma if it is wider than 0.4 of the picture."""
    first, comma, rest = text.partition(", ")
    if comma and text_size(picture, text)[0] > 0.4 * picture.shape[1]:
        return [first, rest]
    return [text]


def text_size(picture: Picture, text: str) -> tuple[int, int]:
    """Return width and height of a text as written on this picture, px."""
    import cv2

    scale = _font_scale(picture.shape[1])
    (width, height), _ = cv2.getTextSize(_plain(text), cv2.FONT_HERSHEY_SIMPLEX, scale, 2)
    return width, height


def _put_text(picture: Picture, text: str, at: Pixel, ink: Colour, *, shrunk: float = 1.0) -> None:
    import cv2

    scale = _font_scale(picture.shape[1]) * shrunk
    thick = max(1, round(scale * 2))
    font = cv2.FONT_HERSHEY_SIMPLEX
    cv2.putText(picture, _plain(text), at, font, scale, ink, thick, cv2.LINE_AA)


def _font_scale(width: int) -> float:
    # Legible when the picture is shown across a phone.
    return max(0.6, width / 960 * 1.35)


def _plain(text: str) -> str:
    """Reduce a text to ASCII, which is all that the drawing font has."""
    # Without its accent "ó" is drawn as "o" and not as a question mark.
    letters = unicodedata.normalize("NFKD", text.replace("\u00b1", "+/-"))
    bare = "".join(sign for sign in letters if not unicodedata.combining(sign))
    return bare.encode("ascii", "replace").decode("ascii")


BONES = tuple(
    (JOINTS.index(a), JOINTS.index(b))
    for a, b in (
        ("left_shoulder", "right_shoulder"), ("left_hip", "right_hip"),
        ("left_shoulder", "left_hip"), ("right_shoulder", "right_hip"),
        ("left_shoulder", "left_elbow"), ("left_elbow", "left_wrist"), ("left_wrist", "left_hand"),
        ("right_shoulder", "right_elbow"), ("right_elbow", "right_wrist"),
        ("right_wrist", "right_hand"), ("left_hip", "left_knee"), ("left_knee", "left_ankle"),
        ("right_hip", "right_knee"), ("right_knee", "right_ankle"), ("left_ankle", "left_heel"),
        ("left_heel", "left_toe"), ("right_ankle", "right_heel"), ("right_heel", "right_toe"),
    )
)  # fmt: skip
"""Pairs of joints connected by a line."""

_ATHLETE: Colour = (255, 255, 255)
_OTHER: Colour = (170, 190, 205)
_DOT: Colour = (255, 196, 61)
_FIRST_OF_BODY = JOINTS.index("left_shoulder")


def draw_skeletons(picture: Picture, joints_px: FloatArray, *, dots: bool = False) -> None:
    """Draw the bones of each person on a picture, in place, the athlete on top.

    Parameters
    ----------
    picture
        (height, width, 3).
    joints_px
        (n_people, 23, 2) joints in its pixels, the athlete first; NaN where unknown.
    dots
        Whether to mark each joint of the body with a dot; never on the head.
    """
    thin = line_width(picture)
    for i_person in reversed(range(len(joints_px))):
        _draw_skeleton(picture, joints_px[i_person], _OTHER if i_person else _ATHLETE, thin)
    if dots:
        for joints in joints_px[::-1]:
            _draw_dots(picture, joints, thin)


def line_width(picture: Picture) -> int:
    """Return the width of a thin line that is visible on a phone, px."""
    return max(2, round(int(picture.shape[1]) / 400))


def point(xy: FloatArray) -> Pixel:
    """Round a point to whole pixels."""
    # Clipped so that a point far outside does not overflow the drawing's integers.
    x, y = np.clip(xy, -10_000, 10_000)
    return round(float(x)), round(float(y))


def _draw_skeleton(picture: Picture, joints: FloatArray, colour: Colour, thin: int) -> None:
    import cv2

    points = [point(joint) if np.isfinite(joint).all() else None for joint in joints]
    for width, ink in ((thin + 2, DARK), (thin, colour)):
        for i_first, i_second in BONES:
            first, second = points[i_first], points[i_second]
            if first is not None and second is not None:
                cv2.line(picture, first, second, ink, width, cv2.LINE_AA)


def _draw_dots(picture: Picture, joints: FloatArray, thin: int) -> None:
    import cv2

    for joint in joints[_FIRST_OF_BODY:]:
        if np.isfinite(joint).all():
            # Drawn to an eighth of a pixel, because dots show how exact the joints are.
            x, y = (round(8 * float(value)) for value in np.clip(joint, -4000, 4000))
            for radius, ink in ((thin + 2, DARK), (thin + 1, _DOT)):
                cv2.circle(picture, (x, y), 8 * radius, ink, -1, cv2.LINE_AA, 3)
