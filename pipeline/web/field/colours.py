"""Where a picture has the colours of things that stand on a field: cones, goal pipes."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import numpy.typing as npt

Mask = npt.NDArray[np.uint8]

WORKING_SIDE_PX = 1280
"""Longer side of the picture in which things are looked for; larger ones are shrunk to it."""

# Hue from 0 to 179. Green and sky blue are left out: grass, trees and sky have them.
_RED_TO_ORANGE = ((0, 16), (170, 179))
_ORANGE_TO_YELLOW = ((14, 34),)
_PINK = ((145, 172),)
_LEAST_SATURATION = 120
_LEAST_VALUE = 90

_WHITE_SATURATION = 60
_WHITE_ABOVE = 35
"""Brighter than what lies around by so many grey levels."""
_PIPE_AT_MOST = 0.025
"""Width of a pipe, as a share of the longer side, beyond which it is no pipe."""


def working_picture(rgb: npt.NDArray[np.uint8]) -> tuple[npt.NDArray[np.uint8], float]:
    """Shrink a large picture; gives it with the scale from the picture to the smaller one."""
    import cv2

    scale = min(1.0, WORKING_SIDE_PX / max(rgb.shape[:2]))
    if scale == 1.0:
        return rgb, 1.0
    size = (round(rgb.shape[1] * scale), round(rgb.shape[0] * scale))
    return np.asarray(cv2.resize(rgb, size, interpolation=cv2.INTER_AREA), dtype=np.uint8), scale


def cone_masks(rgb: npt.NDArray[np.uint8]) -> Iterator[Mask]:
    """Give where the picture has each of the colours of cones, 255 there and 0 elsewhere."""
    import cv2

    hsv = cv2.cvtColor(rgb, cv2.COLOR_RGB2HSV)
    for hues in (_RED_TO_ORANGE, _ORANGE_TO_YELLOW, _PINK):
        yield _saturated(hsv, hues)


def pipe_masks(rgb: npt.NDArray[np.uint8]) -> Iterator[Mask]:
    """Give where the picture has each of the colours of goal pipes, the most telling first."""
    import cv2

    hsv = cv2.cvtColor(rgb, cv2.COLOR_RGB2HSV)
    for hues in (_RED_TO_ORANGE, _ORANGE_TO_YELLOW):
        yield _saturated(hsv, hues)
    # Only narrow white things: the sky and a jersey are white and wide.
    width = int(_PIPE_AT_MOST * max(rgb.shape[:2])) | 1
    value = hsv[..., 2]
    square = cv2.getStructuringElement(cv2.MORPH_RECT, (width, width))
    narrow = cv2.morphologyEx(value, cv2.MORPH_TOPHAT, square) >= _WHITE_ABOVE
    yield np.where(narrow & (hsv[..., 1] <= _WHITE_SATURATION), 255, 0).astype(np.uint8)


def _saturated(hsv: npt.NDArray[Any], hues: tuple[tuple[int, int], ...]) -> Mask:
    """Where the hue lies in one of the ranges and the colour is strong."""
    hue = hsv[..., 0]
    strong = (hsv[..., 1] >= _LEAST_SATURATION) & (hsv[..., 2] >= _LEAST_VALUE)
    fits = np.zeros(hue.shape, dtype=bool)
    for low, high in hues:
        fits |= (hue >= low) & (hue <= high)
    return np.where(fits & strong, 255, 0).astype(np.uint8)
