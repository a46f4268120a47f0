"""Shrinks the pictures of a report to fit the page's size, but never below legibility."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from pipeline.film.container import Picture
from pipeline.report.pictures.drawing import shrunk

MOST_BYTES = 3_300_000
"""Bytes of all pictures of a page together, before base64 adds a third."""

SMALL_WIDTH_PX = 240
SMALL_HEIGHT_PX = 260
SMALL_QUALITY = 68
"""Thumbnail in the strip: twice its displayed size, for high-density phone screens."""

STEPS = ((800, 82), (640, 78), (520, 74), (420, 70), (340, 64))
"""Widths in pixels and JPEG qualities, largest first; text is just legible at the last."""

LEAST_BYTES_RATIO = 0.6
"""Least bytes per pixel of a shrunk picture relative to the drawn one; rules out steps early."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PagePicture:
    """Picture of one rep, encoded for the page.

    Attributes
    ----------
    data, width_px, height_px
        Encoded picture and its size.
    small, small_width_px, small_height_px
        Encoded thumbnail for the strip and its size.
    """

    data: bytes
    width_px: int
    height_px: int
    small: bytes
    small_width_px: int
    small_height_px: int


def page_pictures(
    pictures: Mapping[int, bytes], *, most_bytes: int = MOST_BYTES
) -> dict[int, PagePicture]:
    """Shrink the pictures of a page to a total size.

    Parameters
    ----------
    pictures
        Encoded JPEG or PNG by index of the rep; a picture that cannot be decoded is left out.
    most_bytes
        Target for all of them together; exceeded where they would become illegible.

    Returns
    -------
    dict
        By index of the rep.
    """
    import cv2

    fitted = {}
    share = most_bytes // max(1, len(pictures))
    for index, data in pictures.items():
        decoded = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)
        if decoded is None:
            continue
        picture = np.asarray(decoded, np.uint8)
        small = _fitting(picture, SMALL_WIDTH_PX, SMALL_HEIGHT_PX)
        small_data = _jpeg(small, SMALL_QUALITY)
        shown, shown_data = picture, data
        if len(data) + len(small_data) > share:
            shown, shown_data = _fitted(picture, len(data), share - len(small_data))
        fitted[index] = PagePicture(
            data=shown_data,
            width_px=shown.shape[1],
            height_px=shown.shape[0],
            small=small_data,
            small_width_px=small.shape[1],
            small_height_px=small.shape[0],
        )
    return fitted


def _fitted(picture: Picture, n_bytes: int, most_bytes: int) -> tuple[Picture, bytes]:
    """Encode a picture at the largest step that fits.

    Steps that cannot fit are skipped: the bytes are about proportional to the pixels.
    """
    per_pixel = n_bytes / picture.shape[1] ** 2
    candidates = [s for s in STEPS[:-1] if LEAST_BYTES_RATIO * per_pixel * s[0] ** 2 <= most_bytes]
    for width, quality in (*candidates, STEPS[-1]):
        shown = _fitting(picture, width, 2 * width)
        encoded = _jpeg(shown, quality)
        if len(encoded) <= most_bytes:
            break
    return shown, encoded


def _fitting(picture: Picture, width: int, height: int) -> Picture:
    """Shrink a picture to fit a box; never enlarge it."""
    scale = min(1.0, width / picture.shape[1], height / picture.shape[0])
    if scale >= 1.0:
        return picture
    size = (max(1, round(picture.shape[1] * scale)), max(1, round(picture.shape[0] * scale)))
    return shrunk(picture, size)


def _jpeg(picture: Picture, quality: int) -> bytes:
    import cv2

    _, encoded = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, quality])
    return encoded.tobytes()
