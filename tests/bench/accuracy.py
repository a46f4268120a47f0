"""Runs the program on clips with known truth and prints how far off it was: `make accuracy`."""

from __future__ import annotations

import argparse
import dataclasses
import json
import math
import os
import sys
import tempfile
from pathlib import Path
from typing import Any

import numpy as np

from pipeline.errors import CrossemetryError
from pipeline.measures.table import MEASURES
from pipeline.progress import ignore_progress
from pipeline.run import analyse_clip
from pipeline.settings import GivenSettings, resolve
from pipeline.side_file import read_side_file
from pipeline.types import JOINTS, Analysis
from tests.bench.scoring import Reading, Score, match_reps, overlap_over_union, scores_by_name

Truth = dict[str, Any]
NEAR_OF_STATURE = 0.15
"""A player counts as followed where the hips are found within this share of the stature."""


def main() -> int:
    """Score every clip with truth in the folders given."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folders", nargs="*", default=[], type=Path)
    parser.add_argument("--out", default=Path("accuracy.json"), type=Path)
    parser.add_argument("--cache", type=Path, help="Keep landmarks here from one run to the next.")
    options = parser.parse_args()
    named = [Path(name) for name in os.environ.get("CLIPS", "").split()]
    folders = dict.fromkeys((options.folders or [Path("sample_clips")]) + named)
    truths = sorted(path for folder in folders for path in folder.rglob("*.truth.json"))
    truths = [path for path in truths if film_of(path).exists()]
    if not truths:
        print(f"No clip with its *.truth.json in {', '.join(map(str, folders))}.", file=sys.stderr)
        return 1
    with tempfile.TemporaryDirectory() as scratch:
        cache = options.cache or Path(scratch)
        clips = [score_clip(path, cache) for path in truths]
    result = sum_up(clips)
    print_tables(result)
    options.out.write_text(json.dumps(without_nan(result), indent=2), encoding="utf-8")
    print(f"\nWritten: {options.out}")
    return 0


def film_of(truth_path: Path) -> Path:
    """Give the film that a truth file is about."""
    return truth_path.with_name(truth_path.name.removesuffix(".truth.json") + ".mp4")


def score_clip(truth_path: Path, cache: Path) -> dict[str, Any]:
    """Analyse one clip and hold the result against its truth."""
    truth: Truth = json.loads(truth_path.read_text(encoding="utf-8"))
    clip = film_of(truth_path)
    name = clip.stem
    print(f"{name} ...", end=" ", flush=True, file=sys.stderr)
    settings = resolve(GivenSettings(), read_side_file(clip), clip_name=clip.name)
    try:
        analysis = analyse_clip(clip, settings, cache_dir=cache, on_progress=ignore_progress)
    except CrossemetryError as error:
        print(error, file=sys.stderr)
        return {"clip": name, "error": str(error), "n_true": len(truth["reps"]), "readings": []}
    true_windows = [(rep["start_s"], rep["stop_s"]) for rep in truth["reps"]]
    found_windows = [(result.rep.start_s, result.rep.stop_s) for result in analysis.reps]
    pairs = match_reps(true_windows, found_windows)
    overlaps = [overlap_over_union(true_windows[t], found_windows[f]) for t, f in pairs]
    measures: list[Reading] = []
    events: list[Reading] = []
    hands_right = 0
    for i_true, i_found in pairs:
        true_rep, result = truth["reps"][i_true], analysis.reps[i_found]
        where = f"{name} rep {i_true + 1}"
        hands_right += result.rep.stick_hand == true_rep["stick_hand"]
        measures += read_measures(true_rep, result.measurements, where)
        events += read_events(true_rep, result.rep.events, where)
    print(f"{len(pairs)} of {len(true_windows)} reps", file=sys.stderr)
    return {
        "clip": name,
        "move": truth["move"],
        "n_true": len(true_windows),
        "n_found": len(found_windows),
        "n_matched": len(pairs),
        "overlap_over_union": [round(overlap, 3) for overlap in overlaps],
        "n_hands_right": hands_right,
        "both_followed": both_followed(truth, analysis),
        "fps": truth["fps"],
        "grade": analysis.scene.grade,
        "notes": list(analysis.notes),
        "readings": measures,
        "events": events,
        "events_in_frames": [in_frames(reading, truth["fps"]) for reading in events],
    }


def read_measures(true_rep: Truth, measurements: Any, where: str) -> list[Reading]:
    """Pair each known measure with what was measured."""
    readings = []
    for key, true_value in true_rep["measures"].items():
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
            )
        )
    return readings


def read_events(true_rep: Truth, events: Any, where: str) -> list[Reading]:
    """Pair each known event with the one found; times in s, with 1.96 u as interval."""
    readings = []
    for name, true_event in true_rep["events"].items():
        got = events.get(name)
        interval = None
        if got is not None and math.isfinite(got.u_s):
            interval = (got.time_s - 1.96 * got.u_s, got.time_s + 1.96 * got.u_s)
        value = None if got is None else got.time_s
        readings.append(
            Reading(
                name=name, where=where, truth=true_event["time_s"], value=value, interval95=interval
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
    rotation = np.asarray(camera["rotation_camera_from_field"])
    seen = (middle - np.asarray(camera["position_field_m"])) @ rotation.T
    matrix = np.asarray(camera["matrix"])
    image = seen @ matrix.T
    return image[:, :2] / image[:, 2:], matrix[0, 0] * person["stature_m"] / seen[:, 2]


def sum_up(clips: list[dict[str, Any]]) -> dict[str, Any]:
    """Put the scores of all clips together."""
    readings = [reading for clip in clips for reading in clip.pop("readings", [])]
    events = [reading for clip in clips for reading in clip.pop("events", [])]
    frame_events = [reading for clip in clips for reading in clip.pop("events_in_frames", [])]
    frames = scores_by_name(frame_events)
    stated = [r for r in readings if r.interval95 is not None]
    inside = [r.interval95[0] <= r.truth <= r.interval95[1] for r in stated]
    counted = [clip["both_followed"] for clip in clips if clip.get("both_followed")]
    n_matched = sum(clip.get("n_matched", 0) for clip in clips)
    return {
        "reps": {
            "true": sum(clip["n_true"] for clip in clips),
            "found": n_matched,
            "missed": sum(clip["n_true"] for clip in clips) - n_matched,
            "extra": sum(clip.get("n_found", 0) for clip in clips) - n_matched,
            "overlap_half_of_union": sum(
                o >= 0.5 for clip in clips for o in clip.get("overlap_over_union", [])
            ),
            "stick_hand_right": sum(clip.get("n_hands_right", 0) for clip in clips),
        },
        "measures": {k: dataclasses.asdict(v) for k, v in scores_by_name(readings).items()},
        "share_inside_all": float(np.mean(inside)) if inside else math.nan,
        "events": {
            name: dataclasses.asdict(found)
            | {
                "median_error_frames": frames[name].median_error,
                "error_95th_frames": frames[name].error_95th,
            }
            for name, found in scores_by_name(events).items()
        },
        "both_followed_share": (
            sum(c["n_right"] for c in counted) / max(1, sum(c["n_frames"] for c in counted))
            if counted
            else math.nan
        ),
        "clips": clips,
        "readings": [dataclasses.asdict(reading) for reading in readings],
    }


def print_tables(result: dict[str, Any]) -> None:
    """Print what a person wants to see."""
    print(f"\nReps: {json.dumps(result['reps'])}")
    head = f"{'n':>4}{'of':>4}{'bias':>9}{'median':>9}{'95th':>9}{'inside':>8}"
    print(f"\n{'measure':32}{'unit':>5}{head}")
    for key, row in result["measures"].items():
        print(f"{key:32}{MEASURES[key].unit:>5}{score_words(Score(**row))}")
    print(f"Inside the 95 % interval, all measures: {result['share_inside_all']:.2f}")
    print(f"\n{'event (ms; frames)':37}{head}")
    for name, row in result["events"].items():
        extra = {key: row[key] for key in row if key.endswith("_frames")}
        found = Score(**{key: row[key] for key in row if key not in extra})
        in_ms = dataclasses.replace(
            found, bias=found.bias * 1e3, median_error=found.median_error * 1e3,
            error_95th=found.error_95th * 1e3,
        )  # fmt: skip
        frames = "  ".join(f"{value:.2f}" for value in extra.values())
        print(f"{name:37}{score_words(in_ms, decimals=1)}   ({frames})")
    print(
        f"\nBoth players in the right place during approaches: {result['both_followed_share']:.3f}"
    )
    for key, row in result["measures"].items():
        for reason, count in row["reasons"].items():
            print(f"  {key}: {count} not measured: {reason}")


def score_words(found: Score, decimals: int = 3) -> str:
    """One row of a table."""
    numbers = "".join(
        f"{number:9.{decimals}f}" for number in (found.bias, found.median_error, found.error_95th)
    )
    return f"{found.n_measured:4}{found.n_truths:4}{numbers}{found.share_inside:8.2f}"


def without_nan(value: Any) -> Any:
    """The same with None in place of what is not a number, which JSON cannot hold."""
    if isinstance(value, dict):
        return {key: without_nan(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [without_nan(item) for item in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value


if __name__ == "__main__":
    sys.exit(main())
