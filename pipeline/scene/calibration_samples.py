"""The athlete's body over a clip as calibration needs it: chosen frames, and size as it is seen."""

from __future__ import annotations

import numpy as np

from calibration.balance import above_feet_m
from calibration.known_athlete import BodySamples
from models import UNNAMED_MODEL
from pipeline.core.types import JOINTS, FloatArray, SmoothTracks
from pipeline.people.foot_contact import foot_middle, standing_feet
from pipeline.scene.joint_offsets import body_axes, joint_offsets

SIZE_JOINTS = tuple(
    JOINTS.index(f"{side}_{part}")
    for part in ("shoulder", "hip", "knee", "ankle", "ear")
    for side in ("left", "right")
)
"""Joints that carry the size of the body; the quick ones are left out."""

BODY_JOINTS = (
    *SIZE_JOINTS,
    *(JOINTS.index(f"{side}_{part}") for part in ("heel", "toe") for side in ("left", "right")),
)
"""Joints without which a frame is of no use to the geometry."""

MOST_SAMPLES = 150
FEWEST_SAMPLES = 8


def calibration_samples(tracks: SmoothTracks) -> tuple[BodySamples | None, float]:
    """Choose frames of the athlete for calibration, and read his stature in model-size metres.

    Parameters
    ----------
    tracks
        Clean tracks; person 0 is the athlete.

    Returns
    -------
    tuple
        Samples (None when there are too few frames) and the model-size stature in m.
    """
    image_px, body_m = tracks.image_px[0], tracks.body_m[0]
    usable = np.isfinite(image_px[:, BODY_JOINTS]).all(axis=(1, 2)) & ~tracks.overlapped[0]
    if usable.sum() < FEWEST_SAMPLES:
        return None, float("nan")
    model_stature_m = model_stature(body_m[usable], tracks.model)
    standing = standing_feet(image_px, tracks.time_s, body_size_px(image_px, body_m, tracks.model))
    usable &= standing.any(axis=1)
    index = np.flatnonzero(usable)
    if index.size < FEWEST_SAMPLES:
        return None, model_stature_m
    index = index[np.unique(np.linspace(0, index.size - 1, MOST_SAMPLES).astype(int))]
    # The camera is nearly level, so that its own way up will do to turn the offsets.
    axes = body_axes(body_m[index], np.array([0.0, -1.0, 0.0]))
    true_m = body_m[index] - model_stature_m * np.einsum(
        "nij,kj->nki", axes, joint_offsets(tracks.model).metric
    )
    return (
        BodySamples(
            image_px=image_px[index][:, SIZE_JOINTS],
            body_m=np.concatenate([body_m[index][..., :2], true_m[..., 2:]], axis=-1)[
                :, SIZE_JOINTS
            ],
            foot_px=foot_middle(image_px)[index],
            foot_m=foot_middle(true_m),
            standing=standing[index],
            up_m=above_feet_m(true_m),
            time_s=tracks.time_s[index],
        ),
        model_stature_m,
    )


def model_stature(body_m: FloatArray, model: str) -> float:
    """Stature of the pose model's metric body from its shank, thigh and trunk.

    Parameters
    ----------
    body_m
        (n_frames, 23, 3).
    model
        Pose model that it is from.

    Returns
    -------
    float
        Median over the frames, m.
    """
    return float(np.median(chain_m(body_m)) / joint_offsets(model).chain)


def chain_m(body_m: FloatArray) -> FloatArray:
    """(n_frames,) length of shank, thigh (mean of both legs) and trunk of the metric body."""

    def length(a: str, b: str) -> FloatArray:
        return np.asarray(
            np.linalg.norm(body_m[:, JOINTS.index(a)] - body_m[:, JOINTS.index(b)], axis=-1)
        )

    legs = sum(
        length(f"{side}_{a}", f"{side}_{b}")
        for side in ("left", "right")
        for a, b in (("hip", "knee"), ("knee", "ankle"))
    )
    joint = JOINTS.index
    hips = 0.5 * (body_m[:, joint("left_hip")] + body_m[:, joint("right_hip")])
    shoulders = 0.5 * (body_m[:, joint("left_shoulder")] + body_m[:, joint("right_shoulder")])
    return np.asarray(0.5 * legs + np.linalg.norm(shoulders - hips, axis=-1))


def body_size_px(
    image_px: FloatArray, body_m: FloatArray, model: str = UNNAMED_MODEL
) -> FloatArray:
    """Give what the person's stature would measure in the picture, frame by frame.

    The scale is the ratio of the spread of the joints in the picture to that of the metric body
    seen along the viewing ray (weak perspective).

    Parameters
    ----------
    image_px
        (n_frames, 23, 2).
    body_m
        (n_frames, 23, 3).
    model
        Pose model that they are from.

    Returns
    -------
    numpy.ndarray
        (n_frames,) px; NaN where unknown.
    """
    picture = image_px[:, SIZE_JOINTS]
    body = body_m[:, SIZE_JOINTS, :2]
    spread_px = (picture - picture.mean(axis=1, keepdims=True)).std(axis=(1, 2))
    spread_m = (body - body.mean(axis=1, keepdims=True)).std(axis=(1, 2))
    chain = chain_m(body_m)
    if not np.isfinite(chain).any():
        return np.full(chain.shape, np.nan)
    model_stature_m = np.nanmedian(chain) / joint_offsets(model).chain
    return np.asarray(spread_px / spread_m * model_stature_m)
