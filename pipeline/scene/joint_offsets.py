"""Offsets of a pose model's points from the joint centres, and how much they vary.

The points follow surfaces and habits of the people who marked the model's training pictures: a hip
lies in front of the joint, a shoulder above it. What is the same on every body is removed; what is
left is in the uncertainty. Each shipped model has its table, ``joint_offsets_NAME.toml``, which
states the rendered bodies that ``python -m tests.bench.joint_offsets`` estimated it on.

Offsets of any other model are the mean of the shipped ones. How far those differ among each other
is added to its spreads: a further model may differ from them as they do.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

from models import MODELS
from pipeline.core.toml_file import read_toml
from pipeline.core.types import JOINTS, FloatArray


def table_path(model: str) -> Path:
    """Table of a shipped model."""
    return Path(__file__).with_name(f"joint_offsets_{model}.toml")


PARTS = tuple(dict.fromkeys(name.split("_")[-1] for name in JOINTS))
"""Joints without their side; the body is taken to be symmetric."""

ENTRIES = ("picture", "metric", "u_picture", "u_metric")


@dataclass(frozen=True, slots=True, kw_only=True)
class JointOffsets:
    """Offsets of the model's points from the joint centres, as shares of stature.

    Attributes
    ----------
    picture
        (23, 3) of the points in the picture: forward, to the body's left, up.
    metric
        (23, 3) of the metric landmarks against the hips, the same axes; only their depth is used.
    u_picture
        (23, 2) standard deviation of what is left in one direction of the picture: of the mean over
        a clip, and about that mean.
    u_metric
        (23, 2) the same of the depth against the hips.
    arm
        (2,) true arm length over each of the readings of `pipeline.scene.depth`.
    u_arm
        Relative standard uncertainty of the mean of the two, brought to true arms.
    chain
        Shank, thigh and trunk of the model's metric body, as a share of stature.
    """

    picture: FloatArray
    metric: FloatArray
    u_picture: FloatArray
    u_metric: FloatArray
    arm: FloatArray
    u_arm: float
    chain: float


@lru_cache(maxsize=8)
def joint_offsets(model: str) -> JointOffsets:
    """Give the offsets of a pose model.

    Parameters
    ----------
    model
        As in the settings: one of `models.MODELS`, or the path of another bundle.
    """
    if model not in MODELS:
        return of_unknown_model([joint_offsets(name) for name in MODELS])
    table = read_toml(table_path(model)).table
    rows = [table["offsets"][name.split("_")[-1]] for name in JOINTS]
    # Outward is to the left for a left joint and to the right for a right one.
    side = np.array([-1.0 if name.startswith("right_") else 1.0 for name in JOINTS])
    mirrored = np.stack([np.ones_like(side), side, np.ones_like(side)], axis=-1)
    values = {key: np.array([row[key] for row in rows], dtype=float) for key in ENTRIES}
    return JointOffsets(
        picture=values["picture"] * mirrored,
        metric=values["metric"] * mirrored,
        u_picture=values["u_picture"],
        u_metric=values["u_metric"],
        arm=np.array([table["arm"]["metric"], table["arm"]["picture"]], dtype=float),
        u_arm=float(table["arm"]["u_share"]),
        chain=float(table["body"]["chain"]),
    )


def of_unknown_model(known: Sequence[JointOffsets]) -> JointOffsets:
    """Give offsets of a model of which nothing is known but that it is like these."""
    n_known = len(known)

    def differ(values: Sequence[FloatArray]) -> FloatArray:
        """Spread of one more value about the mean of the known ones."""
        return np.asarray(np.std(values, axis=0, ddof=1) * np.sqrt(1.0 + 1.0 / n_known))

    def wider(own: str, offset: str) -> FloatArray:
        spreads = np.sqrt(np.mean([getattr(one, own) ** 2 for one in known], axis=0))
        off = differ([getattr(one, offset) for one in known]).max(axis=-1)
        return np.stack([np.hypot(spreads[:, 0], off), spreads[:, 1]], axis=-1)

    arm = np.mean([one.arm for one in known], axis=0)
    u_arm_of = float(np.sqrt(np.mean([one.u_arm**2 for one in known])))
    arm_off = float((differ([one.arm for one in known]) / arm).max())
    return JointOffsets(
        picture=np.mean([one.picture for one in known], axis=0),
        metric=np.mean([one.metric for one in known], axis=0),
        u_picture=wider("u_picture", "picture"),
        u_metric=wider("u_metric", "metric"),
        arm=arm,
        u_arm=float(np.hypot(u_arm_of, arm_off)),
        chain=float(np.mean([one.chain for one in known])),
    )


def body_axes(body_m: FloatArray, up: FloatArray) -> FloatArray:
    """Directions of the body by its shoulders and hips: forward, to its left, up.

    Parameters
    ----------
    body_m
        (n_frames, 23, 3) metric body in camera axes.
    up
        (3,) the way up in camera axes.

    Returns
    -------
    numpy.ndarray
        (n_frames, 3, 3); columns are the directions in camera axes, unit length.
    """

    def line(part: str) -> FloatArray:
        left, right = JOINTS.index(f"left_{part}"), JOINTS.index(f"right_{part}")
        return np.asarray(body_m[:, left] - body_m[:, right])

    across = line("shoulder") + line("hip")
    across = across - (across @ up)[:, None] * up
    with np.errstate(invalid="ignore", divide="ignore"):
        leftward = across / np.linalg.norm(across, axis=-1, keepdims=True)
    return np.stack(
        [np.cross(leftward, up), leftward, np.broadcast_to(up, leftward.shape)], axis=-1
    )
