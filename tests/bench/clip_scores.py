"""Runs the program on one clip with known truth and pairs what it found with what is true."""

from __future__ import annotations

import dataclasses
import json
import math
import sys
from pathlib import Path
from typing import Any

import numpy as np

from pipeline.analysis import analyse_clip
from pipeline.core.errors import CrossemetryError
from pipeline.core.progress import ignore_progress
from pipeline.core.results import Analysis
from pipeline.core.types import JOINTS
from pipeline.measures import MEASURES
from pipeline.settings.settings import GivenSettings, resolve
from pipeline.settings.side_file import read_side_file
from tests.bench.marking import write_marks
from tests.bench.scoring import Reading, match_reps, overlap_over_union
from tests.bench.truths import Truth, derived_truths

NEAR_OF_STATURE = 0.15
"""A player counts as followed where the hips are found within this share of the stature."""


def film_of(truth_path: Path) -> Path:
    """Give the film that a truth file is about."""
    return truth_path.with_name(truth_path.name.removesuffix(".truth.json") + ".mp4")


def score_clip(
    truth_path: Path, cache: Path, scratch: Path, model: str | None = None
) -> list[dict[str, Any]]:
    """Analyse one clip by the athlete's stature, and again with marks where it shows enough.

    Parameters
    ----------
    truth_path
        The clip's truth.
    cache
        Where landmarks are kept.
    scratch
        A folder for files of marks.
    model
        Pose model; None for the usual one.

    Returns
    -------
    list of dict
        One entry for each analysis.
    """
    truth: Truth = json.loads(truth_path.read_text(encoding="utf-8"))
    clip = film_of(truth_path)
    given = [GivenSettings(model=model)]
    marks = write_marks(truth, scratch)
    if marks is not None:
        given.append(GivenSettings(model=model, marks_path=marks))
    return [_score(truth, clip, cache, each) for each in given]


def _score(truth: Truth, clip: Path, cache: Path, given: GivenSettings) -> dict[str, Any]:
    name = clip.stem
    asked = "A" if given.marks_path else "B"
    difficulty = truth.get("difficulty", {}).get("name", "")
    settings = resolve(given, read_side_file(clip), clip_name=clip.name)
    try:
        analysis = analyse_clip(clip, settings, cache_dir=cache, on_progress=ignore_progress)
    except CrossemetryError as error:
        print(f"{name} ({asked}): {error}", file=sys.stderr)
        return {
            "clip": name, "asked_grade": asked, "error": str(error), "n_true": len(truth["reps"]),
            "readings": [],
        }  # fmt: skip
    true_windows = [(rep["start_s"], rep["stop_s"]) for rep in truth["reps"]]
    found_windows = [(result.rep.start_s, result.rep.stop_s) for result in analysis.reps]
    pairs = match_reps(true_windows, found_windows)
    measures: list[Reading] = []
    events: list[Reading] = []
    hands_right = 0
    for i_true, i_found in pairs:
        true_rep, result = truth["reps"][i_true], analysis.reps[i_found]
        where = f"{name} rep {i_true + 1}"
        hands_right += result.rep.stick_hand == true_rep["stick_hand"]
        known = true_rep["measures"] | derived_truths(truth, i_true)
        measures += [
            dataclasses.replace(reading, difficulty=difficulty)
            for reading in read_measures(known, result.measurements, where, asked)
        ]
        events += read_events(true_rep, result.rep.events, where, asked)
    print(f"{name} ({asked}): {len(pairs)} of {len(true_windows)} reps", file=sys.stderr)
    return {
        "clip": name,
        "asked_grade": asked,
        "difficulty": difficulty,
        "grade": analysis.scene.grade,
        "move": truth["move"],
        "n_true": len(true_windows),
        "n_found": len(found_windows),
        "n_matched": len(pairs),
        "overlap_over_union": [
            round(overlap_over_union(true_windows[t], found_windows[f]), 3) for t, f in pairs
        ],
        "n_hands_right": hands_right,
        "both_followed": both_followed(truth, analysis),
        "fps": truth["fps"],
        "notes": [*analysis.scene.notes, *analysis.notes],
        "readings": measures,
        "events": events,
        "events_in_frames": [in_frames(reading, truth["fps"]) for reading in events],
    }


