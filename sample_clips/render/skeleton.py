"""The motion of a clip without its film: joints over time and the truth of its reps."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .entry import ClipEntry
from .performance import perform
from .rest_bodies import light_body
from .tracks import GRID_HZ
from .truth import JOINTS, SCHEMA, pastimes_of, reps_of

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Skeleton:
    """One clip as joints.

    Attributes
    ----------
    time_s : array (n_frames,)
    joints_m : dict of array (n_frames, 3)
        The athlete's joints by name (`JOINTS`), field frame.
    defender_joints_m : dict of array (n_frames, 3), optional
    truth : dict
        As in a truth file, without camera, frame times and joints: ``move``, ``stick_hand``,
        ``stature_m``, ``level``, ``reps``.
    """

    time_s: Floats
    joints_m: dict[str, Floats]
    defender_joints_m: dict[str, Floats] | None
    truth: dict[str, Any]


def skeleton(entry: ClipEntry, frame_hz: int = 60) -> Skeleton:
    """Work out one clip on the joints alone; needs numpy and scipy, no body model.

    Parameters
    ----------
    entry : ClipEntry
    frame_hz : int
        A divisor of `GRID_HZ`.

    Raises
    ------
    ValueError
        If the rate does not divide the grid's.
    """
    if GRID_HZ % frame_hz:
        message = f"Invalid frame_hz. It must divide {GRID_HZ}, but got {frame_hz}."
        raise ValueError(message)
    performance = perform(entry, light_body)
    step = GRID_HZ // frame_hz
    athlete, defender = (performance.motions.get(role) for role in ("athlete", "defender"))
    if athlete is None:
        raise ValueError("a clip has an athlete")
    truth = {
        "schema": SCHEMA,
        "invented": True,
        "move": entry.move,
        "stature_m": entry.athlete.stature_m,
        "stick_hand": entry.order.stick_hand,
        "level": entry.level,
        "reps": reps_of(performance),
        **pastimes_of(performance),
    }
    return Skeleton(
        time_s=athlete.time_s[::step],
        joints_m={name: athlete.joints_m[name][::step] for name in JOINTS},
        defender_joints_m=None
        if defender is None
        else {name: defender.joints_m[name][::step] for name in JOINTS},
        truth=truth,
    )
