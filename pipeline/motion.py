"""Joints in the field frame, in metres, from clean tracks and the scene.

A joint lies on the ray through its image point. What the ray leaves open, the depth, comes from
where the feet stand (a ray meets the ground), carried on between contacts by the size of the body,
plus the joint's depth against the hips in the pose model's metric body.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from calibration.body_size import root_from_size, toward_viewing_ray
from calibration.camera import field_from_camera, plane_depth_m, ray, to_field
from calibration.known_athlete import FOOT_LEVEL_OF_STATURE
from pipeline.feet import foot_middle, standing_feet
from pipeline.scene import BODY_JOINTS, SIZE_JOINTS, body_size_px, model_stature
from pipeline.spline import spline_smooth
from pipeline.types import JOINTS, BoolArray, FloatArray, Motion, Scene, SmoothTracks

DEPTH_CUTOFF_HZ = 3.0
"""Half-gain frequency of the path of the hips in depth."""

SIZE_WEIGHT = 0.03
"""Weight of a depth read from the size of the body against one read from a standing foot."""

RATIO_CUTOFF_HZ = 0.5
"""Half-gain frequency of the slow error of the size of the metric body."""

JOINT_BIAS_OF_STATURE = 0.006
"""Standard deviation of a joint's lasting offset in the picture, as a share of stature."""

JOINT_WANDER_OF_STATURE = 0.006
"""Standard deviation of the offset that changes with the pose, as a share of stature."""

WANDER_S = 0.2
"""Time over which that offset changes."""

_DEPTH_BIAS_OF_PART_M = {
    "hand": 0.15,
    "wrist": 0.15,
    "elbow": 0.10,
    "nose": 0.02,
    "eye": 0.02,
    "ear": 0.02,
}
DEPTH_BIAS_M = np.array(
    [_DEPTH_BIAS_OF_PART_M.get(name.split("_")[-1], 0.06) for name in JOINTS], dtype=np.float32
)
"""(23,) standard deviation of a joint's lasting offset in depth against the hips; that of the parts
of the head is against one another, for they are only used together."""

OTHER_STATURE_SPREAD = 0.05
"""Standard deviation of a stature read from where the feet stand, as a share."""

BODY_SWAY_M = 0.05
"""Standard deviation of the whole body's wandering in depth about its smooth path."""


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
    size_px: FloatArray
    stature_m: float
    stature_spread: float


def place_person(tracks: SmoothTracks, person: int, scene: Scene) -> Placed:
    """Place a person's joints in depth by standing feet and by the size of the body.

    Parameters
    ----------
    tracks
        Clean tracks.
    person
        0 for the athlete, 1 for the defender.
    scene
        Grade A or B.

    Returns
    -------
    Placed
    """
    image_px, body_m, time_s = tracks.image_px[person], tracks.body_m[person], tracks.time_s
    focal_px = float(scene.focal_px[0])
    known = np.isfinite(image_px[:, BODY_JOINTS]).all(axis=(1, 2))
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
        size_px=size_px,
        stature_m=scale * model_stature(body_m[known]) if known.any() else float("nan"),
        stature_spread=0.0 if person == 0 else OTHER_STATURE_SPREAD,
    )


def motion_of(
    placed: Placed,
    time_s: FloatArray,
    scene: Scene,
    start: int,
    stop: int,
    *,
    n_draws: int,
    seed: Sequence[int] = (0,),
) -> Motion:
    """Joints in the field frame over the frames `start` to `stop`, for the first `n_draws` draws.

    Draw 0 is the best estimate. Each further draw sees the same picture with another camera of the
    scene, with a lasting offset of every joint in the picture and in depth, and with the noise
    that smoothing left.

    Parameters
    ----------
    placed
        From `place_person`.
    time_s
        (n,) times of the clip.
    scene
        The camera.
    start, stop
        Frame span, stop not included.
    n_draws
        1 for the best estimate alone.
    seed
        Of the random offsets.

    Returns
    -------
    Motion
    """
    window = slice(start, stop)
    image_px = placed.image_px[None, window]
    depth_m = placed.depth_m[None, window]
    if n_draws > 1:
        # Single precision is a tenth of a millimetre here, and halves the time of the draws.
        image_px, depth_m = image_px.astype(np.float32), depth_m.astype(np.float32)
        generator = np.random.default_rng(seed)
        offset_px, offset_depth = _joint_errors(placed, window, time_s, n_draws, generator)
        image_px = image_px + offset_px
        depth_m = depth_m + offset_depth
        ratio = _depth_ratio(placed, scene, window, n_draws).astype(np.float32)
        depth_m = depth_m * ratio[:, :, None]
    joints = _from_picture(image_px, depth_m, scene, n_draws)
    stature = placed.stature_m * scene.body_scale[:n_draws] / scene.body_scale[0]
    stature[1:] *= 1.0 + placed.stature_spread * np.random.default_rng(seed).standard_normal(
        n_draws - 1
    )
    return Motion(
        time_s=time_s[window],
        first_frame=start,
        joints_m=joints,
        contact=placed.contact[window],
        stature_m=stature,
    )


