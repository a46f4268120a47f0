"""Places one person in depth over a clip: by arm length, standing feet, and size of the body."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calibration.body_size import root_from_size, toward_viewing_ray
from calibration.camera import field_from_camera, plane_depth_m, ray
from pipeline.core.spline import spline_smooth
from pipeline.core.types import JOINTS, BoolArray, FloatArray, Scene, SmoothTracks
from pipeline.people.foot_contact import landing_frames, standing_feet
from pipeline.scene.calibration_samples import BODY_JOINTS, SIZE_JOINTS, body_size_px, model_stature
from pipeline.scene.joint_offsets import body_axes, joint_offsets

SURE_OF_STATURE = 0.04
"""A frame counts where the noise of the two ends of a segment adds up to less than this."""

LONGEST_PERCENTILE = 92.0
"""A segment is as long as it is seen when it lies across the view; a few frames overshoot."""

FEWEST_ARM_FRAMES = 20

_SIDES = ("left", "right")
_ARM = ("shoulder", "elbow", "wrist", "hand")


def arm_readings_m(
    *,
    body_m: FloatArray,
    scale: float,
    joint_px: FloatArray,
    noise_px: FloatArray,
    metres_per_px: FloatArray,
    size_px: FloatArray,
) -> FloatArray:
    """Two readings of the arm, neither of them yet at the scale of true arms.

    Parameters
    ----------
    body_m
        (n_frames, 23, 3) metric body, model size; NaN where it is not to be used.
    scale
        Factor from model size to this person.
    joint_px, noise_px
        (n_frames, 23, 2) and (n_frames, 23) joints in the picture, and their noise.
    metres_per_px
        (n_frames,) scale of the picture at the person.
    size_px
        (n_frames,) stature in the picture.

    Returns
    -------
    numpy.ndarray
        (2,) m: from the metric body, shoulder to grip; from the picture, shoulder to wrist. NaN
        where the arms were hardly seen.
    """
    known = np.isfinite(body_m).all(axis=(1, 2))
    if known.sum() < FEWEST_ARM_FRAMES:
        return np.full(2, np.nan)
    metric = np.median(
        [np.median(_length(body_m[known], side, _ARM).sum(axis=-1)) for side in _SIDES]
    )
    picture = 0.0
    for start, end in (_ARM[:2], _ARM[1:3]):
        seen_m = []
        for side in _SIDES:
            length_m = _length(joint_px, side, (start, end))[:, 0] * metres_per_px
            ends = [JOINTS.index(f"{side}_{part}") for part in (start, end)]
            with np.errstate(invalid="ignore"):
                sure = noise_px[:, ends].sum(axis=1) < SURE_OF_STATURE * size_px
            usable = known & sure & np.isfinite(length_m)
            if usable.sum() >= FEWEST_ARM_FRAMES:
                seen_m.append(np.percentile(length_m[usable], LONGEST_PERCENTILE))
        picture += float(np.mean(seen_m)) if seen_m else float("nan")
    return np.array([scale * float(metric), picture])


def _length(points: FloatArray, side: str, parts: tuple[str, ...]) -> FloatArray:
    """(n, len(parts) - 1) distances along a chain of joints."""
    chain = points[:, [JOINTS.index(f"{side}_{part}") for part in parts]]
    return np.asarray(np.linalg.norm(np.diff(chain, axis=1), axis=-1))


DEPTH_CUTOFF_HZ = 1.5
"""Half-gain frequency of the path of the hips in depth."""

SIZE_WEIGHT = 0.03
"""Weight of a depth read from the size of the body against one read from a standing foot."""

RATIO_CUTOFF_HZ = 0.5
"""Half-gain frequency of the slow error of the size of the metric body."""

JOINT_LEVEL_OF_STATURE = 0.0245
"""Height of the joints of heel and toe above the ground, shoes included, share of stature; where
they were on the rendered bodies, middle of the frames in which a foot was taken to stand."""

_FEET = np.array(
    [[JOINTS.index(f"{side}_{part}") for part in ("heel", "toe")] for side in ("left", "right")]
)

SEEN_FOOT_NOISE = 0.03
"""A foot that is less sure than this, in statures, is hidden: where it stands is unknown."""

BODY_SWAY_M = 0.05
SWAY_PER_SPEED_S = 0.025
OVERLAPPED_SWAY_M = 0.25
SWAY_GROWS_AFTER_S = 0.1
SWAY_GROWS_MPS = 1.5
GREATEST_SWAY_M = 0.4
"""Standard deviation of the body's wandering in depth about its smooth path: of one who stands,
what a metre a second adds, where another body is in the way, and how it grows while no foot is seen
to stand. By the errors on rendered clips under a known camera."""

SHIFT_CUTOFF_HZ = 4.0
FREE_WEIGHT = 0.03
FURTHEST_SHIFT_M = 0.5
SHIFTED = {"heel": 1.0, "toe": 1.0, "ankle": 1.0, "knee": 0.5}
"""How a leg follows its foot that is put on the ground, and how soon it is let go again."""

FEWEST_FRAMES = 4

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
        (n_frames, 23, 2) the joints' image points: the model's, less their offsets.
    noise_px
        (n_frames, 23) their noise.
    depth_spread_m
        (n_frames,) standard deviation of the whole body's wandering in depth.
    grounded
        (n_frames, 23) how far a joint's depth is held by a foot that stands, 0 to 1.
    contact
        (n_frames, 2) standing feet.
    landed
        (n_frames, 2) feet that land.
    size_px
        (n_frames,) stature in the picture.
    stature_m, stature_spread
        Stature of this person (given for the athlete, estimated for the defender), and how far
        that is off on top of the scene's scale, as a share.
    arm_length_m
        Shoulder to finger tip by this person's own body; NaN where the arms were hardly seen.
    model
        Pose model that found the joints.
    """

    depth_m: FloatArray
    image_px: FloatArray
    noise_px: FloatArray
    depth_spread_m: FloatArray
    grounded: FloatArray
    contact: BoolArray
    landed: BoolArray
    size_px: FloatArray
    stature_m: float
    stature_spread: float
    arm_length_m: float
    model: str


