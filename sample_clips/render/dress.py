"""Dress a body: colours of jersey, shorts, shoes, hair and face, and the thickness of cloth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .body import SEGMENTS, Body
from .coarse import thin
from .kinematics import Motion

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Colour = tuple[int, int, int]

CELLS_M = (0.010, 0.018)
"""Cells of a mesh that is seen from near: head, hands and feet; everything else."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Clothes:
    """Colours of one player, blue-green-red."""

    jersey: Colour
    shorts: Colour
    skin: Colour
    hair: Colour
    socks: Colour = (225, 225, 225)
    shoes: Colour = (35, 32, 30)
    gloves: Colour | None = None
    helmet: Colour | None = None
    long_hair: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A player ready to draw: motion and a dressed mesh.

    Attributes
    ----------
    motion : Motion
    vertices_m : array (n_vertices, 3)
        Rest mesh with the thickness of cloth, shoes and hair.
    faces : int array (n_faces, 3)
    weights : array (n_vertices, n_segments)
    colours : array (n_faces, 3)
        Blue, green, red.
    helmet : colour of the helmet, if any
    with_stick : bool
    """

    motion: Motion
    vertices_m: Floats
    faces: NDArray[np.int64]
    weights: Floats
    colours: Floats
    helmet: Colour | None
    with_stick: bool = True


def face_normals(vertices: Floats, faces: NDArray[np.int64]) -> Floats:
    """Return the unit normal of every face, shape (n_faces, 3)."""
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    normal = np.cross(b - a, c - a)
    result: Floats = normal / np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-12)
    return result


class _Regions:
    """Which vertices of a body belong to what a player wears or shows."""

    def __init__(self, body: Body) -> None:
        self.body, self.size = body, body.stature_m / 1.8
        self.v = body.vertices_m
        self.names = np.array(SEGMENTS)[body.weights.argmax(1)]
        self.parts = np.array(
            [n.split("_", 1)[1] if n.startswith(("left_", "right_")) else n for n in self.names]
        )
        self.head: Flags = self.parts == "head"
        eye, ear = body.points_m["left_eye"], body.points_m["left_ear"]
        self.eye_z, self.ear_x = float(eye[2]), float(ear[0])
        self.brow = self.eye_z + 0.045 * self.size

    def _along(self, limb: str, start: str, stop: str) -> Floats:
        """Share of the way from one joint to the next of every vertex of a limb."""
        share = np.zeros(len(self.v))
        for side in ("left", "right"):
            a, b = (self.body.head_of(f"{side}_{end}") for end in (start, stop))
            rows = self.names == f"{side}_{limb}"
            share[rows] = (self.v[rows] - a) @ (b - a) / ((b - a) @ (b - a))
        return share

    def jersey(self) -> Flags:
        trunk = np.isin(self.parts, ["spine05", "spine04", "spine03", "spine02", "chest", "collar"])
        sleeve = (self.parts == "upper_arm") & (
            self._along("upper_arm", "upper_arm", "forearm") < 0.62
        )
        below_neck = self.v[:, 2] < self.body.head_of("neck")[2] + 0.015 * self.size
        result: Flags = (trunk | sleeve) & below_neck
        return result

    def shorts(self) -> Flags:
        leg = (self.parts == "thigh") & (self._along("thigh", "thigh", "shank") < 0.62)
        belt = self.v[:, 2] < self.body.head_of("spine05")[2] + 0.06 * self.size
        result: Flags = (self.parts == "pelvis") | leg | ((self.parts == "spine05") & belt)
        return result

    def socks(self) -> Flags:
        shank = (self.parts == "shank") & (self._along("shank", "shank", "foot") > 0.55)
        result: Flags = shank | np.isin(self.parts, ["foot", "toes"])
        return result

    def shoes(self) -> Flags:
        result: Flags = np.isin(self.parts, ["foot", "toes"]) & (self.v[:, 2] < 0.10 * self.size)
        return result

    def hair(self, *, long: bool) -> Flags:
        v, size = self.v, self.size
        slope = 0.25 * np.maximum(0, self.ear_x + 0.02 - v[:, 0])
        top = v[:, 2] > self.brow + np.minimum(0.012 * size + slope, 0.02 * size)
        back = (v[:, 0] < self.ear_x - 0.004 * size) & (v[:, 2] > self.eye_z - 0.075 * size)
        result: Flags = self.head & (top | back)
        if long:
            nape = (self.parts == "neck") & (v[:, 0] < self.body.head_of("neck")[0])
            result = result | nape
        return result

    def shell(self) -> Flags:
        """Helmet."""
        v, size = self.v, self.size
        high = (v[:, 2] > self.brow - 0.01 * size) | (v[:, 0] < self.ear_x + 0.015 * size)
        result: Flags = self.head & high & (v[:, 2] > self.eye_z - 0.10 * size)
        return result


def _paint_face(regions: _Regions, colour: Floats, clothes: Clothes) -> None:
    """Colour eyes, brows and mouth in place."""
    v, size, points = regions.v, regions.size, regions.body.points_m

    def near(spot: Floats, reach: tuple[float, float, float]) -> Flags:
        away = np.abs(v - spot) / (np.array(reach) * size)
        result: Flags = regions.head & (away < 1).all(1)
        return result

    for side in ("left", "right"):
        spot = points[f"{side}_eye"]
        away = np.linalg.norm((v - spot) * np.array([0.6, 1.0, 1.5]), axis=1)
        colour[regions.head & (away < 0.014 * size)] = (60, 55, 50)
        brow = near(spot + np.array([0.0, 0.0, 0.021 * size]), (0.03, 0.018, 0.004))
        colour[brow] = np.asarray(clothes.hair, dtype=float) * 0.8
    mouth = near(points["nose"] + np.array([-0.01, 0.0, -0.045]) * size, (0.04, 0.022, 0.006))
    colour[mouth] = np.asarray(clothes.skin, dtype=float) * [0.7, 0.6, 0.8]


def dress(
    motion: Motion,
    clothes: Clothes,
    *,
    with_stick: bool = True,
    cells_m: tuple[float, float] = CELLS_M,
) -> Figure:
    """Colour the faces of a body by region, and add the thickness of shoes, cloth and hair.

    The mesh is thinned to cells of ``cells_m``: of head, hands and feet, and of everything else.
    """
    body = motion.body
    regions = _Regions(body)
    v, size = body.vertices_m, regions.size
    jersey, shorts, shoes = regions.jersey(), regions.shorts(), regions.shoes()
    hair = regions.hair(long=clothes.long_hair)
    colour = np.tile(np.asarray(clothes.skin, dtype=float), (len(v), 1))
    colour[jersey] = clothes.jersey
    colour[shorts] = clothes.shorts
    colour[regions.socks()] = clothes.socks
    colour[shoes] = clothes.shoes
    if clothes.gloves is not None:
        colour[regions.parts == "hand"] = clothes.gloves
    colour[hair] = clothes.hair
    _paint_face(regions, colour, clothes)

    normals = np.zeros_like(v)
    for k in range(3):
        np.add.at(normals, body.faces[:, k], face_normals(v, body.faces))
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-12)
    thick = 0.006 * shoes + 0.008 * jersey + 0.010 * shorts
    thick = thick + (0.008 + 0.006 * (v[:, 2] > regions.brow)) * hair
    dressed = v + normals * thick[:, None]
    dressed[:, 2] -= 0.014 * (shoes & (normals[:, 2] < -0.3))
    if clothes.helmet is not None:
        shell = regions.shell()
        dressed[shell] = v[shell] + normals[shell] * 0.028
        colour[shell] = clothes.helmet
    fine = np.isin(regions.parts, ["head", "hand", "foot", "toes"])
    kept, faces = thin(dressed, body.faces, size * np.where(fine, *cells_m))
    return Figure(
        motion=motion,
        vertices_m=dressed[kept],
        faces=faces,
        weights=body.weights[kept],
        colours=colour[kept][faces].mean(axis=1),
        helmet=clothes.helmet,
        with_stick=with_stick,
    )