def _from_picture(
    image_px: FloatArray, depth_m: FloatArray, scene: Scene, n_draws: int
) -> FloatArray:
    """Joints (n_draws, n_frames, 23, 3) in the field frame from image points and depths.

    `calibration.camera.ray` and `to_field` for many draws, without their large arrays in between.
    """

    def by_draw(values: FloatArray) -> FloatArray:
        return np.asarray(values[:n_draws, None, None], dtype=depth_m.dtype)

    rotation = field_from_camera(scene.pitch_deg[:n_draws], scene.roll_deg[:n_draws])
    principal_px = scene.principal_px.astype(depth_m.dtype)
    scaled = depth_m / by_draw(scene.focal_px)
    camera = (
        (image_px[..., 0] - principal_px[0]) * scaled,
        (image_px[..., 1] - principal_px[1]) * scaled,
        depth_m,
    )
    joints = np.empty((*np.broadcast_shapes(depth_m.shape, scaled.shape), 3), depth_m.dtype)
    for axis in range(3):
        joints[..., axis] = sum(by_draw(rotation[:, axis, i]) * camera[i] for i in range(3))
    joints[..., 2] += by_draw(scene.height_m)
    return joints


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
    known = known & np.isfinite(from_size)  # nothing where the scale is unknown (grade C)
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


def _joint_errors(
    placed: Placed,
    window: slice,
    time_s: FloatArray,
    n_draws: int,
    generator: np.random.Generator,
) -> tuple[FloatArray, FloatArray]:
    """Draws of the joints' errors in the picture (px) and in depth (m); draw 0 has none."""
    size_px = placed.size_px[window]
    n_joints = len(JOINTS)
    lasting = generator.standard_normal((n_draws, 1, n_joints, 3), dtype=np.float32)
    wander = _slow_noise(generator, time_s[window], (n_draws, n_joints, 2))
    sway = _slow_noise(generator, time_s[window], (n_draws, 1, 1))[..., 0]
    for errors in (lasting, wander, sway):
        errors[0] = 0.0
    spread_px = (JOINT_BIAS_OF_STATURE * size_px).astype(np.float32)[None, :, None, None]
    wander_px = np.hypot(placed.noise_px[window], JOINT_WANDER_OF_STATURE * size_px[:, None])
    wander *= wander_px.astype(np.float32)[None, :, :, None]
    wander += lasting[..., :2] * spread_px
    return wander, DEPTH_BIAS_M * lasting[..., 2] + np.float32(BODY_SWAY_M) * sway


def _slow_noise(
    generator: np.random.Generator, time_s: FloatArray, shape: tuple[int, int, int]
) -> FloatArray:
    """Noise of unit variance that changes over `WANDER_S`: (n_draws, n_frames, *shape[1:])."""
    knot = (time_s - time_s[0]) / WANDER_S
    n_knots = int(knot[-1]) + 2
    values = generator.standard_normal((shape[0], n_knots, *shape[1:]), dtype=np.float32)
    index = knot.astype(int)
    part = (knot - index)[None, :, None, None]
    size = np.sqrt(part**2 + (1 - part) ** 2)
    before, after = ((1 - part) / size).astype(np.float32), (part / size).astype(np.float32)
    return np.asarray(values[:, index] * before + values[:, index + 1] * after)


def _depth_ratio(placed: Placed, scene: Scene, window: slice, n_draws: int) -> FloatArray:
    """(n_draws, n_frames) how much further each draw's camera puts the ground under the person."""
    focal_px = scene.focal_px[:n_draws]
    rotation = field_from_camera(scene.pitch_deg[:n_draws], scene.roll_deg[:n_draws])
    feet = foot_middle(placed.image_px[window])
    depth = foot_middle(placed.depth_m[window, :, None])[..., 0].mean(axis=1)
    best = ray(feet.mean(axis=1), focal_px[:1], scene.principal_px) * depth[:, None]
    point = to_field(best, rotation[0], scene.height_m[0])
    point[:, 2] = 0.0
    # The image of the ground point below the person, by the best camera.
    below = (point - np.array([0.0, 0.0, scene.height_m[0]])) @ rotation[0]
    slope = below[:, :2] / below[:, 2:]
    rays = np.concatenate(
        [slope[None] * (focal_px[0] / focal_px)[:, None, None],
         np.ones((n_draws, slope.shape[0], 1))], axis=-1
    )  # fmt: skip
    ground = plane_depth_m(rays, rotation[:, None], scene.height_m[:n_draws, None])
    return np.asarray(ground / ground[:1])
