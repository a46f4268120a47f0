"""Joints in the field frame, in metres, from clean tracks and the scene.

A joint lies on the ray through its image point. What the ray leaves open, the depth, comes from
where the feet stand (a ray meets the ground), carried on between contacts by the size of the body,
plus the joint's depth against the hips in the pose model's metric body.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from calibration.camera import field_from_camera, plane_depth_m, ray, to_field
from calibration.known_athlete import SIZE_NOISE
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

FOOT_NOISE_M = 0.03
"""Standard uncertainty of the height of a standing foot's points: sole, pixel and pose model."""

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
    # Joint after joint, and x apart from y: memory is read in the order of the arithmetic.
    image_px = np.ascontiguousarray(placed.image_px[window].T)
    depth_m = np.ascontiguousarray(placed.depth_m[window].T)
    errors, unsteady_px, ratio = None, None, None
    if n_draws > 1:
        # Single precision is a tenth of a millimetre here, and halves the time of the draws.
        image_px, depth_m = image_px.astype(np.float32), depth_m.astype(np.float32)
        if sources.keypoints:
            errors = _draw_joint_errors(placed, window, time_s, n_draws, seed)
        if sources.scene and scene.unsteady_px > 0.0:
            unsteady_px = _unsteadiness_px(scene, time_s[window], n_draws, seed)
        if scene.grade == "C":
            by_size = scene.focal_px[:n_draws] * scene.body_scale[:n_draws]
            ratio = (by_size / by_size[0])[None].astype(np.float32)
        else:
            ratio = _depth_ratio(placed, scene, window, n_draws, unsteady_px).astype(np.float32)
    joints = _from_picture(image_px, depth_m, scene, n_draws, errors, unsteady_px, ratio)
    if n_draws > 1 and sources.scene and scene.unsteady_px > 0.0:
        # The same for all people: seeds differ in their last number only.
        generator = np.random.default_rng([*seed[:2], 2])
        carried = _slow_noise_of_two(generator, time_s[window], n_draws)
        joints[..., :2] += np.float32(CARRIED_M) * carried.T[:, :, None]
    if scene.grade == "C":
        joints[..., 2] -= _own_floor_m(joints, placed, window, time_s)[..., None]
    size = scene.body_scale[:n_draws] / scene.body_scale[0]
    stature, arm_length = placed.stature_m * size, placed.arm_length_m * size
    own = np.random.default_rng(seed).standard_normal((2, n_draws - 1))
    if sources.stature:
        stature[1:] *= 1.0 + placed.stature_spread * own[0]
    if sources.keypoints:
        arm_length[1:] *= 1.0 + joint_offsets(placed.model).u_arm * own[1]
    return Motion(
        time_s=time_s[window],
        first_frame=start,
        joints_m=joints,
        contact=placed.contact[window],
        landed=placed.landed[window],
        stature_m=stature,
        arm_length_m=arm_length,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Knots:
    """Instants between which noise changes along straight lines, its variance kept at 1.

    Attributes
    ----------
    number
        How many there are.
    index
        (n_frames,) the one before each frame.
    before, after
        (n_frames, 1) shares of the values at that one and at the next.
    """

    number: int
    index: npt.NDArray[np.int_]
    before: FloatArray
    after: FloatArray

    @classmethod
    def of(cls, time_s: FloatArray, knot_s: float) -> _Knots:
        """Lay knots `knot_s` apart over the frames."""
        knot = (time_s - time_s[0]) / knot_s
        index = knot.astype(int)
        part = (knot - index)[:, None]
        size = np.sqrt(part**2 + (1 - part) ** 2)
        return cls(
            number=int(knot[-1]) + 2,
            index=index,
            before=((1 - part) / size).astype(np.float32),
            after=(part / size).astype(np.float32),
        )

    def between(self, values: FloatArray) -> FloatArray:
        """``S + (n_frames, n_draws)`` noise from that at the knots, ``S + (number, n_draws)``."""
        noise = np.take(values, self.index, axis=-2)
        noise *= self.before
        after = np.take(values, self.index + 1, axis=-2)
        after *= self.after
        noise += after
        return noise


@dataclass(frozen=True, slots=True, kw_only=True)
class _JointErrors:
    """Draws of the joints' errors in the picture and in depth; draw 0 has none.

    Attributes
    ----------
    lasting
        (3, 23, n_draws) offsets of unit variance along x, y and in depth.
    knots, wander
        (2, 23, n_knots, n_draws) changing offsets of unit variance along x and y, at the knots.
    sway_m
        (n_frames, n_draws) of the whole body in depth.
    lasting_px, wander_px
        (23, n_frames, 1) standard deviations of the offsets in the picture.
    lasting_m, wander_m
        (23,) standard deviations of the offsets in depth.
    free
        (23, n_frames, 1) share of the error in depth that a standing foot leaves.
    """

    lasting: FloatArray
    knots: _Knots
    wander: FloatArray
    sway_m: FloatArray
    lasting_px: FloatArray
    wander_px: FloatArray
    lasting_m: FloatArray
    wander_m: FloatArray
    free: FloatArray

    def added_to(
        self, point_px: FloatArray, depth_m: FloatArray, joint: int
    ) -> tuple[FloatArray, FloatArray]:
        """Add those of one joint: to (2, n_frames, 1) px and (n_frames, 1) m; a column per draw."""
        points = self.knots.between(self.wander[:, joint])
        depth = self.sway_m + self.lasting_m[joint] * self.lasting[2, joint]
        # The noise of another draw serves for the depth: within a draw the two are independent.
        depth[:, 1:] += self.wander_m[joint] * points[0, :, :-1]
        depth *= self.free[joint]
        depth += depth_m
        points *= self.wander_px[joint]
        points += self.lasting[:2, joint, None] * self.lasting_px[joint]
        points += point_px
        return points, depth


def _draw_joint_errors(
    placed: Placed, window: slice, time_s: FloatArray, n_draws: int, seed: Sequence[int]
) -> _JointErrors:
    """Draw the joints' errors over some frames."""
    generator = np.random.default_rng(seed)
    size_px, n_joints = placed.size_px[window], len(JOINTS)
    knots = _Knots.of(time_s[window], WANDER_S)
    lasting = generator.standard_normal((3, n_draws, n_joints), dtype=np.float32)
    wander = generator.standard_normal((2, n_draws, knots.number, n_joints), dtype=np.float32)
    sway = generator.standard_normal((n_draws, knots.number), dtype=np.float32)
    for errors in (*lasting, *wander, sway):
        errors[0] = 0.0
    spreads = joint_offsets(placed.model)
    wander_of_stature = CALM_SHARE * spreads.u_picture[:, 1]
    wander_px = np.hypot(placed.noise_px[window], np.outer(size_px, wander_of_stature))
    lasting_m, wander_m = (placed.stature_m * spreads.u_metric.T).astype(np.float32)
    spread_m = placed.depth_spread_m[window].astype(np.float32)
    lasting_px = np.outer(LASTING_SHARE * spreads.u_picture[:, 0], size_px)
    free = 1.0 - GROUNDED_SHARE * placed.grounded[window]
    return _JointErrors(
        lasting=np.ascontiguousarray(np.moveaxis(lasting, 2, 1)),
        knots=knots,
        wander=np.ascontiguousarray(wander.transpose(0, 3, 2, 1)),
        sway_m=knots.between(np.ascontiguousarray(sway.T)) * spread_m[:, None],
        lasting_px=lasting_px.astype(np.float32)[..., None],
        wander_px=wander_px.T.astype(np.float32)[..., None],
        lasting_m=lasting_m,
        wander_m=wander_m,
        free=free.T.astype(np.float32)[..., None],
    )


def _from_picture(
    image_px: FloatArray,
    depth_m: FloatArray,
    scene: Scene,
    n_draws: int,
    errors: _JointErrors | None,
    unsteady_px: FloatArray | None,
    ratio: FloatArray | None,
) -> FloatArray:
    """Joints in the field frame from image points (2, 23, n_frames) and depths (23, n_frames).

    `calibration.camera.ray` and `to_field` for many draws, one joint at a time: large arrays in
    between would take twice the time.

    Parameters
    ----------
    image_px, depth_m, scene, n_draws
        By the best estimate; the camera; how many draws.
    errors, unsteady_px, ratio
        What draws add to the points and depths of a joint; add to all points, (2, n_frames,
        n_draws); multiply all depths by. None for nothing.

    Returns
    -------
    numpy.ndarray
        (n_draws, n_frames, 23, 3), in memory the other way round: the draws of a joint's
        coordinate in a frame lie together, as measures take them.
    """
    kind = depth_m.dtype
    rotation = field_from_camera(scene.pitch_deg[:n_draws], scene.roll_deg[:n_draws])
    rotation = np.ascontiguousarray(np.moveaxis(rotation, 0, -1), kind)
    focal_px, height_m = (
        scene.focal_px[:n_draws].astype(kind),
        scene.height_m[:n_draws].astype(kind),
    )
    principal_px = scene.principal_px.astype(kind)
    joints = np.empty((3, *depth_m.shape, n_draws), kind)
    for joint in range(depth_m.shape[0]):
        point_px, depth = image_px[:, joint, :, None], depth_m[joint, :, None]
        if errors is not None:
            point_px, depth = errors.added_to(point_px, depth, joint)
        if unsteady_px is not None:
            point_px = point_px + unsteady_px
        if ratio is not None:
            depth = depth * ratio
        camera_m = (point_px - principal_px[:, None, None]) * (depth / focal_px)
        for axis, (right, down, forward) in enumerate(rotation):
            np.multiply(forward, depth, out=joints[axis, joint])
            joints[axis, joint] += right * camera_m[0]
            joints[axis, joint] += down * camera_m[1]
        joints[2, joint] += height_m
    return joints.T


def _unsteadiness_px(
    scene: Scene, time_s: FloatArray, n_draws: int, seed: Sequence[int]
) -> FloatArray:
    """Draws (2, n_frames, n_draws) of how the whole picture still moves; draw 0 is steady."""
    generator = np.random.default_rng([*seed[:2], 1])
    moved = _slow_noise_of_two(generator, time_s, n_draws)
    return np.asarray(np.float32(scene.unsteady_px) * moved)


def _slow_noise_of_two(
    generator: np.random.Generator, time_s: FloatArray, n_draws: int
) -> FloatArray:
    """Two coordinates of noise of unit variance that changes slowly: (2, n_frames, n_draws)."""
    knots = _Knots.of(time_s, UNSTEADY_S)
    values = generator.standard_normal((n_draws, knots.number, 2), dtype=np.float32)
    values[0] = 0.0
    return knots.between(np.ascontiguousarray(values.T))


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
    placed: Placed, scene: Scene, window: slice, n_draws: int, unsteady_px: FloatArray | None
) -> FloatArray:
    """(n_frames, n_draws) how much further each draw puts the person, by ground and by size.

    The lower the camera, the less the ground determines a depth, and the more the body's size.
    """
    focal_px = scene.focal_px[:n_draws]
    rotation = field_from_camera(scene.pitch_deg[:n_draws], scene.roll_deg[:n_draws])
    feet = foot_middle(placed.image_px[window])
    depth = foot_middle(placed.depth_m[window, :, None])[..., 0].mean(axis=1)
    best = ray(feet.mean(axis=1), focal_px[:1], scene.principal_px) * depth[:, None]
    point = to_field(best, rotation[0], scene.height_m[0])
    point[:, 2] = 0.0
    # The image of the ground point below the person, by the best camera.
    below = (point - np.array([0.0, 0.0, scene.height_m[0]])) @ rotation[0]
    slope = (below[:, :2] / below[:, 2:]).T[..., None]
    if unsteady_px is not None:
        slope = slope + unsteady_px / focal_px[0]
    rays = np.ones((3, depth.size, n_draws))
    rays[:2] = slope * (focal_px[0] / focal_px)
    height_m = scene.height_m[:n_draws]
    ground = plane_depth_m(np.moveaxis(rays, 0, -1), rotation, height_m)
    by_ground = ground / ground[:, :1]
    by_size = focal_px * scene.body_scale[:n_draws]
    by_size = by_size / by_size[:1]
    # An error e of a foot's height changes the depth of the ground below it by e / height.
    share = SIZE_NOISE**2 / (SIZE_NOISE**2 + (FOOT_NOISE_M / height_m) ** 2)
    return np.asarray(by_size + share * (by_ground - by_size))
