"""How good a picture of a body is: its light, its noise, and how far its edges are spread."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.core.types import FloatArray
from pipeline.film.container import Picture

Grey = npt.NDArray[np.uint8]

REBLUR_PX = 1.0
"""Standard deviation of the blur that is added to find out how much there was."""
EDGE_SHARE = 0.05
"""The steepest pixels, in parts of all: the outline of a body and its jersey."""
WHITE = 250
"""A level above which all detail is lost, of 255."""
BLOCK_PX = 16
SMOOTH_BLOCKS = 0.1
"""Noise is read where there is least texture, in parts of all blocks."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureQuality:
    """Of the part of a picture around one body.

    Attributes
    ----------
    brightness
        Median level, 0 to 255.
    contrast
        Difference of the 95th and the 5th percentile of the level.
    white_share
        Share of pixels without a difference at the bright end.
    noise
        Standard deviation of the level from pixel to pixel where it is smooth.
    edge_px
        Standard deviation of the blur across the sharpest edges; NaN when there are none.
    """

    brightness: float
    contrast: float
    white_share: float
    noise: float
    edge_px: float


def quality_around(rgb: Picture, body_px: FloatArray) -> PictureQuality:
    """Judge the part of a picture around a body.

    Parameters
    ----------
    rgb
        (height, width, 3) picture.
    body_px
        (n_points, 2) landmarks in the image frame.
    """
    height, width = rgb.shape[:2]
    low, high = body_px.min(axis=0), body_px.max(axis=0)
    margin = 0.05 * float(high[1] - low[1])
    left, top = np.clip(low - margin, 0, (width - 3, height - 3)).astype(int)
    right, bottom = np.clip(high + margin, (left + 3, top + 3), (width, height)).astype(int)
    return region_quality(np.ascontiguousarray(rgb[top:bottom, left:right, 1]))


def region_quality(grey: Grey) -> PictureQuality:
    """Judge a region, given its green channel (height, width)."""
    dark, middle, bright = np.percentile(grey, (5, 50, 95))
    return PictureQuality(
        brightness=float(middle),
        contrast=float(bright - dark),
        white_share=float((grey >= WHITE).mean()),
        noise=noise_level(grey),
        edge_px=edge_spread_px(grey),
    )


def edge_spread_px(grey: Grey) -> float:
    """Give the standard deviation of the blur across the steepest edges.

    A step blurred by s has at its middle a slope in proportion to 1 / s; blurred again by s0, to
    1 / sqrt(s^2 + s0^2). So the ratio R of the two slopes gives s = s0 / sqrt(R^2 - 1) (S. Zhuo and
    T. Sim, Defocus map estimation from a single image, Pattern Recognition 44, 2011). Slopes are
    taken over two pixels: below 1 px, sharp and sharper look alike.

    Parameters
    ----------
    grey
        (height, width) levels.

    Returns
    -------
    float
        px; NaN when nothing in the region has an edge.
    """
    import cv2

    picture = grey.astype(np.float32)
    again = np.asarray(cv2.GaussianBlur(picture, (0, 0), REBLUR_PX), np.float32)
    once, twice = _slopes(picture), _slopes(again)
    steep = once >= max(float(np.quantile(once, 1 - EDGE_SHARE)), 4.0)
    if not steep.any():
        return float("nan")
    ratio = float(np.median(once[steep] / np.maximum(twice[steep], 1e-3)))
    return float(REBLUR_PX / np.sqrt(max(ratio**2 - 1.0, 1e-3)))


def noise_level(grey: Grey) -> float:
    """Give the standard deviation of the noise, by differences that cancel light and slopes.

    J. Immerkaer, Fast noise variance estimation, Computer Vision and Image Understanding 64, 1996;
    here over small blocks, of which those with least texture count.

    Parameters
    ----------
    grey
        (height, width) levels.

    Returns
    -------
    float
        Levels of 255; NaN for a region smaller than a block.
    """
    import cv2

    kernel = np.array([[1, -2, 1], [-2, 4, -2], [1, -2, 1]], np.float32)
    rough = np.abs(cv2.filter2D(grey.astype(np.float32), -1, kernel))
    rows, columns = (length // BLOCK_PX for length in grey.shape)
    if not (rows and columns):
        return float("nan")
    blocks = rough[: rows * BLOCK_PX, : columns * BLOCK_PX]
    blocks = blocks.reshape(rows, BLOCK_PX, columns, BLOCK_PX).mean(axis=(1, 3))
    return float(np.sqrt(np.pi / 2) / 6 * np.quantile(blocks, SMOOTH_BLOCKS))


def _slopes(picture: FloatArray) -> FloatArray:
    import cv2

    across = cv2.Sobel(picture, cv2.CV_32F, 1, 0, scale=0.125)
    down = cv2.Sobel(picture, cv2.CV_32F, 0, 1, scale=0.125)
    return np.asarray(np.hypot(across, down))
