"""What the truth says of a clip's difficulty: its values, turns of the camera, the lens."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from .camera import Camera
from .entry import ClipEntry
from .exposure import readout_within
from .framing import marks_in_picture, scene_of
from .lens import bent_px, turned

Floats = NDArray[np.float64]


def marks_of(entry: ClipEntry, camera: Camera) -> list[dict[str, Any]]:
    """Return the marks in the picture, where the first frame shows them."""
    hardship = entry.hardship
    marks = []
    for name, place, straight_px in marks_in_picture(scene_of(entry), camera):
        px = straight_px
        if hardship is not None and hardship.distorted:
            px = bent_px(camera, straight_px, hardship.distortion)
        marks.append(
            {
                "name": name,
                "field_m": [round(v, 4) for v in place],
                "image_px": [round(float(v), 3) for v in px],
            }
        )
    return marks


def camera_of_difficulty(
    entry: ClipEntry, camera: Camera, turns: Floats | None, rows: NDArray[np.int64]
) -> dict[str, Any]:
    """Return what a still camera with a straight lens does not need.

    Parameters
    ----------
    entry : ClipEntry
    camera : Camera
        At the first frame.
    turns : array (n_times, 3, 3), optional
        Camera axes on the motion grid from those of the first frame.
    rows : int array (n_frames,)
        Row of the motion grid at each frame.

    Returns
    -------
    dict
        ``rotations_camera_from_field``, one (3, 3) for each frame, where the camera turns;
        ``distortion`` [k1, k2, p1, p2] on slopes, as a lens profile has it, where the lens bends.
    """
    more: dict[str, Any] = {}
    if turns is not None:
        more["rotations_camera_from_field"] = [
            turned(camera, turns[row]).rotation.round(9).tolist() for row in rows.tolist()
        ]
    if entry.hardship is not None and entry.hardship.distorted:
        more["distortion"] = [*entry.hardship.distortion, 0.0, 0.0]
    return more


def difficulty_of(entry: ClipEntry) -> dict[str, Any]:
    """Return ``difficulty`` with its name and the values that make it, or nothing."""
    hardship = entry.hardship
    if hardship is None:
        return {}
    values = {
        name: getattr(hardship, name)
        for name in (
            "exposure_s",
            "drift_deg",
            "tremor_deg",
            "grain",
            "most_mbit_s",
            "dropped_share",
        )
        if getattr(hardship, name) > 0
    }
    if hardship.readout_s > 0:
        values["readout_s"] = readout_within(hardship.readout_s, entry.fps)
    if hardship.light < 1:
        values["light"] = hardship.light
    if hardship.stored_turn_deg:
        values["stored_turn_deg"] = hardship.stored_turn_deg
    if hardship.passer_by is not None:
        values["passes_before_players"] = hardship.passer_by.before
    return {"difficulty": {"name": hardship.name, "crf": entry.crf, **values}}
