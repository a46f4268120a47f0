"""A motion seen from the body itself: where it was filmed from and how tall it is drop out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline.core.types import JOINTS, FloatArray, Motion
from pipeline.moves.signals import Signals


@dataclass(frozen=True, slots=True, kw_only=True)
class BodyFrame:
    """Joints and path of one person in body axes, lengths in statures.

    Attributes
    ----------
    time_s
        (n,) times from the clip's first frame.
    joints
        (n, 23, 3) joints (`JOINTS`) from mid-hip: forward (where the chest faces), left, up; NaN
        where unknown.
    velocity
        (n, 2) velocity of mid-hip along the ground, forward and left, statures a second.
    turn_rad
        (n,) direction that the chest faces, anticlockwise seen from above, without jumps.
    hip_height
        (n,) height of mid-hip above the ground.
    """

    time_s: FloatArray
    joints: FloatArray
    velocity: FloatArray
    turn_rad: FloatArray
    hip_height: FloatArray


def body_frame(motion: Motion, signals: Signals) -> BodyFrame:
    """See a motion from the body (draw 0 is used).

    Parameters
    ----------
    motion
        Field frame, the frames of `signals`.
    signals
        Of the same person.

    Returns
    -------
    BodyFrame
    """
    hips = motion.middle("hip")[0]
    relative = (motion.joints_m[0] - hips[:, None]) / signals.stature_m
    forward = signals.facing
    left = np.stack([-forward[:, 1], forward[:, 0]], axis=-1)
    axes = np.stack([forward, left], axis=1)
    ground = np.einsum("nij,nkj->nki", axes, relative[..., :2])
    return BodyFrame(
        time_s=signals.time_s,
        joints=np.concatenate([ground, relative[..., 2:]], axis=-1),
        velocity=np.einsum("nij,nj->ni", axes, signals.hips_mps) / signals.stature_m,
        turn_rad=np.unwrap(np.arctan2(forward[:, 1], forward[:, 0])),
        hip_height=hips[:, 2] / signals.stature_m,
    )


def mirrored(frame: BodyFrame) -> BodyFrame:
    """Mirror a body: left and right change places, and so do left and right joints.

    Parameters
    ----------
    frame
        As `body_frame` gives it.

    Returns
    -------
    BodyFrame
    """

    def other(name: str) -> str:
        if name.startswith("left_"):
            return name.replace("left_", "right_", 1)
        return name.replace("right_", "left_", 1)

    swapped = [JOINTS.index(other(name)) for name in JOINTS]
    return BodyFrame(
        time_s=frame.time_s,
        joints=frame.joints[:, swapped] * [1.0, -1.0, 1.0],
        velocity=frame.velocity * [1.0, -1.0],
        turn_rad=-frame.turn_rad,
        hip_height=frame.hip_height,
    )
