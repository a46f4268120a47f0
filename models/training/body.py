"""A jointed body that follows a script: path, trunk, head, arms, stepping legs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from models.training.script import CHEST, GO, HEAD, HIP, LEAN, LEFT, RATE_HZ, RIGHT, TWIST
from pipeline.core.types import JOINTS, BoolArray, FloatArray

FOOT_LEVEL = 0.022
GRAVITY = 9.81

FASTEST_STEPS = 6.0
"""Steps come no faster than at this speed, statures a second."""

NEAREST_HAND = 0.09
"""A hand comes no nearer than this to its own shoulder, statures."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Build:
    """Lengths of one body in statures.

    Attributes
    ----------
    trunk, neck
        Mid-hip to mid-shoulder, and from there to the middle of the head.
    shoulder, hip
        Half the breadth of shoulders and hips.
    upper_arm, forearm, grip
        Of the arm; the grip lies past the wrist.
    thigh, shank, foot
        Of the leg.
    stature_m
        In metres.
    """

    trunk: float
    neck: float
    shoulder: float
    hip: float
    upper_arm: float
    forearm: float
    grip: float
    thigh: float
    shank: float
    foot: float
    stature_m: float


def draw_build(chance: np.random.Generator) -> Build:
    """Draw a body."""

    def about(mean: float, spread: float = 0.05) -> float:
        return float(mean * np.exp(chance.normal(0.0, spread)))

    return Build(
        trunk=about(0.285),
        neck=about(0.092, 0.15),
        shoulder=about(0.105, 0.1),
        hip=about(0.052, 0.15),
        upper_arm=about(0.186),
        forearm=about(0.15),
        grip=about(0.046, 0.1),
        thigh=about(0.245),
        shank=about(0.246),
        foot=about(0.13, 0.08),
        stature_m=float(chance.uniform(1.3, 2.02)),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """A body that moves, at `RATE_HZ`.

    Attributes
    ----------
    joints_m
        (n, 23, 3) in field axes.
    contact
        (n, 2) standing feet.
    """

    joints_m: FloatArray
    contact: BoolArray


def moved_body(
    controls: FloatArray,
    build: Build,
    *,
    start_m: FloatArray,
    direction: float,
    chance: np.random.Generator,
) -> Moved:
    """Move a body by controls.

    Parameters
    ----------
    controls
        (n, 14), see `models.training.script`.
    build
        Lengths.
    start_m
        (2,) where mid-hip starts on the ground.
    direction
        The script's direction in the field, rad.
    chance
        For the steps.

    Returns
    -------
    Moved
    """
    n, stature_m = len(controls), build.stature_m
    forward, left = _axes(np.full(n, direction))
    velocity = controls[:, GO][:, :1] * forward + controls[:, GO][:, 1:] * left
    path = np.cumsum(velocity, axis=0) / RATE_HZ
    hips = np.column_stack([path, np.zeros(n)])
    hips[:, 2] = controls[:, HIP]
    chest = controls[:, CHEST] + direction
    joints = np.zeros((n, len(JOINTS), 3))

    def put(name: str, place: FloatArray) -> FloatArray:
        joints[:, JOINTS.index(name)] = place
        return place

    ahead, aside = (np.column_stack([axis, np.zeros(n)]) for axis in _axes(chest))
    lean = controls[:, LEAN]
    up = np.array([0.0, 0.0, 1.0])
    spine = up + np.tan(np.clip(lean[:, :1], -1.2, 1.4)) * ahead + np.tan(lean[:, 1:]) * aside
    spine /= np.linalg.norm(spine, axis=1, keepdims=True)
    across = aside - np.sum(aside * spine, axis=1, keepdims=True) * spine
    across /= np.linalg.norm(across, axis=1, keepdims=True)
    neck = hips + build.trunk * spine
    _, hip_aside = _axes(chest + controls[:, TWIST])
    hip_aside = np.column_stack([hip_aside, np.zeros(n)])
    _put_head(put, neck, spine, across, controls[:, HEAD], build)
    place_m, contact = _feet(path, velocity, np.column_stack(_axes(chest)), build, chance)
    for number, (side, hand) in enumerate((("left", LEFT), ("right", RIGHT))):
        sign = 1.0 - 2.0 * number
        shoulder = put(f"{side}_shoulder", neck + sign * build.shoulder * across)
        hip = put(f"{side}_hip", hips + sign * build.hip * hip_aside)
        way = controls[:, hand]
        grip = hips + way[:, :1] * ahead + way[:, 1:2] * aside + way[:, 2:] * up
        reach = build.upper_arm + build.forearm + build.grip
        grip = put(f"{side}_hand", _within(shoulder, grip, 0.97 * reach, NEAREST_HAND))
        outward = 0.5 * sign * across - up - 0.3 * ahead
        elbow = put(
            f"{side}_elbow",
            _bent(shoulder, grip, build.upper_arm, build.forearm + build.grip, outward),
        )
        back = elbow - grip
        back /= np.maximum(np.linalg.norm(back, axis=1, keepdims=True), 1e-9)
        put(f"{side}_wrist", grip + build.grip * back)
        foot = place_m[:, number]
        ankle = put(f"{side}_ankle", foot + 0.02 * up - 0.25 * build.foot * ahead)
        ankle = put(f"{side}_ankle", _within(hip, ankle, 0.995 * (build.thigh + build.shank)))
        put(f"{side}_knee", _bent(hip, ankle, build.thigh, build.shank, ahead))
        put(f"{side}_heel", foot - 0.5 * build.foot * ahead)
        put(f"{side}_toe", foot + 0.5 * build.foot * ahead)
    joints *= stature_m
    joints[..., :2] += start_m
    return Moved(joints_m=joints, contact=contact)


def _axes(angle: FloatArray) -> tuple[FloatArray, FloatArray]:
    cosine, sine = np.cos(angle), np.sin(angle)
    return np.column_stack([cosine, sine]), np.column_stack([-sine, cosine])


def _put_head(
    put: Callable[[str, FloatArray], FloatArray],
    neck: FloatArray,
    spine: FloatArray,
    across: FloatArray,
    pitch: FloatArray,
    build: Build,
) -> None:
    """Nose, eyes and ears; the head is held half-way back from the lean."""
    up = 0.5 * spine + [0.0, 0.0, 0.5]
    up /= np.linalg.norm(up, axis=1, keepdims=True)
    front = np.cross(across, up)
    front /= np.linalg.norm(front, axis=1, keepdims=True)
    cosine, sine = np.cos(pitch)[:, None], np.sin(pitch)[:, None]
    look = cosine * front + sine * up
    crown = cosine * up - sine * front
    middle = neck + build.neck * up
    put("nose", middle + 0.06 * look)
    for side, sign in (("left", 1.0), ("right", -1.0)):
        put(f"{side}_eye", middle + 0.05 * look + 0.02 * crown + sign * 0.02 * across)
        put(f"{side}_ear", middle + 0.01 * crown + sign * 0.042 * across)


def _within(centre: FloatArray, point: FloatArray, reach: float, least: float = 0.0) -> FloatArray:
    way = point - centre
    far = np.maximum(np.linalg.norm(way, axis=1, keepdims=True), 1e-9)
    return np.asarray(centre + way * np.clip(far, least, reach) / far)


def _bent(
    first: FloatArray, last: FloatArray, upper: float, lower: float, toward: FloatArray
) -> FloatArray:
    """Middle joint of a limb of two segments that bends toward a direction."""
    way = last - first
    far = np.linalg.norm(way, axis=1, keepdims=True)
    far = np.maximum(far, 1e-6)
    along = (far**2 + upper**2 - lower**2) / (2 * far)
    aside = toward - np.sum(toward * way, axis=1, keepdims=True) * way / far**2
    aside /= np.maximum(np.linalg.norm(aside, axis=1, keepdims=True), 1e-9)
    return np.asarray(
        first + along * way / far + np.sqrt(np.maximum(upper**2 - along**2, 0.0)) * aside
    )


def _feet(
    path: FloatArray,
    velocity: FloatArray,
    axes: FloatArray,
    build: Build,
    chance: np.random.Generator,
) -> tuple[FloatArray, BoolArray]:
    """Middles of feet (n, 2, 3) in statures that step under a path, and where they stand.

    A foot is put where the leg pushes the hips the way they are going to go: against the
    acceleration, by the height of the hips over gravity.
    """
    n = len(path)
    speed = np.linalg.norm(velocity, axis=1)
    push = np.gradient(_smooth(velocity), 1 / RATE_HZ, axis=0)
    lead = 0.5 * build.stature_m / GRAVITY * push
    lead *= np.minimum(1.0, 0.35 / np.maximum(np.linalg.norm(lead, axis=1, keepdims=True), 1e-9))
    width = chance.uniform(0.04, 0.09)
    step_hz = 1.9 + 0.38 * np.minimum(speed, FASTEST_STEPS) + chance.normal(0.0, 0.1)
    moving = np.clip(speed / 0.35, 0.0, 1.0)
    turn = np.cumsum(np.where(moving > 0.2, step_hz, 0.0)) / RATE_HZ + chance.uniform(0, 1)
    feet = np.zeros((n, 2, 3))
    contact = np.ones((n, 2), dtype=bool)
    feet[..., 2] = FOOT_LEVEL
    for foot, sign in enumerate((1.0, -1.0)):
        phase = 0.5 * turn + 0.5 * foot
        number = np.floor(phase).astype(int)
        swing_share = 0.42 + 0.05 * np.clip(speed / 2.0, 0, 1)
        part = np.clip((phase - number - (1 - swing_share)) / swing_share, 0.0, 1.0)
        places = {}
        for step in np.unique(number):
            rows = np.flatnonzero(number == step)
            stance = rows[part[rows] <= 0.0]
            stance = rows if stance.size == 0 else stance
            middle = stance[stance.size // 2]
            aside = sign * width * axes[middle, 2:]
            places[step] = path[middle] + aside - lead[middle]
        last = number.max()
        places[last + 1] = path[-1] + sign * width * axes[-1, 2:]
        here = np.array([places[step] for step in number])
        there = np.array([places[step + 1] for step in number])
        eased = (part**2 * (3 - 2 * part))[:, None]
        feet[:, foot, :2] = here + eased * (there - here)
        far = np.linalg.norm(there - here, axis=1)
        feet[:, foot, 2] += 0.10 * np.minimum(far / 0.3, 1.0) * np.sin(np.pi * part)
        contact[:, foot] = part <= 0.0
    return feet, contact


def _smooth(values: FloatArray, width_s: float = 0.05) -> FloatArray:
    from scipy.ndimage import gaussian_filter1d

    return np.asarray(gaussian_filter1d(values, width_s * RATE_HZ, axis=0))
