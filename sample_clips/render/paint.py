"""Draw players, stick and field furniture as flat triangles, back to front, at twice the size."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from .body import SEGMENTS
from .camera import Camera
from .dress import Figure, face_normals
from .scene import Piece, Scene
from .stick import outline

Floats = NDArray[np.float64]
Picture = NDArray[np.uint8]


def posed(figure: Figure, i_time: int) -> Floats:
    """Return the dressed mesh at one time of the grid."""
    motion = figure.motion
    body = motion.body
    rotation, origin = motion.rotations[i_time], motion.origins_m[i_time]
    shift = origin - np.einsum("sij,sj->si", rotation, body.heads_m)
    matrix = (figure.weights @ rotation.reshape(len(SEGMENTS), 9)).reshape(-1, 3, 3)
    result: Floats = (matrix @ figure.vertices_m[:, :, None])[:, :, 0] + figure.weights @ shift
    return result


def _cage(figure: Figure, i_time: int) -> list[Piece]:
    """Bars of the helmet's cage before the face."""
    motion = figure.motion
    body = motion.body
    i = SEGMENTS.index("head")
    rotation, origin = motion.rotations[i_time, i], motion.origins_m[i_time, i]
    size = body.stature_m / 1.8
    eye, nose = body.points_m["left_eye"], body.points_m["nose"]
    pieces: list[Piece] = []
    colour = (60, 60, 62)
    for z in (0.028, -0.030, -0.062, -0.094):
        angle = np.linspace(-1.25, 1.25, 9)
        arc = np.column_stack(
            [
                0.03 + (nose[0] - 0.01) * np.cos(angle) ** 0.7,
                0.098 * size * np.sin(angle),
                np.full(9, eye[2] + z * size),
            ]
        )
        for a, b in pairwise(arc):
            thick = np.array([0.0, 0.0, 0.004])
            pieces.append((np.stack([a - thick, a + thick, b + thick, b - thick]), colour))
    return [((c - body.heads_m[i]) @ rotation.T + origin, k) for c, k in pieces]


@dataclass(slots=True)
class Drawn:
    """Flat shapes in the picture: corners (px x 32), depths, colours and the px they reach."""

    corners: list[NDArray[np.int32]] = field(default_factory=list)
    depths: list[Floats] = field(default_factory=list)
    colours: list[Floats] = field(default_factory=list)
    reach: list[Floats] = field(default_factory=list)

    def add(self, pieces: list[Piece], camera: Camera) -> Drawn:
        """Add flat pieces of the field frame as the camera sees them."""
        for shape, colour in pieces:
            px, depth = camera.project(shape)
            if depth.min() < 0.3:
                continue
            self.corners.append(np.rint(px * 32).astype(np.int32)[None])
            self.depths.append(np.array([depth.mean() - 0.02]))
            self.colours.append(np.asarray(colour, dtype=float)[None])
            self.reach.append(px)
        return self


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """All that one clip needs to draw a frame."""

    camera: Camera
    scene: Scene
    background: Picture
    furniture: Drawn
    figures: list[Figure]


def draw(stage: Stage, i_time: int, rows_px: tuple[int, int] | None = None) -> Picture:
    """Draw one instant, shape (height, width, 3), blue-green-red, without noise.

    Where ``rows_px`` is given, players are drawn in these rows alone (first, one after the last).
    """
    camera, sun = stage.camera, np.asarray(stage.scene.sun)
    sun = sun / np.linalg.norm(sun)
    still = stage.furniture
    drawn = Drawn(list(still.corners), list(still.depths), list(still.colours), [])
    shadows: list[NDArray[np.int32]] = []
    for figure in stage.figures:
        mesh = posed(figure, i_time)
        faces = figure.faces
        px, depth = camera.project(mesh)
        if not figure.with_stick and _far_outside(px, camera.size_px):
            continue
        a, b, c = (px[faces[:, k]] for k in range(3))
        area = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
        front = (area < 0) & (depth[faces].min(1) > 0.3)
        faces = faces[front]
        normal = face_normals(mesh, faces)
        light = 0.52 + 0.16 * normal[:, 2] + 0.46 * np.maximum(normal @ sun, 0)
        drawn.corners.append(np.rint(px[faces] * 32).astype(np.int32))
        drawn.depths.append(depth[faces].mean(1))
        drawn.colours.append(np.clip(figure.colours[front] * light[:, None], 0, 255))
        drawn.reach.append(px)
        flat = mesh[:, :2] - mesh[:, 2:3] * sun[:2] / max(sun[2], 0.2)
        ground, _ = camera.project(np.column_stack([flat, np.zeros(len(flat))]))
        dominant = figure.weights.argmax(1)
        shadows += [
            cv2.convexHull(np.rint(ground[dominant == s] * 16).astype(np.int32))
            for s in np.unique(dominant)
        ]
        drawn.reach.append(ground)
        head, butt = (figure.motion.joints_m[k][i_time] for k in ("stick_head", "stick_butt"))
        pieces = outline(head, butt, camera.position_m - head) if figure.with_stick else []
        if figure.helmet is not None:
            pieces += _cage(figure, i_time)
        drawn.add(pieces, camera)
    if rows_px is not None:
        drawn = _in_rows(drawn, rows_px)
    return _fill(stage.background, drawn, shadows, rows_px)


