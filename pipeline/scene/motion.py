"""Joints in the field frame, in metres, from clean tracks and the scene.

A joint lies on the ray through its image point. What the ray leaves open, the depth, comes from
where the feet stand (a ray meets the ground), carried on between contacts by the size of the body,
plus the joint's depth against the hips in the pose model's metric body.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from calibration.camera import field_from_camera, plane_depth_m, ray, to_field
from pipeline.core.types import JOINTS, FloatArray, Motion, Scene
from pipeline.people.foot_contact import foot_middle
from pipeline.scene.depth import JOINT_LEVEL_OF_STATURE, Placed
from pipeline.scene.joint_offsets import joint_offsets
from pipeline.scene.uncertainty import ALL_SOURCES, Sources

LASTING_SHARE, CALM_SHARE = 0.75, 0.35
"""Joints lie and wander less far off in the picture where measures are read than in the mean over
all frames, swings included."""

GROUNDED_SHARE = 0.75
"""How much less sure the depth of a joint is without a foot that holds it. Both were set so that
95 % intervals hold the truth on rendered clips."""

WANDER_S = 0.2
"""Time over which that offset changes."""

CARRIED_M = 0.03
"""Standard deviation of how far a hand carries the phone to the side and along the view about its
mean place, which steadying by the background cannot undo: the far does not show it."""

UNSTEADY_S = 0.5
"""Time over which what is left of a hand's movement changes in a steadied picture."""


