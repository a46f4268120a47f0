"""A lens that bends straight lines, and pictures seen through it or by a turned camera.

Image points count from the left and the top edge of the picture: the middle of the first pixel is
(0.5, 0.5), as everywhere in the truth.

References
----------
.. [1] D. C. Brown, "Close-range camera calibration", *Photogrammetric Engineering* 37(8), 1971,
   855-866 (radial terms k1, k2).
"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from .camera import Camera

Floats = NDArray[np.float64]
Picture = NDArray[np.uint8]
Maps = tuple[NDArray[np.float32], NDArray[np.float32]]
Radial = tuple[float, float]


def bent(slopes: Floats, distortion: Radial) -> Floats:
    """Return where the lens puts slopes x / z, y / z (..., 2): s (1 + k1 r^2 + k2 r^4) [1]_."""
    square = (slopes**2).sum(-1, keepdims=True)
    result: Floats = slopes * (1 + distortion[0] * square + distortion[1] * square**2)
    return result


def unbent(slopes: Floats, distortion: Radial) -> Floats:
    """Undo `bent` by Newton steps on the distance from the middle."""
    k1, k2 = distortion
    wanted = np.linalg.norm(slopes, axis=-1, keepdims=True)
    radius = wanted.copy()
    for _ in range(8):
        off = radius * (1 + k1 * radius**2 + k2 * radius**4) - wanted
        radius = radius - off / (1 + 3 * k1 * radius**2 + 5 * k2 * radius**4)
    result: Floats = slopes * np.where(wanted > 0, radius / np.maximum(wanted, 1e-12), 1.0)
    return result


def bent_px(camera: Camera, image_px: Floats, distortion: Radial) -> Floats:
    """Return where the lens puts points (..., 2) of the picture without distortion."""
    matrix = camera.matrix
    middle, focal_px = matrix[:2, 2], matrix[0, 0]
    result: Floats = bent((image_px - middle) / focal_px, distortion) * focal_px + middle
    return result


def wider(camera: Camera, margin_px: int) -> Camera:
    """Return a camera at the same place that sees ``margin_px`` more on every side."""
    width, height = camera.size_px
    size_px = (width + 2 * margin_px, height + 2 * margin_px)
    half = max(size_px) / 2 / camera.matrix[0, 0]
    return replace(
        camera, size_px=size_px, fov_long_side_deg=float(2 * np.rad2deg(np.arctan(half)))
    )


def turned(camera: Camera, turn: Floats) -> Camera:
    """Return the camera turned about its optical centre; ``turn`` (3, 3) acts on camera axes."""
    return replace(camera, rotation=turn @ camera.rotation)


def homography(seen: Camera, drawn: Camera) -> Floats:
    """Return (3, 3): from points of the picture ``drawn`` to those of ``seen`` from the same place.

    Both pictures show the same rays, so every depth moves alike: K2 R2 R1^-1 K1^-1.
    """
    turn = seen.rotation @ drawn.rotation.T
    result: Floats = seen.matrix @ turn @ np.linalg.inv(drawn.matrix)
    return result


def _border(size_px: tuple[int, int]) -> Floats:
    width, height = size_px
    across, down = np.linspace(0, width, 41), np.linspace(0, height, 41)
    return np.concatenate(
        [np.stack([across, np.full(41, y)], 1) for y in (0.0, float(height))]
        + [np.stack([np.full(41, x), down], 1) for x in (0.0, float(width))]
    )


def margin_for_turns(camera: Camera, turns: Floats) -> int:
    """Return how many px more on every side hold all that the turned cameras see."""
    border = np.column_stack([_border(camera.size_px), np.ones(164)])
    most = 0.0
    for turn in turns:
        seen = border @ homography(camera, turned(camera, turn)).T
        most = max(most, _outside(seen[:, :2] / seen[:, 2:], camera.size_px))
    return int(np.ceil(most)) + 3


def margin_for_lens(camera: Camera, distortion: Radial) -> int:
    """Return how many px more on every side hold all that the bent picture shows."""
    matrix = camera.matrix
    middle, focal_px = matrix[:2, 2], matrix[0, 0]
    seen = unbent((_border(camera.size_px) - middle) / focal_px, distortion) * focal_px + middle
    return int(np.ceil(_outside(seen, camera.size_px))) + 3


def _outside(points: Floats, size_px: tuple[int, int]) -> float:
    return float(max(-points.min(), (points - np.array(size_px)).max(), 0.0))


def lens_maps(seen: Camera, drawn: Camera, distortion: Radial) -> Maps:
    """Return where each pixel of the bent picture lies in the straight, wider one (`cv2.remap`)."""
    width, height = seen.size_px
    u, v = np.meshgrid(np.arange(width) + 0.5, np.arange(height) + 0.5)
    focal_px = seen.matrix[0, 0]
    slopes = unbent((np.stack([u, v], -1) - seen.matrix[:2, 2]) / focal_px, distortion)
    place = slopes * drawn.matrix[0, 0] + drawn.matrix[:2, 2] - 0.5
    return place[..., 0].astype(np.float32), place[..., 1].astype(np.float32)


def through_lens(picture: Picture, maps: Maps) -> Picture:
    """Return the picture as the bent one shows it."""
    result = cv2.remap(picture, maps[0], maps[1], cv2.INTER_CUBIC)
    return np.asarray(result, dtype=np.uint8)


def by_turned_camera(picture: Picture, seen: Camera, drawn: Camera) -> Picture:
    """Return what the turned camera ``seen`` shows of a wider picture from the same place."""
    half = np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, 1.0]])
    matrix = np.linalg.inv(half) @ homography(seen, drawn) @ half
    result = cv2.warpPerspective(picture, matrix, seen.size_px, flags=cv2.INTER_CUBIC)
    return np.asarray(result, dtype=np.uint8)