def _far_outside(px: Floats, size_px: tuple[int, int]) -> bool:
    """Whether somebody who passes by is so far outside that not even a shadow falls in."""
    width = size_px[0]
    return bool(px[:, 0].max() < -0.4 * width or px[:, 0].min() > 1.4 * width)


def _in_rows(drawn: Drawn, rows_px: tuple[int, int]) -> Drawn:
    """Leave out the shapes that touch none of some rows."""
    first, stop = (32 * row for row in rows_px)
    chosen = Drawn(reach=drawn.reach)
    for corners, depths, colours in zip(drawn.corners, drawn.depths, drawn.colours, strict=True):
        y = corners[..., 1]
        touching = (y.max(axis=1) >= first) & (y.min(axis=1) <= stop)
        chosen.corners.append(corners[touching])
        chosen.depths.append(depths[touching])
        chosen.colours.append(colours[touching])
    return chosen


def _fill(
    background: Picture,
    drawn: Drawn,
    shadows: list[NDArray[np.int32]],
    rows_px: tuple[int, int] | None = None,
) -> Picture:
    height, width = background.shape[:2]
    everything = np.concatenate(drawn.reach)
    low = np.clip(np.floor(everything.min(0)) - 3, 0, [width - 1, height - 1]).astype(int)
    high = np.clip(np.ceil(everything.max(0)) + 3, low + 1, [width, height]).astype(int)
    if rows_px is not None:
        low[1], high[1] = max(low[1], rows_px[0]), min(high[1], rows_px[1])
        if low[1] >= high[1]:
            return background.copy()
    picture = background.copy()
    view = picture[low[1] : high[1], low[0] : high[0]]
    shade = np.zeros(view.shape[:2], dtype=np.uint8)
    for hull in shadows:
        cv2.fillConvexPoly(shade, hull - (low * 16).astype(np.int32), 255, shift=4)
    soft = np.asarray(cv2.GaussianBlur(shade, (5, 5), 0))[..., None]
    view[:] = (view * (1 - 0.42 * soft / 255.0)).astype(np.uint8)
    big = cv2.resize(view, None, fx=2, fy=2, interpolation=cv2.INTER_NEAREST)
    # Furniture outside the players' box is drawn there too: it stands in the background already.
    polygons: list[NDArray[np.int32]] = []
    for group in drawn.corners:
        polygons += list(group - (low * 32).astype(np.int32))
    order = np.argsort(-np.concatenate(drawn.depths), kind="stable")
    tones = np.concatenate(drawn.colours).tolist()
    for i in order.tolist():
        # Coordinates were scaled by 32 for the single size: 16 per pixel at twice the size.
        cv2.fillConvexPoly(big, polygons[i], tones[i], shift=4)
    view[:] = cv2.resize(big, (view.shape[1], view.shape[0]), interpolation=cv2.INTER_AREA)
    return picture


def with_furniture(background: Picture, furniture: Drawn) -> Picture:
    """Return the background with goal and cones drawn into it."""
    height, width = background.shape[:2]
    whole = Drawn(
        furniture.corners,
        furniture.depths,
        furniture.colours,
        [np.array([[0.0, 0.0], [float(width), float(height)]])],
    )
    return _fill(background, whole, [])
