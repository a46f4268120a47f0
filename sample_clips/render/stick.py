"""The stick: a straight shaft held by both hands, with the head beyond the top hand."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

STICK_LENGTH_M = 1.03
HEAD_LENGTH_M = 0.25
BUTT_BEYOND_HAND_M = 0.06
SHAFT_RADIUS_M = 0.0125
HEAD_HALF_WIDTH_M = 0.08


def stick_head(top_m: Floats, bottom_m: Floats) -> tuple[Floats, Floats]:
    """Return the end of the head and the butt of the shaft.

    Parameters
    ----------
    top_m, bottom_m : array (n_times, 3)
        Grips of the two hands on the shaft.

    Returns
    -------
    head_m, butt_m : array (n_times, 3)
        The middle of the pocket, half a head's length from the end, and the butt.
    """
    line = top_m - bottom_m
    along = line / np.maximum(np.linalg.norm(line, axis=-1, keepdims=True), 1e-9)
    butt = bottom_m - BUTT_BEYOND_HAND_M * along
    return butt + (STICK_LENGTH_M - HEAD_LENGTH_M / 2) * along, butt


def outline(
    head_m: Floats, butt_m: Floats, towards_camera_m: Floats
) -> list[tuple[Floats, tuple[int, int, int]]]:
    """Return the stick at one instant as flat pieces that face the camera.

    Parameters
    ----------
    head_m, butt_m : array (3,)
    towards_camera_m : array (3,)
        From the stick to the camera.

    Returns
    -------
    list of (corners, colour)
        Corners in the field frame, shape (n, 3); colour blue, green, red.
    """
    line = head_m - butt_m
    along = line / np.linalg.norm(line)
    across = np.cross(along, towards_camera_m)
    across = across / max(float(np.linalg.norm(across)), 1e-9)
    neck = butt_m + along * (STICK_LENGTH_M - HEAD_LENGTH_M)
    pieces: list[tuple[Floats, tuple[int, int, int]]] = []
    edges = np.linspace(0.0, 1.0, 15)
    for a, b in pairwise(edges):
        p, q = butt_m + (neck - butt_m) * a, butt_m + (neck - butt_m) * b
        side = across * SHAFT_RADIUS_M
        pieces.append((np.stack([p - side, p + side, q + side, q - side]), (150, 155, 160)))
    # The head opens from the throat to the scoop; the pocket shows the ground through as grey net.
    widths = ((0.0, 0.25), (0.25, 0.55), (0.55, 0.9), (0.9, 1.0), (1.0, 0.7))
    for (s, w), (s2, w2) in pairwise(widths):
        p, q = neck + along * HEAD_LENGTH_M * s, neck + along * HEAD_LENGTH_M * s2
        a, b = across * HEAD_HALF_WIDTH_M * w, across * HEAD_HALF_WIDTH_M * w2
        pieces.append((np.stack([p - a, p + a, q + b, q - b]), (238, 240, 242)))
        pieces.append(
            (np.stack([p - a * 0.7, p + a * 0.7, q + b * 0.7, q - b * 0.7]), (170, 178, 180))
        )
    return pieces
