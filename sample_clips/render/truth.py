"""Write the exact truth of a clip: camera, marks, joints per frame, events and measures per rep.

Everything is read off the same skeleton that is drawn, on a grid of 480 Hz, by the definitions of
the measures. The field frame is right-handed: z up, y from the goal line towards midfield, so x
points to the left of a shooter who faces the goal. The trunk of ``cushion_gap_m`` is the line from
mid-hip to mid-shoulder seen from above, thickened by 0.09 of stature on every side (touching
trunks have a gap of 0).
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from . import dodge_truth, throw_truth
from .dodge_truth import Reader, at
from .events import finish_of, landings, start_of, top_hand
from .hard_truth import camera_of_difficulty, difficulty_of, marks_of
from .kinematics import Motion
from .moves.common import RepWindow
from .moves.joining import shifted
from .performance import Performance
from .staging import Staging
from .throw_truth import shot_angle_deg, throw_of, throwback
from .tracks import GRID_HZ

Floats = NDArray[np.float64]

SCHEMA = "crossemetry.truth/1"
LONG_S, AROUND_S = 60.0, 6.0
"""Of films longer than the first, a rep is read from its window and so much before and after."""
JOINTS: tuple[str, ...] = (
    "nose",
    *(
        f"{side}_{part}"
        for part in (
            "eye",
            "ear",
            "shoulder",
            "elbow",
            "wrist",
            "hand",
            "hip",
            "knee",
            "ankle",
            "heel",
            "toe",
        )
        for side in ("left", "right")
    ),
    "stick_head",
)


def _hand_measures(motion: Motion, start_s: float, release_s: float) -> dict[str, float]:
    time_s, hand = motion.time_s, top_hand(motion)
    rows = np.flatnonzero((time_s >= start_s) & (time_s <= release_s - 0.05))
    i = int(rows[hand[rows, 2].argmax()])
    greatest = float(hand[i, 2])
    low = hand[:, 2] < greatest - 0.10 * motion.body.stature_m
    before, after = np.flatnonzero(low[:i]), np.flatnonzero(low[i:])
    hold = float(time_s[i + after[0]] - time_s[before[-1] + 1])
    at_release = float(at(hand, time_s, release_s)[2])
    return {
        "hands_high_s": float(time_s[i]),
        "hand_height_before_release_m": greatest,
        "hands_high_hold_s": hold,
        "hand_drop_m": greatest - at_release,
        "release_height_m": at_release,
    }


def _shot(
    motion: Motion, defender: Motion | None, rep: RepWindow
) -> tuple[dict[str, float], dict[str, float]]:
    release, measures = throw_of(motion, rep)
    start = start_of(motion, rep, release - 0.1)
    measures |= _hand_measures(motion, start, release)
    events = {
        "start": start,
        "hands_high": measures.pop("hands_high_s"),
        "release": release,
        "finish": finish_of(motion, release),
    }
    return events, measures


READERS: dict[str, Reader] = {
    "high_to_low_shot": _shot,
    "throwback_pass": throwback,
    **dodge_truth.READERS,
    **throw_truth.READERS,
}
"""What reads events and measures of a rep, by move."""


def _read(
    move: str, motion: Motion, defender: Motion | None, rep: RepWindow
) -> tuple[dict[str, float], dict[str, float]]:
    """Read one rep; of a long film only the time around it, or every landing would be looked at."""
    if motion.time_s[-1] < LONG_S:
        return READERS[move](motion, defender, rep)
    first = max(0, int((rep.start_s - AROUND_S) * GRID_HZ))
    last = int((rep.stop_s + AROUND_S) * GRID_HZ)
    since_s = first / GRID_HZ
    other = None if defender is None else defender.between(first, last)
    events, measures = READERS[move](motion.between(first, last), other, shifted(rep, -since_s))
    return {name: time_s + since_s for name, time_s in events.items()}, measures


def reps_of(performed: Performance) -> list[dict[str, Any]]:
    """Return every rep with events and measures, rounded as the truth file has them."""
    motion, entry = performed.motions["athlete"], performed.entry
    defender = performed.motions.get("defender")
    found: list[dict[str, Any]] = []
    for index, rep in enumerate(performed.choreography.reps):
        move = rep.move or entry.move
        events, measures = _read(move, motion, defender, rep)
        if entry.goal and move in throw_truth.SHOTS:
            measures["shot_angle_deg"] = shot_angle_deg(motion, events["release"])
        named = {"foreign": rep.foreign} if rep.foreign else {}
        found.append(
            {
                "index": index,
                "start_s": round(events["start"], 5),
                "stop_s": round(events["finish"], 5),
                "move": move,
                **named,
                "stick_hand": rep.stick_hand or entry.order.stick_hand,
                "events": {k: {"time_s": round(v, 5)} for k, v in events.items()},
                "measures": {
                    k: round(v, 5 if k.endswith("_s") else 4) for k, v in measures.items()
                },
            }
        )
    return found


def pastimes_of(performed: Performance) -> dict[str, Any]:
    """Return what is no rep and when, for films that have any of it."""
    pastimes = performed.choreography.pastimes
    if not pastimes:
        return {}
    return {
        "pastimes": [
            {"kind": p.kind, "start_s": round(p.start_s, 5), "stop_s": round(p.stop_s, 5)}
            for p in pastimes
        ]
    }


def truth_of(staging: Staging, rows: NDArray[np.int64], times_s: list[float]) -> dict[str, Any]:
    """Return the whole truth of a clip.

    Parameters
    ----------
    staging : Staging
    rows : int array (n_frames,)
        Row of the motion grid at each frame.
    times_s : list of float
        Presentation time of each frame.
    """
    entry, camera = staging.entry, staging.camera
    people = {
        role: {
            "stature_m": motion.body.stature_m,
            "arm_length_m": round(motion.body.arm_length_m, 4),
            "landings_s": {
                foot: [round(t, 5) for t in landings(motion, foot)] for foot in ("left", "right")
            },
            "joints": list(JOINTS),
            "joints_field_m": np.stack([motion.joints_m[j][rows] for j in JOINTS], axis=1)
            .round(4)
            .tolist(),
        }
        for role, motion in staging.motions.items()
    }
    return {
        "schema": SCHEMA,
        "clip": f"{entry.name}.mp4",
        "invented": True,
        "move": entry.move,
        "fps": entry.fps,
        "size_px": list(entry.size_px),
        "stature_m": entry.athlete.stature_m,
        "stick_hand": entry.order.stick_hand,
        "level": entry.level,
        "grid_hz": GRID_HZ,
        "camera": {
            "matrix": camera.matrix.round(6).tolist(),
            "rotation_camera_from_field": camera.rotation.round(9).tolist(),
            "position_field_m": [round(float(v), 4) for v in camera.position_m],
            "fov_long_side_deg": camera.fov_long_side_deg,
            **camera_of_difficulty(entry, camera, staging.turns, rows),
        },
        "ground_marks": marks_of(entry, camera),
        "frame_times_s": times_s,
        "people": people,
        "reps": reps_of(staging.performance),
        **pastimes_of(staging.performance),
        **difficulty_of(entry),
    }
