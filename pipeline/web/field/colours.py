"""Masks of the colours of cones and of goal pipes in a picture."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import numpy.typing as npt

Mask = npt.NDArray[np.uint8]

WORKING_SIDE_PX = 1280
"""Longer side of the searched picture; larger pictures are shrunk to it."""

# Hue from 0 to 179. Green and blue are absent: grass, trees and sky have them.
_RED_TO_ORANGE = ((0, 16), (170, 179))
_ORANGE_TO_YELLOW = ((14, 34),)
_PINK = ((145, 172),)
_LEAST_SATURATION = 120
_LEAST_VALUE = 90

_WHITE_SATURATION = 60
_WHITE_ABOVE = 35
"""Least difference in brightness from the surroundings, in grey levels."""
_PIPE_AT_MOST = 0.025
"""Greatest width of a pipe, as a share of the longer side."""


def working_picture(rgb: npt.NDArray[np.uint8]) -> tuple[npt.NDArray[np.uint8], float]:
    """Shrink a large picture; returns it with the scale from the original to it."""
    import cv2

    scale = min(1.0, WORKING_SIDE_PX / max(rgb.shape[:2]))
    if scale == 1.0:
        return rgb, 1.0
    size = (round(rgb.shape[1] * scale), round(rgb.shape[0] * scale))
    return np.asarray(cv2.resize(rgb, size, interpolation=cv2.INTER_AREA), dtype=np.uint8), scale


def cone_masks(rgb: npt.NDArray[np.uint8]) -> Iterator[Mask]:
    """Yield a mask (255 or 0) for each colour of cones."""
    import cv2

    hsv = cv2.cvtColor(rgb, cv2.COLOR_RGB2HSV)
    for hues in (_RED_TO_ORANGE, _ORANGE_TO_YELLOW, _PINK):
        yield _saturated(hsv, hues)


def pipe_masks(rgb: npt.NDArray[np.uint8]) -> Iterator[Mask]:
    """Yield a mask (255 or 0) for each colour of goal pipes, the most distinctive first."""
    import cv2

    hsv = cv2.cvtColor(rgb, cv2.COLOR_RGB2HSV)
    for hues in (_RED_TO_ORANGE, _ORANGE_TO_YELLOW):
        yield _saturated(hsv, hues)
    # Only narrow white objects: sky and jerseys are white and wide.
    width = int(_PIPE_AT_MOST * max(rgb.shape[:2])) | 1
    value = hsv[..., 2]
    square = cv2.getStructuringElement(cv2.MORPH_RECT, (width, width))
    narrow = cv2.morphologyEx(value, cv2.MORPH_TOPHAT, square) >= _WHITE_ABOVE
    yield np.where(narrow & (hsv[..., 1] <= _WHITE_SATURATION), 255, 0).astype(np.uint8)


def _saturated(hsv: npt.NDArray[Any], hues: tuple[tuple[int, int], ...]) -> Mask:
    """Mask of saturated colours whose hue lies in one of the ranges."""
    hue = hsv[..., 0]
    strong = (hsv[..., 1] >= _LEAST_SATURATION) & (hsv[..., 2] >= _LEAST_VALUE)
    fits = np.zeros(hue.shape, dtype=bool)
    for low, high in hues:
        fits |= (hue >= low) & (hue <= high)
    return np.where(fits & strong, 255, 0).astype(np.uint8)
