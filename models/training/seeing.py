"""What the program makes of a simulated body: frames, errors of the pose model, hidden parts."""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path

import numpy as np

from models.training.body import Build, Moved
from models.training.script import RATE_HZ
from models.training.writing import slow_noise
from pipeline.core.types import JOINTS, BoolArray, FloatArray, Motion

TABLE = Path(__file__).parent / "pose_errors.json"

KNOT_PER_HALF_TIME = 1.8
"""Distance of the knots of a random cubic curve over the half-time of its autocorrelation."""


@lru_cache(maxsize=1)
def pose_errors() -> dict[str, dict[str, list[float]]]:
    """Read how far off joints are: the table states how it was measured."""
    return dict(json.loads(TABLE.read_text(encoding="utf-8")))


def seen(
    body: Moved,
    build: Build,
    rate_hz: float,
    noise: float,
    chance: np.random.Generator,
    *,
    often_lost: bool = False,
    short: bool = False,
) -> Motion:
    """See a body as the program would.

    Parameters
    ----------
    body
        Exact joints.
    build
        Of the athlete, for the stature.
    rate_hz
        Of the film.
    noise
        Factor on all errors; 0 = seen exactly.
    chance
        Source of chance.
    often_lost
        Whether the person is lost for longer, as a second one is.
    short
        Whether limbs go less far than they do, as the pose model has it.

    Returns
    -------
    Motion
        One draw.
    """
    last_s = (len(body.joints_m) - 1) / RATE_HZ
    time_s = np.arange(int(last_s * rate_hz) + 1) / rate_hz
    at = time_s * RATE_HZ
    rows = np.floor(at).astype(int)
    rows = np.minimum(rows, len(body.joints_m) - 2)
    part = (at - rows)[:, None, None]
    joints = (1 - part) * body.joints_m[rows] + part * body.joints_m[rows + 1]
    contact = body.contact[np.round(at).astype(int)]
    if noise > 0.0:
        joints = _followed(joints, noise, chance) if short else joints
        joints = joints + noise * build.stature_m * _errors(time_s, rate_hz, chance)
        joints = _hidden(joints, time_s, rate_hz, chance, often_lost=often_lost)
    landed = contact & ~np.roll(contact, 1, axis=0)
    landed[0] = False
    return Motion(
        time_s=time_s,
        first_frame=0,
        joints_m=joints[None],
        contact=contact,
        landed=landed,
        stature_m=np.array([build.stature_m]),
        arm_length_m=np.array([np.nan]),
    )


def _followed(joints: FloatArray, noise: float, chance: np.random.Generator) -> FloatArray:
    """Joints (n, 23, 3) as far as the pose model goes along with them, from mid-hip.

    It goes along with less than the whole way along the view, and with another share in each film.
    """
    noise *= chance.uniform(0.0, 1.3)
    table = pose_errors()["follows"]
    centre = joints[:, 13:15].mean(axis=1, keepdims=True)
    share = np.ones((len(JOINTS), 3))
    limbs = {"arm": chance.standard_normal(3), "leg": chance.standard_normal(3)}
    for joint, name in enumerate(JOINTS):
        part = name.split("_")[-1]
        if part in table:
            limb = limbs["arm" if part in ("shoulder", "elbow", "wrist", "hand") else "leg"]
            row = np.array(table[part])
            # The parts of a limb go along alike, but not quite; the variances add up to 1.
            own = 0.8 * limb + 0.6 * chance.standard_normal(3)
            share[joint] = np.clip(1.0 + noise * (row[:3] - 1.0 + row[3:] * own), 0.2, 1.6)
    return np.asarray(centre + share * (joints - centre))


def _errors(time_s: FloatArray, rate_hz: float, chance: np.random.Generator) -> FloatArray:
    """(n, 23, 3) errors in statures: of each joint against the hips, and of the whole body."""
    table = pose_errors()
    n, amount = time_s.size, chance.uniform(0.2, 1.6)
    errors = np.zeros((n, len(JOINTS), 3))
    for joint, name in enumerate(JOINTS):
        part = name.split("_")[-1]
        errors[:, joint] = _wandering(table["joints"][part], n, rate_hz, chance)
    errors += _wandering(table["joints"]["body"], n, rate_hz, chance)[:, None]
    return amount * errors


def _wandering(row: list[float], n: int, rate_hz: float, chance: np.random.Generator) -> FloatArray:
    """(n, 3) errors by a row of the table; now and then a few of them are much greater."""
    knot_s = KNOT_PER_HALF_TIME * row[6] * chance.uniform(0.7, 1.8)
    slow = slow_noise(chance, n, knot_s, 3, rate_hz)
    bursts = np.abs(slow_noise(chance, n, 0.5, 1, rate_hz))
    return np.asarray(
        row[:3] * slow * (0.6 + 0.5 * bursts**2) + row[3:6] * chance.standard_normal(3)
    )


def _hidden(
    joints: FloatArray,
    time_s: FloatArray,
    rate_hz: float,
    chance: np.random.Generator,
    *,
    often_lost: bool,
) -> FloatArray:
    """Leave out hands that are hidden and people who are lost, for spans of some length."""
    table, joints = pose_errors()["spans"], joints.copy()
    for names, key in (
        (("left_hand", "left_wrist"), "hand"),
        (("right_hand", "right_wrist"), "hand"),
        (JOINTS, "second" if often_lost else "person"),
    ):
        share, length_s = table[key]
        share = min(0.6, share * 2.0 * chance.random())
        lost = _spans(time_s, share, length_s, chance)
        columns = np.array([JOINTS.index(name) for name in names])
        joints[np.ix_(np.flatnonzero(lost), columns)] = np.nan
    return joints


def _spans(
    time_s: FloatArray, share: float, length_s: float, chance: np.random.Generator
) -> BoolArray:
    """(n,) true in random spans of a mean length that take up a share of the time."""
    lost = np.zeros(time_s.size, dtype=bool)
    whole_s = float(time_s[-1])
    for _ in range(chance.poisson(share * whole_s / length_s)):
        start_s, long_s = chance.uniform(0.0, whole_s), chance.exponential(length_s)
        lost |= (time_s >= start_s) & (time_s < start_s + long_s)
    return lost