def place_person(
    tracks: SmoothTracks,
    person: int,
    scene: Scene,
    *,
    contact: BoolArray | None = None,
    landed: BoolArray | None = None,
) -> Placed:
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
    contact, landed
        (n_frames, 2) feet that stand and that land, where a person set them; None = by the picture.

    Returns
    -------
    Placed
    """
    image_px, body_m, time_s = tracks.image_px[person], tracks.body_m[person], tracks.time_s
    focal_px = float(scene.focal_px[0])
    has_ground = scene.grade != "C"
    needed = BODY_JOINTS if has_ground else SIZE_JOINTS
    known = np.isfinite(image_px[:, needed]).all(axis=(1, 2))
    size_px = body_size_px(image_px, body_m, tracks.model)
    if contact is None:
        contact = standing_feet(image_px, time_s, size_px, tracks.overlapped[person])
    slope = (image_px - scene.principal_px) / focal_px
    middle = slope[:, SIZE_JOINTS].mean(axis=1)
    turned = toward_viewing_ray(body_m, middle)
    rotation = field_from_camera(scene.pitch_deg[:1], scene.roll_deg[:1])[0]
    offsets = joint_offsets(tracks.model)
    axes = body_axes(turned, rotation[2])
    model_stature_m = model_stature(body_m[known], tracks.model) if known.any() else float("nan")
    behind_hips = turned[..., 2] - model_stature_m * (axes[:, 2] @ offsets.metric.T)
    shape_m = np.concatenate([turned[..., :2], behind_hips[..., None]], axis=-1)[:, SIZE_JOINTS]
    root = root_from_size(slope[:, SIZE_JOINTS], shape_m, np.ones(len(SIZE_JOINTS)))
    unit_depth = root[:, 2]  # depth for a body of model size
    shift = model_stature_m * np.einsum("nij,kj->nki", axes, offsets.picture)[..., :2]
    joint_px = image_px - shift * (focal_px / unit_depth)[:, None, None]

    rays = ray(joint_px[:, _FEET], np.array(focal_px), scene.principal_px)
    foot_depth = plane_depth_m(
        rays, rotation, scene.height_m[0], JOINT_LEVEL_OF_STATURE * float(scene.stature_m[0])
    )
    foot_offset = behind_hips[:, _FEET]
    foot_noise = tracks.noise_px[person][:, _FEET].max(axis=-1)
    if not has_ground:
        foot_depth = np.full_like(foot_depth, np.nan)
    with np.errstate(invalid="ignore"):
        seen_to_stand = contact & (foot_noise < SEEN_FOOT_NOISE * size_px[:, None])

    scale = _own_scale(
        foot_depth, unit_depth[:, None, None] + foot_offset, seen_to_stand, scene, person
    )
    # Of heel and toe one may be lifted, and then seems to be further away.
    hip_from_foot = np.min(foot_depth - scale * foot_offset, axis=-1)
    hip_from_foot = np.where(seen_to_stand, hip_from_foot, np.nan)
    with np.errstate(invalid="ignore"):
        n_contact = seen_to_stand.sum(axis=1)
        from_feet = np.nansum(hip_from_foot, axis=1) / np.where(n_contact > 0, n_contact, np.nan)
    hip_depth = _fuse_depth(time_s, from_feet, scale * unit_depth, known)
    depth_m = hip_depth[:, None] + scale * behind_hips
    shift_m, grounded = _onto_ground(time_s, foot_depth - depth_m[:, _FEET], seen_to_stand)
    depth_m += shift_m
    clear = known & ~tracks.overlapped[person]
    arm_m = arm_readings_m(
        body_m=np.where(clear[:, None, None], body_m, np.nan),
        scale=scale,
        joint_px=image_px,
        noise_px=tracks.noise_px[person],
        metres_per_px=hip_depth / focal_px,
        size_px=size_px,
    )
    return Placed(
        depth_m=depth_m,
        image_px=joint_px,
        noise_px=tracks.noise_px[person],
        depth_spread_m=_depth_spread_m(
            time_s, seen_to_stand, tracks.overlapped[person], _speed_mps(time_s, middle, hip_depth)
        ),
        grounded=grounded,
        contact=contact,
        landed=landing_frames(image_px, time_s, size_px) if landed is None else landed,
        size_px=size_px,
        stature_m=scale * model_stature_m,
        stature_spread=0.0 if person == 0 else OTHER_STATURE_SPREAD,
        arm_length_m=float(np.mean(offsets.arm * arm_m)),
        model=tracks.model,
    )


def _speed_mps(time_s: FloatArray, slope: FloatArray, depth_m: FloatArray) -> FloatArray:
    """(n,) speed of the body from the rays to its middle (n, 2) and its depth; 0 where unknown."""
    if time_s.size < FEWEST_FRAMES:
        return np.zeros(time_s.size)
    place_m = np.column_stack([slope[:, 0] * depth_m, depth_m])
    return np.asarray(np.nan_to_num(np.linalg.norm(np.gradient(place_m, time_s, axis=0), axis=-1)))


def _depth_spread_m(
    time_s: FloatArray, standing: BoolArray, overlapped: BoolArray, speed_mps: FloatArray
) -> FloatArray:
    """(n,) how sure the body's depth is, by the time to the next frame with a foot that is seen."""
    stood_s = time_s[standing.any(axis=1)]
    if stood_s.size == 0:
        return np.full(time_s.size, GREATEST_SWAY_M)
    next_one = np.clip(np.searchsorted(stood_s, time_s), 0, stood_s.size - 1)
    before = np.clip(next_one - 1, 0, None)
    gap_s = np.minimum(np.abs(stood_s[next_one] - time_s), np.abs(stood_s[before] - time_s))
    spread_m = BODY_SWAY_M + SWAY_PER_SPEED_S * speed_mps
    spread_m += SWAY_GROWS_MPS * np.maximum(gap_s - SWAY_GROWS_AFTER_S, 0.0)
    spread_m = np.where(overlapped, np.maximum(spread_m, OVERLAPPED_SWAY_M), spread_m)
    return np.asarray(np.minimum(spread_m, GREATEST_SWAY_M))


