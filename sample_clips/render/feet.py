"""Where each foot is: still while it stands, lifted and carried while it swings."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.spatial.transform import Rotation

from .body import SOLE_M, Body
from .tracks import Contact

Floats = NDArray[np.float64]


def _bump(s: Floats, middle: float, width: float) -> Floats:
    result: Floats = np.exp(-0.5 * ((s - middle) / width) ** 2) * np.sin(np.pi * s) ** 0.5
    return result


def _standing(landing: Contact, time_s: ArrayLike, ball: Floats) -> tuple[Floats, Floats]:
    """Return mid-foot (n_times, 2) and yaw of a standing foot, which may turn on its ball.

    ``ball`` is the ball's place from mid-foot in axes of the foot.
    """
    when = np.asarray(time_s, dtype=float)
    place, yaw = np.tile(landing.mid_foot_m, (len(when), 1)), np.full(len(when), landing.yaw_rad)
    if landing.pivot is None:
        return place, yaw
    pivot = landing.pivot
    s = np.clip((when - pivot.start_s) / (pivot.stop_s - pivot.start_s), 0, 1)
    share = s**2 * (3 - 2 * s)
    yaw = yaw + share * pivot.turn_rad
    return (
        place + _turned(landing.yaw_rad, ball) - _turned(yaw, ball) + share[:, None] * pivot.slide_m
    ), yaw


def _turned(yaw: ArrayLike, ball: Floats) -> Floats:
    c, s = np.cos(yaw), np.sin(yaw)
    return np.stack([c * ball[0] - s * ball[1], s * ball[0] + c * ball[1]], axis=-1)


def foot_poses(
    body: Body,
    side: str,
    contacts: list[Contact],
    time_s: Floats,
    hip_m: Floats,
    reach_m: float,
) -> tuple[Floats, Floats, Floats, Floats]:
    """Return the pose of one foot over time.

    A standing foot does not move, but its heel rises about the ball when the hip is farther away
    than the leg is long.

    Returns
    -------
    foot : array (n_times, 3, 3)
        Rotation of the foot.
    ankle_m : array (n_times, 3)
    toes : array (n_times, 3, 3)
        Rotation of the toes: flat while standing.
    yaw : array (n_times,)
    """
    heel, toe = body.points_m[f"{side}_heel"], body.points_m[f"{side}_toe"]
    middle = (heel + toe) / 2
    ball, ankle = body.head_of(f"{side}_toes"), body.head_of(f"{side}_foot")
    n = len(time_s)
    place, yaw = np.zeros((n, 2)), np.zeros(n)
    lift, down, free = np.zeros(n), np.zeros(n), np.zeros(n)
    for k, landing in enumerate(contacts):
        stop = contacts[k + 1].land_s if k + 1 < len(contacts) else np.inf
        rows = (time_s >= landing.land_s - 1e-9) & (time_s < stop - 1e-9)
        place[rows], yaw[rows] = _standing(landing, time_s[rows], (ball - middle)[:2])
        if not np.isfinite(stop):
            continue
        after = contacts[k + 1]
        start = after.land_s - after.swing_s
        rows = (time_s > start) & (time_s < stop - 1e-9)
        s = (time_s[rows] - start) / after.swing_s
        share = s**3 * (10 - 15 * s + 6 * s**2)
        leave_m, leave_yaw = (v[0] for v in _standing(landing, [start], (ball - middle)[:2]))
        span = after.mid_foot_m - leave_m
        place[rows] = leave_m + share[:, None] * span
        turn = (after.yaw_rad - leave_yaw + np.pi) % (2 * np.pi) - np.pi
        yaw[rows] = leave_yaw + share * turn
        size = body.stature_m / 1.8
        length = float(np.linalg.norm(span))
        height = size * after.lift_m * (0.5 + min(1.0, length / 0.9))
        # It comes down at speed, so that touching the ground is a sharp instant.
        lift[rows] = height * (np.sin(np.pi * s**0.85) + 0.25 * s * (1 - s))
        down[rows] = np.deg2rad(55.0 * min(1.0, length / 1.0)) * _bump(s, 0.3, 0.18)
        down[rows] -= np.deg2rad(14.0 * min(1.0, length / 1.0)) * _bump(s, 0.82, 0.1)
        free[rows] = np.sin(np.pi * s)
    turn = Rotation.from_rotvec(yaw[:, None] * np.array([0.0, 0.0, 1.0])).as_matrix()
    base = np.column_stack([place, lift + SOLE_M])
    ball_at = base + turn @ (ball - np.array([middle[0], middle[1], 0.0]))
    arm = ankle - ball

    def raised(angle: Floats) -> tuple[Floats, Floats]:
        tilt = Rotation.from_rotvec(angle[:, None] * np.array([0.0, 1.0, 0.0])).as_matrix()
        foot = turn @ tilt
        return foot, ball_at + foot @ arm

    low, high = down.copy(), np.full(n, np.deg2rad(80.0))
    far = np.linalg.norm(raised(down)[1] - hip_m, axis=1) > reach_m
    for _ in range(14):
        half = (low + high) / 2
        still_far = np.linalg.norm(raised(half)[1] - hip_m, axis=1) > reach_m
        low, high = np.where(still_far, half, low), np.where(still_far, high, half)
    angle = np.where(far, high, down)
    foot, ankle_at = raised(angle)
    flat = np.minimum(angle, 0.0) + np.maximum(angle, 0.0) * 0.6 * free
    # Pointed toes must not dip into the grass while the foot swings.
    dip = np.linalg.norm(toe - ball) * np.sin(np.maximum(flat, 0.0))
    ankle_at = ankle_at + dip[:, None] * np.array([0.0, 0.0, 1.0])
    toes = turn @ Rotation.from_rotvec(flat[:, None] * np.array([0.0, 1.0, 0.0])).as_matrix()
    return foot, ankle_at, toes, yaw
