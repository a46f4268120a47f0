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

from pipeline.measures import MEASURES
from tests.bench.clip_scores import film_of, score_clip
from tests.bench.scoring import Score, scores_by_difficulty, scores_by_name

GRADES = {"A": "marks on the field", "B": "the athlete's stature"}
"""How the scale was known: every clip by the stature, those with marks in view by them too."""


def main() -> int:
    """Score every clip with truth in the folders given."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folders", nargs="*", default=[], type=Path)
    parser.add_argument("--out", default=Path("accuracy.json"), type=Path)
    parser.add_argument("--cache", type=Path, help="Keep landmarks here from one run to the next.")
    parser.add_argument("--model", help="Pose model, as --model of the program takes it.")
    options = parser.parse_args()
    named = [Path(name) for name in os.environ.get("CLIPS", "").split()]
    folders = dict.fromkeys((options.folders or [Path("sample_clips")]) + named)
    truths = sorted(path for folder in folders for path in folder.rglob("*.truth.json"))
    truths = [path for path in truths if film_of(path).exists()]
    if not truths:
        print(f"No clip with its *.truth.json in {', '.join(map(str, folders))}.", file=sys.stderr)
        return 1
    with tempfile.TemporaryDirectory() as folder:
        scratch = Path(folder)
        scored = [
            score_clip(path, options.cache or scratch, scratch, options.model) for path in truths
        ]
    result = {
        grade: sum_up([each for clip in scored for each in clip if each["asked_grade"] == grade])
        for grade in GRADES
    }
    for grade, words in GRADES.items():
        print(f"\n== Scale by {words} (grade {grade}) ==")
        print_tables(result[grade])
    options.out.write_text(json.dumps(without_nan(result), indent=2), encoding="utf-8")
    print(f"\nWritten: {options.out}")
    return 0


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
            "clips": len(clips),
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
        "by_difficulty": scores_by_difficulty(readings),
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
        "event_readings": [dataclasses.asdict(reading) for reading in events],
    }


def print_tables(result: dict[str, Any]) -> None:
    """Print what a person wants to see."""
    print(f"Reps: {json.dumps(result['reps'])}")
    head = f"{'n':>4}{'of':>4}{'bias':>9}{'median':>9}{'95th':>9}{'inside':>8}{'half':>9}{'>3u':>7}"
    print(f"\n{'measure':32}{'unit':>5}{head}")
    for key, row in result["measures"].items():
        print(f"{key:32}{MEASURES[key].unit:>5}{score_words(Score(**row))}")
    print(f"Inside the 95 % interval, all measures: {result['share_inside_all']:.2f}")
    print("half: median half-width of the 95 % intervals; >3u: share further off than 3 u")
    print(f"\n{'event (ms; frames)':37}{head}")
    for name, row in result["events"].items():
        extra = {key: row[key] for key in row if key.endswith("_frames")}
        found = Score(**{key: row[key] for key in row if key not in extra})
        in_ms = dataclasses.replace(
            found, bias=found.bias * 1e3, median_error=found.median_error * 1e3,
            error_95th=found.error_95th * 1e3, half_width=found.half_width * 1e3,
        )  # fmt: skip
        frames = "  ".join(f"{value:.2f}" for value in extra.values())
        print(f"{name:37}{score_words(in_ms, decimals=1)}   ({frames})")
    print(
        f"\nBoth players in the right place during approaches: {result['both_followed_share']:.3f}"
    )
    if set(result["by_difficulty"]) - {""}:
        print(f"\n{'difficulty':20}{'n':>5}{'of':>5}{'inside':>8}{'>3u':>7}")
        for name, row in result["by_difficulty"].items():
            print(
                f"{name or 'none':20}{row['n_measured']:5}{row['n_truths']:5}"
                f"{row['share_inside']:8.2f}{row['share_far_off']:7.3f}"
            )
    for key, row in result["measures"].items():
        for reason, count in row["reasons"].items():
            print(f"  {key}: {count} not measured: {reason}")


def score_words(found: Score, decimals: int = 3) -> str:
    """One row of a table."""
    numbers = "".join(
        f"{number:9.{decimals}f}" for number in (found.bias, found.median_error, found.error_95th)
    )
    return (
        f"{found.n_measured:4}{found.n_truths:4}{numbers}{found.share_inside:8.2f}"
        f"{found.half_width:9.{decimals}f}{found.share_far_off:7.3f}"
    )


def without_nan(value: Any) -> Any:
    """The same with None in place of what is not a number, which JSON cannot hold."""
    if isinstance(value, dict):
        return {key: without_nan(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [without_nan(item) for item in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value


if __name__ == "__main__":
    sys.exit(main())
