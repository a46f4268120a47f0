"""The place: textured grass, lines, a row of trees, a cloudy sky, goal pipes and cones."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from .camera import Camera

Floats = NDArray[np.float64]
Piece = tuple[Floats, tuple[int, int, int]]

GOAL_M = 1.8288
"""Six feet: width between the pipes and height of the crossbar."""
CREASE_RADIUS_M = 2.7432
"""Nine feet."""
PIPE_RADIUS_M = 0.026


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """What stands in the field.

    Attributes
    ----------
    goal, crease : bool
    cones_m : tuple of (x, y)
    sun : (x, y, z)
        Direction to the sun, field frame.
    grass : (blue, green, red)
    seed : int
    """

    goal: bool
    crease: bool
    cones_m: tuple[tuple[float, float], ...]
    sun: tuple[float, float, float]
    grass: tuple[int, int, int]
    seed: int


def _noise(rng: np.random.Generator, shape: tuple[int, int], cells: int) -> NDArray[np.float32]:
    small = rng.random((cells, cells)).astype(np.float32)
    return cv2.resize(small, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC) - 0.5


def background(scene: Scene, camera: Camera) -> NDArray[np.uint8]:
    """Paint everything that never moves, shape (height, width, 3), blue-green-red."""
    rng = np.random.default_rng(scene.seed)
    width, height = camera.size_px
    big = (width * 2, height * 2)
    u, v = np.meshgrid(np.arange(big[0]) / 2 + 0.25, np.arange(big[1]) / 2 + 0.25)
    matrix = camera.matrix
    rays = (
        np.stack(
            [(u - matrix[0, 2]) / matrix[0, 0], (v - matrix[1, 2]) / matrix[1, 1], np.ones_like(u)],
            -1,
        )
        @ camera.rotation
    )
    rise = rays[..., 2] / np.linalg.norm(rays, axis=-1)
    sky = (
        np.array([236.0, 214.0, 188.0])
        + (np.array([205.0, 150.0, 105.0]) - 226.0) * np.clip(rise * 2.2, 0, 1)[..., None]
    )
    clouds = sum(_noise(rng, u.shape, n) / (n / 6) for n in (6, 14, 40))
    picture = sky + 34.0 * np.clip(clouds, -0.6, 0.8)[..., None]

    # Trees: a band over the horizon whose top is a noisy line around the whole circle of view.
    course = np.arctan2(rays[..., 0], rays[..., 1])
    waves = rng.uniform(0, 2 * np.pi, 9)
    top = 0.085 + sum(
        0.011 / (1 + k * 0.2) * np.sin(course * (5 + 13 * k) + waves[k]) for k in range(9)
    )
    top = top + 0.012 * _noise(rng, u.shape, 420) + 0.012 * _noise(rng, u.shape, 160)
    leaves = np.sum([_noise(rng, u.shape, n) for n in (60, 140, 260)], axis=0)
    trees = np.array([48.0, 74.0, 58.0]) * (1 + 0.55 * leaves)[..., None]
    picture = np.where((rise < top)[..., None], trees, picture)

    down = rays[..., 2] < -0.004
    far = np.where(down, -camera.position_m[2] / np.where(down, rays[..., 2], -1.0), 0.0)
    x, y = camera.position_m[0] + far * rays[..., 0], camera.position_m[1] + far * rays[..., 1]
    grain = np.zeros_like(x)
    for cell_m, share in ((0.05, 0.20), (0.22, 0.16), (0.9, 0.12), (4.0, 0.10)):
        tile = rng.random((512, 512)).astype(np.float32) - 0.5
        fade = np.clip(cell_m * matrix[0, 0] / np.maximum(far, 0.1) / 3.0, 0, 1)
        grain += (
            share
            * fade
            * cv2.remap(
                tile,
                np.mod(x / cell_m, 511).astype(np.float32),
                np.mod(y / cell_m, 511).astype(np.float32),
                cv2.INTER_LINEAR,
            )
        )
    stripes = 0.04 * np.sign(np.sin(y * 2 * np.pi / 7.0))
    grass = np.asarray(scene.grass, dtype=float) * (1 + grain + stripes)[..., None]
    if scene.crease:
        ring = np.abs(np.hypot(x, y) - CREASE_RADIUS_M) < 0.03
        line = (np.abs(y) < 0.03) & (np.abs(x) < CREASE_RADIUS_M)
        grass = np.where((ring | line)[..., None], np.array([215.0, 222.0, 222.0]), grass)
    haze = np.clip(far / 160.0, 0, 0.6)[..., None]
    grass = grass * (1 - haze) + np.array([150.0, 165.0, 150.0]) * haze
    picture = np.where(down[..., None], grass, picture)
    small = cv2.resize(
        np.clip(picture, 0, 255).astype(np.uint8), (width, height), interpolation=cv2.INTER_AREA
    )
    result: NDArray[np.uint8] = small
    return result


def _bar(
    a: Floats, b: Floats, radius_m: float, camera: Camera, colour: tuple[int, int, int]
) -> list[Piece]:
    across = np.cross(b - a, camera.position_m - (a + b) / 2)
    across = across / np.linalg.norm(across) * radius_m
    pieces: list[Piece] = []
    for s, e in pairwise(np.linspace(0, 1, 9)):
        p, q = a + (b - a) * s, a + (b - a) * e
        pieces.append((np.stack([p - across, p + across, q + across, q - across]), colour))
    return pieces


def standing_pieces(scene: Scene, camera: Camera) -> list[Piece]:
    """Return goal and cones as flat pieces (corners in the field frame, colour)."""
    pieces: list[Piece] = []
    if scene.goal:
        half, colour = GOAL_M / 2 + PIPE_RADIUS_M, (30, 95, 235)
        height = GOAL_M + PIPE_RADIUS_M
        left, right = np.array([-half, 0.0, 0.0]), np.array([half, 0.0, 0.0])
        up = np.array([0.0, 0.0, height])
        back = np.array([0.0, -2.1, 0.0])
        net = (205, 205, 205)
        for s in np.linspace(0, 1, 16):
            pieces += _bar(left + (right - left) * s + up, back, 0.004, camera, net)
        for s in np.linspace(0.12, 0.95, 9):
            for post in (left, right):
                pieces += _bar(post + up * s, back * 1.0 + 0.0 * post, 0.004, camera, net)
        for a, b in ((left, left + up), (right, right + up), (left + up, right + up)):
            pieces += _bar(a, b, PIPE_RADIUS_M, camera, colour)
        for post in (left, right):
            pieces += _bar(post, back, PIPE_RADIUS_M * 0.8, camera, (40, 100, 215))
    for x, y in scene.cones_m:
        spot = np.array([x, y, 0.0])
        across = np.cross(np.array([0.0, 0.0, 1.0]), camera.position_m - spot)
        across /= np.linalg.norm(across)
        tip = spot + np.array([0.0, 0.0, 0.23])
        pieces.append(
            (
                np.stack(
                    [
                        spot - across * 0.11,
                        spot + across * 0.11,
                        tip + across * 0.02,
                        tip - across * 0.02,
                    ]
                ),
                (20, 110, 250),
            )
        )
    return pieces


def ground_marks(scene: Scene) -> list[tuple[str, tuple[float, float, float]]]:
    """Return the points of known place: goal corners (pipe centres) and cone feet.

    Left and right are those of a shooter who faces the goal.
    """
    marks: list[tuple[str, tuple[float, float, float]]] = []
    if scene.goal:
        half, height = GOAL_M / 2 + PIPE_RADIUS_M, GOAL_M + PIPE_RADIUS_M
        marks += [
            ("goal_left_post_foot", (half, 0.0, 0.0)),
            ("goal_right_post_foot", (-half, 0.0, 0.0)),
            ("goal_left_crossbar_corner", (half, 0.0, height)),
            ("goal_right_crossbar_corner", (-half, 0.0, height)),
        ]
    marks += [(f"cone_{k + 1}", (x, y, 0.0)) for k, (x, y) in enumerate(scene.cones_m)]
    return marks