def _onto_ground(
    time_s: FloatArray, beyond_m: FloatArray, standing: BoolArray
) -> tuple[FloatArray, FloatArray]:
    """(n, 23) shift in depth that puts standing feet on the ground, and how far it holds.

    `beyond_m` (n, 2, 2) is how far beyond a joint that is. Between contacts the shift fades away.
    """
    shift_m, hold = np.zeros((2, time_s.size, len(JOINTS)))
    if time_s.size < FEWEST_FRAMES:
        return shift_m, hold
    for foot, side in enumerate(("left", "right")):
        beyond = beyond_m[:, foot].min(axis=-1)
        held = standing[:, foot] & (np.abs(np.nan_to_num(beyond, nan=np.inf)) < FURTHEST_SHIFT_M)
        weight = np.where(held, 1.0, FREE_WEIGHT)
        both = np.stack([np.where(held, beyond, 0.0), held], axis=-1)
        smooth = spline_smooth(time_s, both, weight, SHIFT_CUTOFF_HZ)
        for part, share in SHIFTED.items():
            joint = JOINTS.index(f"{side}_{part}")
            shift_m[:, joint] = share * smooth[:, 0]
            hold[:, joint] = share * np.clip(smooth[:, 1], 0.0, 1.0)
    return shift_m, hold


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
    ratio = np.min(foot_depth / unit_foot_depth, axis=-1)
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
