"""One person placed in depth over a clip: by standing feet, carried on by the size of the body."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calibration.body_size import root_from_size, toward_viewing_ray
from calibration.camera import field_from_camera, plane_depth_m, ray
from calibration.known_athlete import FOOT_LEVEL_OF_STATURE
from pipeline.body_samples import BODY_JOINTS, SIZE_JOINTS, body_size_px, model_stature
from pipeline.feet import foot_middle, landing_frames, standing_feet
from pipeline.spline import spline_smooth
from pipeline.types import BoolArray, FloatArray, Scene, SmoothTracks

DEPTH_CUTOFF_HZ = 2.0
"""Half-gain frequency of the path of the hips in depth."""

SIZE_WEIGHT = 0.03
"""Weight of a depth read from the size of the body against one read from a standing foot."""

RATIO_CUTOFF_HZ = 0.5
"""Half-gain frequency of the slow error of the size of the metric body."""

OTHER_STATURE_SPREAD = 0.05
"""Standard deviation of a stature read from where the feet stand, as a share."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """One person placed before the camera: the best estimate over the whole clip.

    Attributes
    ----------
    depth_m
        (n_frames, 23) depth of each joint along the optical axis; NaN where unknown.
    image_px
        (n_frames, 23, 2) the joints' image points.
    noise_px
        (n_frames, 23) their noise.
    contact
        (n_frames, 2) standing feet.
    landed
        (n_frames, 2) feet that land.
    size_px
        (n_frames,) stature in the picture.
    stature_m, stature_spread
        Stature of this person (given for the athlete, estimated for the defender), and how far
        that is off on top of the scene's scale, as a share.
    """

    depth_m: FloatArray
    image_px: FloatArray
    noise_px: FloatArray
    contact: BoolArray
    landed: BoolArray
    size_px: FloatArray
    stature_m: float
    stature_spread: float


def place_person(tracks: SmoothTracks, person: int, scene: Scene) -> Placed:
    """Place a person's joints in depth by standing feet and by the size of the body.

    Without a ground (grade C) by the size of the body alone.

    Parameters
    ----------
    tracks
        Clean tracks.
    person
        0 for the athlete, 1 for the defender.
    scene
        The camera.

    Returns
    -------
    Placed
    """
    image_px, body_m, time_s = tracks.image_px[person], tracks.body_m[person], tracks.time_s
    focal_px = float(scene.focal_px[0])
    has_ground = scene.grade != "C"
    needed = BODY_JOINTS if has_ground else SIZE_JOINTS
    known = np.isfinite(image_px[:, needed]).all(axis=(1, 2))
    size_px = body_size_px(image_px, body_m)
    contact = standing_feet(image_px, time_s, size_px, tracks.overlapped[person])
    slope = (image_px - scene.principal_px) / focal_px
    middle = slope[:, SIZE_JOINTS].mean(axis=1)
    turned = toward_viewing_ray(body_m, middle)
    root = root_from_size(slope[:, SIZE_JOINTS], turned[:, SIZE_JOINTS], np.ones(len(SIZE_JOINTS)))
    unit_depth = root[:, 2]  # depth for a body of model size

    rotation = field_from_camera(scene.pitch_deg[:1], scene.roll_deg[:1])
    rays = ray(foot_middle(image_px), np.array(focal_px), scene.principal_px)
    foot_depth = plane_depth_m(
        rays, rotation[0], scene.height_m[0], FOOT_LEVEL_OF_STATURE * float(scene.stature_m[0])
    )
    foot_offset = foot_middle(turned)[..., 2]

    if not has_ground:
        foot_depth = np.full_like(foot_depth, np.nan)
    scale = _own_scale(foot_depth, unit_depth[:, None] + foot_offset, contact, scene, person)
    hip_from_foot = np.where(contact, foot_depth - scale * foot_offset, np.nan)
    with np.errstate(invalid="ignore"):
        n_contact = contact.sum(axis=1)
        from_feet = np.nansum(hip_from_foot, axis=1) / np.where(n_contact > 0, n_contact, np.nan)
    hip_depth = _fuse_depth(time_s, from_feet, scale * unit_depth, known)
    return Placed(
        depth_m=hip_depth[:, None] + scale * turned[..., 2],
        image_px=image_px,
        noise_px=tracks.noise_px[person],
        contact=contact,
        landed=landing_frames(image_px, time_s, size_px),
        size_px=size_px,
        stature_m=scale * model_stature(body_m[known]) if known.any() else float("nan"),
        stature_spread=0.0 if person == 0 else OTHER_STATURE_SPREAD,
    )


def _own_scale(
    foot_depth: FloatArray,
    unit_foot_depth: FloatArray,
    contact: BoolArray,
    scene: Scene,
    person: int,
) -> float:
    """Factor from model size to this person: the scene's for the athlete, his feet's for others."""
    if person == 0:
        return float(scene.body_scale[0])
    ratio = foot_depth / unit_foot_depth
    usable = contact & np.isfinite(ratio)
    return float(np.median(ratio[usable])) if usable.any() else float(scene.body_scale[0])


def _fuse_depth(
    time_s: FloatArray, from_feet: FloatArray, from_size: FloatArray, known: BoolArray
) -> FloatArray:
    """One smooth path in depth: the feet where they stand, the body's size in between."""
    result = np.full(time_s.size, np.nan)
    known = known & np.isfinite(from_size)  # nothing where the scale is unknown
    if known.sum() < 4:
        return result
    ratio = from_feet / from_size
    plausible = np.isfinite(ratio) & (ratio > 0.6) & (ratio < 1.6)
    slow: FloatArray = np.ones(time_s.size)
    if plausible.sum() >= 4:
        centre = np.median(ratio[plausible])
        near = np.abs(ratio - centre) < 0.25
        slow = spline_smooth(
            time_s, ratio[:, None], (plausible & near).astype(float), RATIO_CUTOFF_HZ
        )[:, 0]
    corrected = from_size * slow
    with np.errstate(invalid="ignore"):
        trusted = plausible & (np.abs(from_feet / corrected - 1) < 0.12)
    weight = np.where(trusted, 1.0, np.where(known, SIZE_WEIGHT, 0.0))
    value = np.where(trusted, from_feet, corrected)
    smooth = spline_smooth(time_s, value[:, None], weight, DEPTH_CUTOFF_HZ)[:, 0]
    result[known] = smooth[known]
    return result
