"""Pictures made to fit into one page: smaller the more there are, never too small to read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from pipeline.film.container import Picture

MOST_BYTES = 3_300_000
"""All pictures of a page together; written as text in the page they grow by a third."""

SMALL_WIDTH_PX = 240
SMALL_HEIGHT_PX = 260
SMALL_QUALITY = 68
"""The small picture in the strip: twice as sharp as it is shown, for the screens of phones."""

STEPS = ((800, 82), (640, 78), (520, 74), (420, 70), (340, 64))
"""Width and JPEG quality, the first that fits; at the last one what is written on it can just be
read."""

EASED = 0.6
"""A smaller picture of less quality takes fewer bytes a pixel than the one that was drawn; this
share at the least, or a step that would do were passed over."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PagePicture:
    """One rep's picture for the page.

    Attributes
    ----------
    data, width_px, height_px
        Encoded, and its size.
    small, small_width_px, small_height_px
        The same for the strip.
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
    """Make the pictures of a page fit.

    Parameters
    ----------
    pictures
        Encoded JPEG or PNG by index of the rep; what cannot be decoded is left out.
    most_bytes
        For all of them together, as far as they stay legible.

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
        small = _shrunk(picture, SMALL_WIDTH_PX, SMALL_HEIGHT_PX)
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
    """Make a picture smaller by the first step at which it fits, and encode it.

    Steps that cannot do are passed over: a picture takes about as many bytes as it has pixels.
    """
    per_pixel = n_bytes / picture.shape[1] ** 2
    hopeful = [s for s in STEPS[:-1] if EASED * per_pixel * s[0] ** 2 <= most_bytes]
    for width, quality in (*hopeful, STEPS[-1]):
        shown = _shrunk(picture, width, 2 * width)
        encoded = _jpeg(shown, quality)
        if len(encoded) <= most_bytes:
            break
    return shown, encoded


def _shrunk(picture: Picture, width: int, height: int) -> Picture:
    """Make a picture fit into a box; never larger than it is."""
    import cv2

    scale = min(1.0, width / picture.shape[1], height / picture.shape[0])
    if scale >= 1.0:
        return picture
    size = (max(1, round(picture.shape[1] * scale)), max(1, round(picture.shape[0] * scale)))
    return np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), np.uint8)


def _jpeg(picture: Picture, quality: int) -> bytes:
    import cv2

    _, encoded = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, quality])
    return encoded.tobytes()