def read_measures(
    known: dict[str, float | None], measurements: Any, where: str, grade: str
) -> list[Reading]:
    """Pair each known measure with what was measured."""
    readings = []
    for key, true_value in known.items():
        if key not in MEASURES or true_value is None:
            continue
        got = measurements.get(key)
        readings.append(
            Reading(
                name=key,
                where=where,
                truth=true_value,
                value=None if got is None else got.value,
                interval95=None if got is None else got.interval95,
                reason="not tried" if got is None else got.reason,
                grade=grade,
            )
        )
    return readings


def read_events(true_rep: Truth, events: Any, where: str, grade: str) -> list[Reading]:
    """Pair each known event with the one found; times in s, with 1.96 u as interval."""
    readings = []
    for name, true_event in true_rep["events"].items():
        got = events.get(name)
        interval = None
        if got is not None and math.isfinite(got.u_s):
            interval = (got.time_s - 1.96 * got.u_s, got.time_s + 1.96 * got.u_s)
        readings.append(
            Reading(
                name=name,
                where=where,
                truth=true_event["time_s"],
                value=None if got is None else got.time_s,
                interval95=interval,
                grade=grade,
            )
        )
    return readings


def in_frames(reading: Reading, fps: float) -> Reading:
    """Give the same times as counts of frames."""
    value = None if reading.value is None else reading.value * fps
    return dataclasses.replace(reading, truth=reading.truth * fps, value=value, interval95=None)


def both_followed(truth: Truth, analysis: Analysis) -> dict[str, int] | None:
    """Frames of all approaches, and those with both players found in their right places."""
    if "defender" not in truth["people"]:
        return None
    times = np.asarray(truth["frame_times_s"])
    n_frames = min(times.size, analysis.tracks.image_px.shape[1])
    approach = np.zeros(n_frames, bool)
    for rep in truth["reps"]:
        stop_s = rep["events"].get("dodge_start", {"time_s": rep["stop_s"]})["time_s"]
        approach |= (times[:n_frames] >= rep["start_s"]) & (times[:n_frames] <= stop_s)
    right = approach.copy()
    hips = [JOINTS.index("left_hip"), JOINTS.index("right_hip")]
    for person, who in enumerate(("athlete", "defender")):
        if person >= analysis.tracks.image_px.shape[0]:
            right[:] = False
            break
        found = analysis.tracks.image_px[person, :n_frames, hips].mean(axis=0)
        true_hips, stature_px = true_hips_px(truth, who)
        distance = np.linalg.norm(found - true_hips[:n_frames], axis=-1)
        right &= distance < NEAR_OF_STATURE * stature_px[:n_frames]  # NaN is not near
    return {"n_frames": int(approach.sum()), "n_right": int(right.sum())}


def true_hips_px(truth: Truth, who: str) -> tuple[Any, Any]:
    """Mid-hip in the picture (n_frames, 2), and the stature in px at its distance (n_frames,)."""
    camera, person = truth["camera"], truth["people"][who]
    joints = np.asarray(person["joints_field_m"])
    names = person.get("joints") or truth["people"]["athlete"]["joints"]
    middle = joints[:, [names.index("left_hip"), names.index("right_hip")]].mean(axis=1)
    # A camera in the hand has a rotation of its own in each frame.
    each = camera.get("rotations_camera_from_field", [camera["rotation_camera_from_field"]])
    from_camera = middle - np.asarray(camera["position_field_m"])
    seen = np.einsum("nij,nj->ni", np.broadcast_to(each, (len(middle), 3, 3)), from_camera)
    matrix = np.asarray(camera["matrix"])
    image = seen @ matrix.T
    return image[:, :2] / image[:, 2:], matrix[0, 0] * person["stature_m"] / seen[:, 2]