def motion_of(
    placed: Placed,
    time_s: FloatArray,
    scene: Scene,
    start: int,
    stop: int,
    *,
    n_draws: int,
    seed: Sequence[int] = (0,),
    sources: Sources = ALL_SOURCES,
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
    sources
        Which of them are drawn: the joints' own errors and the spread of the stature. The camera's
        are those of the scene as it is given.

    Returns
    -------
    Motion
    """
    window = slice(start, stop)
    # x and y first: arithmetic on every other number of an array takes twice the time.
    image_px = np.ascontiguousarray(np.moveaxis(placed.image_px[None, window], -1, 0))
    depth_m = placed.depth_m[None, window]
    if n_draws > 1:
        # Single precision is a tenth of a millimetre here, and halves the time of the draws.
        image_px, depth_m = image_px.astype(np.float32), depth_m.astype(np.float32)
        generator = np.random.default_rng(seed)
        if sources.keypoints:
            offset_px, offset_depth = _joint_errors(placed, window, time_s, n_draws, generator)
            image_px = offset_px + image_px
            depth_m = depth_m + offset_depth
        unsteady_px = np.zeros((n_draws, 1, 2), np.float32)
        if sources.scene and scene.unsteady_px > 0.0:
            unsteady_px = _unsteadiness_px(scene, time_s[window], n_draws, seed)
            image_px = image_px + np.moveaxis(unsteady_px, -1, 0)[..., None]
        if scene.grade == "C":
            by_size = scene.focal_px[:n_draws] * scene.body_scale[:n_draws]
            ratio = (by_size / by_size[0])[:, None].astype(np.float32)
        else:
            ratio = _depth_ratio(placed, scene, window, n_draws, unsteady_px).astype(np.float32)
        depth_m = depth_m * ratio[:, :, None]
    joints = _from_picture(image_px, depth_m, scene, n_draws)
    if n_draws > 1 and sources.scene and scene.unsteady_px > 0.0:
        # The same for all people: seeds differ in their last number only.
        generator = np.random.default_rng([*seed[:2], 2])
        carried = _slow_noise(generator, time_s[window], (n_draws, 1, 2), UNSTEADY_S)
        carried[0] = 0.0
        joints[..., :2] += np.float32(CARRIED_M) * carried
    if scene.grade == "C":
        joints[..., 2] -= _own_floor_m(joints, placed, window, time_s)[..., None]
    size = scene.body_scale[:n_draws] / scene.body_scale[0]
    stature, arm_length = placed.stature_m * size, placed.arm_length_m * size
    own = np.random.default_rng(seed).standard_normal((2, n_draws - 1))
    if sources.stature:
        stature[1:] *= 1.0 + placed.stature_spread * own[0]
    if sources.keypoints:
        arm_length[1:] *= 1.0 + joint_offsets().u_arm * own[1]
    return Motion(
        time_s=time_s[window],
        first_frame=start,
        joints_m=joints,
        contact=placed.contact[window],
        landed=placed.landed[window],
        stature_m=stature,
        arm_length_m=arm_length,
    )


def _from_picture(
    image_px: FloatArray, depth_m: FloatArray, scene: Scene, n_draws: int
) -> FloatArray:
    """Joints (n_draws, n_frames, 23, 3) in the field frame from image points, x and y first.

    `calibration.camera.ray` and `to_field` for many draws, without their large arrays in between.
    """

    def by_draw(values: FloatArray) -> FloatArray:
        return np.asarray(values[:n_draws, None, None], dtype=depth_m.dtype)

    rotation = field_from_camera(scene.pitch_deg[:n_draws], scene.roll_deg[:n_draws])
    principal_px = scene.principal_px.astype(depth_m.dtype)
    scaled = depth_m / by_draw(scene.focal_px)
    camera = (
        (image_px[0] - principal_px[0]) * scaled,
        (image_px[1] - principal_px[1]) * scaled,
        depth_m,
    )
    joints = np.empty((*np.broadcast_shapes(depth_m.shape, scaled.shape), 3), depth_m.dtype)
    for axis in range(3):
        joints[..., axis] = sum(by_draw(rotation[:, axis, i]) * camera[i] for i in range(3))
    joints[..., 2] += by_draw(scene.height_m)
    return joints


def _joint_errors(
    placed: Placed,
    window: slice,
    time_s: FloatArray,
    n_draws: int,
    generator: np.random.Generator,
) -> tuple[FloatArray, FloatArray]:
    """Draws of the joints' errors in the picture (2, ...) px and in depth (m); draw 0 has none."""
    size_px = placed.size_px[window]
    n_joints = len(JOINTS)
    lasting = generator.standard_normal((3, n_draws, 1, n_joints), dtype=np.float32)
    wander = _slow_noise(generator, time_s[window], (2 * n_draws, n_joints))
    wander = wander.reshape(2, n_draws, -1, n_joints)
    sway = _slow_noise(generator, time_s[window], (n_draws, 1))
    for errors in (*lasting, *wander, sway):
        errors[0] = 0.0
    spreads = joint_offsets()
    lasting_px = np.outer(size_px, LASTING_SHARE * spreads.u_picture[:, 0])
    wander_of_stature = CALM_SHARE * spreads.u_picture[:, 1]
    wander_px = np.hypot(placed.noise_px[window], np.outer(size_px, wander_of_stature))
    lasting_m, wander_m = (placed.stature_m * spreads.u_metric.T).astype(np.float32)
    # The noise of another draw will do for the depth: within a draw the two have nothing in common.
    sway *= placed.depth_spread_m[window].astype(np.float32)[None, :, None]
    off_m = lasting_m * lasting[2] + sway
    off_m[1:] += wander_m * wander[0, :-1]
    wander *= wander_px.astype(np.float32)
    wander += lasting[:2] * lasting_px.astype(np.float32)
    off_m *= (1.0 - GROUNDED_SHARE * placed.grounded[window]).astype(np.float32)
    return wander, off_m


def _unsteadiness_px(
    scene: Scene, time_s: FloatArray, n_draws: int, seed: Sequence[int]
) -> FloatArray:
    """Draws (n_draws, n_frames, 2) of how the whole picture moves yet; draw 0 is steady."""
    generator = np.random.default_rng([*seed[:2], 1])
    moved = _slow_noise(generator, time_s, (n_draws, 1, 2), UNSTEADY_S)[:, :, 0]
    moved[0] = 0.0
    return np.asarray(np.float32(scene.unsteady_px) * moved)


def _slow_noise(
    generator: np.random.Generator,
    time_s: FloatArray,
    shape: tuple[int, ...],
    knot_s: float = WANDER_S,
) -> FloatArray:
    """Noise of unit variance that changes over some time: (n_draws, n_frames, *shape[1:])."""
    knot = (time_s - time_s[0]) / knot_s
    n_knots = int(knot[-1]) + 2
    values = generator.standard_normal((shape[0], n_knots, *shape[1:]), dtype=np.float32)
    index = knot.astype(int)
    part = (knot - index).reshape(1, -1, *(1 for _ in shape[1:]))
    size = np.sqrt(part**2 + (1 - part) ** 2)
    before, after = ((1 - part) / size).astype(np.float32), (part / size).astype(np.float32)
    return np.asarray(values[:, index] * before + values[:, index + 1] * after)


def _own_floor_m(
    joints: FloatArray, placed: Placed, window: slice, time_s: FloatArray
) -> FloatArray:
    """(n_draws, n_frames) height of the floor that the own feet stand on, where no ground is known.

    Under the standing foot; between contacts on a straight line in time. Where no foot was seen to
    stand, the lower one is taken; where none was seen at all, the floor stays where it is.
    """
    level_m = np.float32(JOINT_LEVEL_OF_STATURE * placed.stature_m)
    feet_m = foot_middle(joints)[..., 2] - level_m
    contact = placed.contact[window] & np.isfinite(feet_m).all(axis=0)
    stands = contact.any(axis=1)
    if not stands.any():
        return np.asarray(np.nan_to_num(feet_m.min(axis=-1)))
    share = contact[stands] / contact[stands].sum(axis=1, keepdims=True)
    under_m = (np.nan_to_num(feet_m[:, stands]) * share).sum(axis=-1)
    at_s, seconds = time_s[window][stands], time_s[window]
    after = np.clip(np.searchsorted(at_s, seconds), 0, at_s.size - 1)
    before = np.maximum(after - 1, 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        part = np.clip((seconds - at_s[before]) / (at_s[after] - at_s[before]), 0.0, 1.0)
    part = np.nan_to_num(part, nan=0.0).astype(joints.dtype)
    return np.asarray(under_m[:, before] * (1 - part) + under_m[:, after] * part)


def _depth_ratio(
    placed: Placed, scene: Scene, window: slice, n_draws: int, unsteady_px: FloatArray
) -> FloatArray:
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
    slope = below[:, :2] / below[:, 2:] + unsteady_px / focal_px[0]
    slope = slope * (focal_px[0] / focal_px)[:, None, None]
    rays = np.concatenate([slope, np.ones((*slope.shape[:2], 1))], axis=-1)
    ground = plane_depth_m(rays, rotation[:, None], scene.height_m[:n_draws, None])
    return np.asarray(ground / ground[:1])
