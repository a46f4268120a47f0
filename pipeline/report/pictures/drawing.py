"""Writing on pictures: legible when the picture is shown across a phone."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence

import numpy as np

from pipeline.film.container import Picture

Pixel = tuple[int, int]
Colour = tuple[int, int, int]

DARK: Colour = (18, 24, 28)
INK: Colour = (255, 255, 255)


def write_box(
    picture: Picture, corner: Pixel, size: Pixel, lines: Sequence[str], colour: Colour
) -> None:
    """Write lines of text on a dark box with an edge in the colour of what it belongs to."""
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
    """Write one line of text in a box of its own; returns its left, top, right and bottom, px.

    A corner that is negative counts from the right or from below, as far as the box's own edge.
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
    """Return the picture with a line of text on a dark band below it."""
    text_width, text_height = text_size(picture, caption)
    room = picture.shape[1] - 2 * text_height
    band = np.empty((round(2.4 * text_height), picture.shape[1], 3), np.uint8)
    band[:] = DARK
    at = (text_height, round(1.7 * text_height))
    _put_text(band, caption, at, INK, shrunk=min(1.0, room / max(1, text_width)))
    return np.vstack([picture, band])


def broken_text(picture: Picture, text: str) -> list[str]:
    """Break a text at its first comma if it would take half of the picture's width."""
    first, comma, rest = text.partition(", ")
    if comma and text_size(picture, text)[0] > 0.4 * picture.shape[1]:
        return [first, rest]
    return [text]


def text_size(picture: Picture, text: str) -> tuple[int, int]:
    """Width and height of a text as it would be written on this picture, px."""
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
    """Only what the drawn letters have: no accents, no plus-minus sign."""
    # An accent is taken off its letter, so that "ó" is drawn as "o" and not as a question mark.
    letters = unicodedata.normalize("NFKD", text.replace("\u00b1", "+/-"))
    bare = "".join(sign for sign in letters if not unicodedata.combining(sign))
    return bare.encode("ascii", "replace").decode("ascii")
