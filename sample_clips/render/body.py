"""Make the rest body of an invented player: mesh, segments, joint centres and skinning weights."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

TRUNK = ("pelvis", "spine05", "spine04", "spine03", "spine02", "chest")
LIMBS = ("collar", "upper_arm", "forearm", "hand", "thigh", "shank", "foot", "toes")
SEGMENTS: tuple[str, ...] = (
    *TRUNK,
    "neck",
    "head",
    *(f"{side}_{limb}" for side in ("left", "right") for limb in LIMBS),
)
SOLE_M = 0.02
"""Thickness of the shoe sole: the bare foot is carried this far above the grass."""

_BONE_TO_SEGMENT = {
    "root": "pelvis",
    "spine05": "spine05",
    "spine04": "spine04",
    "spine03": "spine03",
    "spine02": "spine02",
    "spine01": "chest",
    "neck01": "neck",
    "head": "head",
    "clavicle": "collar",
    "upperarm01": "upper_arm",
    "lowerarm01": "forearm",
    "wrist": "hand",
    "upperleg01": "thigh",
    "lowerleg01": "shank",
    "foot": "foot",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """Rest body in its own frame: x forward, y left, z up, bare soles at z = 0.

    Attributes
    ----------
    stature_m : float
        Barefoot height of the mesh.
    vertices_m : array (n_vertices, 3)
    faces : int array (n_faces, 3)
    weights : array (n_vertices, n_segments)
        Linear blend skinning weights by ``SEGMENTS``; rows sum to 1.
    heads_m : array (n_segments, 3)
        The point about which each segment turns.
    points_m : dict of array (3,)
        Joint centres and skin points of the truth, each named as in the truth file.
    arm_length_m : float
        Shoulder to elbow, elbow to wrist and wrist to the tip of the straight middle finger.
    """

    stature_m: float
    vertices_m: Floats
    faces: NDArray[np.int64]
    weights: Floats
    heads_m: Floats
    points_m: dict[str, Floats]
    arm_length_m: float

    def head_of(self, segment: str) -> Floats:
        """Return the turning point of a segment, in metres of the rest frame."""
        head: Floats = self.heads_m[SEGMENTS.index(segment)]
        return head


@lru_cache(maxsize=1)
def _model() -> Any:
    import anny  # type: ignore[import-not-found,import-untyped,unused-ignore]
    import torch  # type: ignore[import-not-found,unused-ignore]

    torch.set_num_threads(1)
    return anny.create_fullbody_model(triangulate_faces=True)


def _side_of(bone: str) -> str:
    return {".L": "left_", ".R": "right_"}.get(bone[-2:], "")


def _segment_of_bones(labels: list[str], parents: list[int]) -> list[int]:
    owner: list[int] = []
    for i_bone, bone in enumerate(labels):
        stem = bone.split(".")[0]
        if stem.startswith("toe"):
            owner.append(SEGMENTS.index(_side_of(bone) + "toes"))
        elif stem in _BONE_TO_SEGMENT:
            owner.append(SEGMENTS.index(_side_of(bone) + _BONE_TO_SEGMENT[stem]))
        else:
            owner.append(owner[parents[i_bone]])
    return owner


def _turn(axis: Floats, angle_deg: float, about: Floats) -> Floats:
    from scipy.spatial.transform import Rotation

    rotation = Rotation.from_rotvec(axis * np.deg2rad(angle_deg)).as_matrix()
    matrix = np.eye(4)
    matrix[:3, :3] = rotation
    matrix[:3, 3] = about - rotation @ about
    return matrix


def _hand_axes(heads: dict[str, Floats], letter: str) -> tuple[Floats, Floats, Floats, Floats]:
    """Return knuckle centre, hand direction, knuckle line (index to little), palm normal."""
    knuckles = np.stack([heads[f"finger{k}-1.{letter}"] for k in range(2, 6)])
    centre = knuckles.mean(0)
    ahead = _unit(centre - heads[f"wrist.{letter}"])
    across = knuckles[-1] - knuckles[0]
    across = _unit(across - ahead * (across @ ahead))
    palm = np.cross(ahead, across) * (-1.0 if letter == "L" else 1.0)
    return centre, ahead, across, palm


def _unit(vector: Floats) -> Floats:
    result: Floats = vector / np.linalg.norm(vector)
    return result


def _closed_fists(
    vertices: Floats, heads: dict[str, Floats], labels: list[str], parents: list[int], model: Any
) -> Floats:
    """Curl the fingers of both hands round a shaft by skinning the hand bones alone."""
    matrices = np.tile(np.eye(4), (len(labels), 1, 1))
    for i_bone, bone in enumerate(labels):
        if parents[i_bone] >= 0:
            matrices[i_bone] = matrices[parents[i_bone]]
        if not bone.startswith("finger"):
            continue
        finger, knuckle = int(bone[6]), int(bone[8])
        _, ahead, _, palm = _hand_axes(heads, bone[-1])
        axis, degrees = np.cross(ahead, palm), (68.0, 80.0, 55.0)[knuckle - 1]
        if finger == 1:
            axis, degrees = (
                _unit(np.cross(ahead, palm) + 0.8 * ahead),
                (10.0, 25.0, 30.0)[knuckle - 1],
            )
        matrices[i_bone] = matrices[i_bone] @ _turn(axis, degrees, heads[bone])
    indices = model.vertex_bone_indices.numpy()
    weights = model.vertex_bone_weights.numpy()
    blended = np.einsum("vk,vkij->vij", weights, matrices[indices])
    turned: Floats = np.einsum("vij,vj->vi", blended[:, :3, :3], vertices)
    closed: Floats = turned + blended[:, :3, 3]
    return closed


def make_body(stature_m: float, shape: dict[str, float]) -> Body:
    """Build a body of exactly this barefoot stature.

    Parameters
    ----------
    stature_m : float
        Height of the rest mesh from the bare soles to the top of the skull.
    shape : dict
        Shape parameters of the body model (gender, age, muscle, weight, height, proportions), 0..1.

    Returns
    -------
    Body
    """
    model = _model()
    labels, parents = list(model.bone_labels), [int(p) for p in model.bone_parents]
    rest = model(phenotype_kwargs=shape)
    # The model faces -y with its left hand at +x; ours faces +x with its left hand at +y.
    turn = np.array([[0.0, -1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
    vertices = rest["rest_vertices"][0].detach().numpy().astype(np.float64) @ turn.T
    all_heads = rest["rest_bone_heads"][0].detach().numpy().astype(np.float64) @ turn.T
    all_tails = rest["rest_bone_tails"][0].detach().numpy().astype(np.float64) @ turn.T
    low = vertices[:, 2].min()
    scale = stature_m / (vertices[:, 2].max() - low)
    shift = np.array([0.0, 0.0, low])
    vertices, all_heads, all_tails = ((a - shift) * scale for a in (vertices, all_heads, all_tails))
    heads = {bone: all_heads[i] for i, bone in enumerate(labels)}
    fingertip = all_tails[labels.index("finger3-3.L")]
    vertices = _closed_fists(vertices, heads, labels, parents, model)

    owner = np.asarray(_segment_of_bones(labels, parents))
    indices, bone_weights = model.vertex_bone_indices.numpy(), model.vertex_bone_weights.numpy()
    weights = np.zeros((len(vertices), len(SEGMENTS)))
    rows = np.repeat(np.arange(len(vertices)), indices.shape[1])
    np.add.at(weights, (rows, owner[indices].ravel()), bone_weights.ravel())
    weights /= weights.sum(1, keepdims=True)

    segment_heads = _segment_heads(heads)
    faces = np.asarray(model.faces.numpy(), dtype=np.int64)
    faces = faces[~_inside_mouth(labels, indices, bone_weights)[faces].any(1)]
    points = _truth_points(heads, vertices, weights, stature_m)
    arm = (
        np.linalg.norm(heads["lowerarm01.L"] - heads["upperarm01.L"])
        + np.linalg.norm(heads["wrist.L"] - heads["lowerarm01.L"])
        + sum(
            np.linalg.norm(b - a)
            for a, b in (
                (heads["wrist.L"], heads["finger3-1.L"]),
                (heads["finger3-1.L"], heads["finger3-2.L"]),
                (heads["finger3-2.L"], heads["finger3-3.L"]),
                (heads["finger3-3.L"], fingertip),
            )
        )
    )
    return Body(
        stature_m=stature_m,
        vertices_m=vertices,
        faces=faces,
        weights=weights,
        heads_m=segment_heads,
        points_m=points,
        arm_length_m=float(arm),
    )


def _inside_mouth(
    labels: list[str], indices: NDArray[np.int64], weights: Floats
) -> NDArray[np.bool_]:
    hidden = np.array([bone.startswith("tongue") for bone in labels])
    result: NDArray[np.bool_] = (weights * hidden[indices]).sum(1) > 0.5
    return result


def _segment_heads(heads: dict[str, Floats]) -> Floats:
    named = {v: k for k, v in _BONE_TO_SEGMENT.items()}
    result = []
    for segment in SEGMENTS:
        side, stem = "", segment
        for word, letter in (("left_", ".L"), ("right_", ".R")):
            if segment.startswith(word):
                side, stem = letter, segment[len(word) :]
        if segment == "pelvis":
            result.append((heads["upperleg01.L"] + heads["upperleg01.R"]) / 2)
        elif stem == "toes":
            result.append(heads["toe2-1" + side])
        else:
            result.append(heads[named[stem] + side])
    return np.stack(result)


def _truth_points(
    heads: dict[str, Floats], vertices: Floats, weights: Floats, stature_m: float
) -> dict[str, Floats]:
    size = stature_m / 1.8
    dominant = weights.argmax(1)
    head = vertices[dominant == SEGMENTS.index("head")]
    eye_z = heads["eye.L"][2]
    face = head[
        (np.abs(head[:, 1]) < 0.02 * size)
        & (head[:, 2] < eye_z)
        & (head[:, 2] > eye_z - 0.09 * size)
    ]
    points = {"nose": face[face[:, 0].argmax()].copy()}
    ear_x = heads["head"][0]
    for side, letter, sign in (("left", "L", 1.0), ("right", "R", -1.0)):
        points[f"{side}_eye"] = heads[f"eye.{letter}"] + np.array([0.012 * size, 0.0, 0.0])
        level = head[np.abs(head[:, 2] - eye_z + 0.015 * size) < 0.03 * size]
        outer = level[np.argsort(-sign * level[:, 1])[:24]].mean(0)
        points[f"{side}_ear"] = np.array(
            [min(outer[0], ear_x + 0.05), outer[1] - sign * 0.006, outer[2]]
        )
        for name, bone in (
            ("shoulder", "upperarm01"),
            ("elbow", "lowerarm01"),
            ("wrist", "wrist"),
            ("hip", "upperleg01"),
            ("knee", "lowerleg01"),
            ("ankle", "foot"),
        ):
            points[f"{side}_{name}"] = heads[f"{bone}.{letter}"]
        centre, ahead, across, palm = _hand_axes(heads, letter)
        points[f"{side}_hand"] = centre + palm * 0.024 * size + ahead * 0.006 * size
        points[f"{side}_knuckle_line"] = across
        foot = vertices[
            (dominant == SEGMENTS.index(f"{side}_foot"))
            | (dominant == SEGMENTS.index(f"{side}_toes"))
        ]
        low = foot[foot[:, 2] < 0.05 * size]
        heel = low[low[:, 0] < low[:, 0].min() + 0.01 * size].mean(0)
        tip = low[low[:, 0] > low[:, 0].max() - 0.01 * size].mean(0)
        points[f"{side}_heel"] = np.array([heel[0], heel[1], 0.02 * size])
        points[f"{side}_toe"] = np.array([tip[0], tip[1], 0.02 * size])
    return points
