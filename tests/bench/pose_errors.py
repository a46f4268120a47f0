"""Measures how far off joints are on films with known truth, as `pose_errors.json` holds it."""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
from pathlib import Path

import numpy as np

from pipeline.core.spline import runs
from pipeline.core.types import JOINTS, FloatArray
from tests.bench.clip_scores import film_of
from tests.bench.film_motions import FilmMotions, film_motions

LIMBS = ("shoulder", "elbow", "wrist", "hand", "knee", "ankle", "heel", "toe")
LEAST_WAY = 0.02
"""A slope is told from a part that moves by more than this, standard deviation in statures."""

OTHER_BODY = 0.6
"""Where mid-hip is further off than this across the view, statures, another body was followed."""


def main() -> int:
    """Print the table for the films with truth in the folders given."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folders", nargs="+", type=Path)
    parser.add_argument("--cache", type=Path, help="Keep landmarks here from one run to the next.")
    options = parser.parse_args()
    truths = sorted(path for folder in options.folders for path in folder.rglob("*.truth.json"))
    with tempfile.TemporaryDirectory() as scratch:
        cache = options.cache or Path(scratch)
        films = [film_motions(path, cache) for path in truths if film_of(path).exists()]
    if not films:
        print("No film with its *.truth.json there.", file=sys.stderr)
        return 1
    rows: dict[str, list[FloatArray]] = {}
    for film in films:
        for name, row in errors_of(film).items():
            rows.setdefault(name, []).append(row)
    table = {name: summed(np.array(each)) for name, each in rows.items()}
    spans = {"hand": hidden_hands(films), "person": lost(films, 0), "second": lost(films, 1)}
    follows = {name: np.array([followed(film)[name] for film in films]) for name in LIMBS}
    slopes = {
        name: [round(float(x), 2) for x in (*np.nanmedian(s, axis=0), *np.nanstd(s, axis=0))]
        for name, s in follows.items()
    }
    print(json.dumps({"joints": table, "follows": slopes, "spans": spans}, indent=1))
    return 0


def followed(film: FilmMotions) -> dict[str, FloatArray]:
    """Slope (3,) of the seen place of the parts of the limbs over the true one, from mid-hip.

    Across the view, along it, up; NaN where the part hardly moves that way.
    """
    true = true_joints_m(film, "athlete")
    seen = film.people[0].joints_m[0][: len(true)]
    stature_m = float(film.people[0].stature_m[0])
    ways = [(j - 0.5 * (j[:, 13] + j[:, 14])[:, None]) / stature_m for j in (true, seen)]
    found = {}
    for part in LIMBS:
        slopes = np.full((2, 3), np.nan)
        for side, name in enumerate(("left", "right")):
            joint = JOINTS.index(f"{name}_{part}")
            for axis in range(3):
                x, y = (way[:, joint, axis] for way in ways)
                known = np.isfinite(x) & np.isfinite(y)
                if known.any() and np.std(x[known]) > LEAST_WAY:
                    slopes[side, axis] = np.polyfit(x[known], y[known], 1)[0]
        found[part] = np.nanmean(slopes, axis=0)
    return found


def errors_of(film: FilmMotions) -> dict[str, FloatArray]:
    """Spread (3,), mean (3,), half-time of the errors of each of the athlete's joints and mid-hip.

    Across the view, along it, up; shares of stature.
    """
    true = true_joints_m(film, "athlete")
    seen = film.people[0].joints_m[0][: len(true)]
    stature_m = float(film.people[0].stature_m[0])
    step_s = float(np.median(np.diff(film.people[0].time_s)))
    hips_seen, hips_true = (0.5 * (j[:, 13] + j[:, 14]) for j in (seen, true))
    off = ((seen - hips_seen[:, None]) - (true - hips_true[:, None])) / stature_m
    body = (hips_seen - hips_true) / stature_m
    body = np.where(np.abs(body[:, :1]) < OTHER_BODY, body, np.nan)
    found: dict[str, list[FloatArray]] = {"body": [body]}
    for joint, name in enumerate(JOINTS):
        found.setdefault(name.split("_")[-1], []).append(off[:, joint])
    return {
        name: np.mean([_row(each, step_s) for each in sides], axis=0)
        for name, sides in found.items()
    }


def true_joints_m(film: FilmMotions, role: str) -> FloatArray:
    """True joints (n, 23, 3) along the camera's axes on the ground; NaN where there is no truth."""
    person, camera = film.truth["people"][role], film.truth["camera"]
    forward = np.array(camera["rotation_camera_from_field"])[2] * [1.0, 1.0, 0.0]
    forward /= np.linalg.norm(forward)
    axes = np.array([[forward[1], -forward[0], 0.0], forward, [0.0, 0.0, 1.0]])
    track = (np.asarray(person["joints_field_m"]) - [*camera["position_field_m"][:2], 0.0]) @ axes.T
    true = np.full((len(track), len(JOINTS), 3), np.nan)
    for joint, name in enumerate(JOINTS):
        if name in person["joints"]:
            true[:, joint] = track[:, person["joints"].index(name)]
    return true


def _row(off: FloatArray, step_s: float) -> FloatArray:
    centred = np.nan_to_num(off - np.nanmean(off, axis=0))
    half_s = []
    for column in centred.T[:2]:
        alike = np.correlate(column, column, "full")[column.size - 1 :]
        half_s.append(float(np.argmax(alike < 0.5 * alike[0])) * step_s)
    return np.concatenate(
        [np.nanstd(off, axis=0), np.nanmean(off, axis=0), [float(np.mean(half_s))]]
    )


def summed(rows: FloatArray) -> list[float]:
    """One row of the table from the rows of all films."""
    spread = np.sqrt(np.nanmean(rows[:, :3] ** 2, axis=0))
    lasting = np.nanstd(rows[:, 3:6], axis=0)
    return [round(float(x), 3) for x in (*spread, *lasting, np.nanmedian(rows[:, 6]))]


def hidden_hands(films: list[FilmMotions]) -> list[float]:
    """Share of the time and mean length of spans in which a hand of the athlete was not known."""
    masks = [
        (film, np.isfinite(film.people[0].joints_m[0, :, 13, 0])
         & ~np.isfinite(film.people[0].joints_m[0, :, JOINTS.index(hand), 0]))
        for film in films for hand in ("left_hand", "right_hand")
    ]  # fmt: skip
    return _spans(masks)


def lost(films: list[FilmMotions], person: int) -> list[float]:
    """Share of the time and mean length of spans in which a person was not known."""
    there = [film for film in films if len(film.people) > person]
    return _spans(
        [(film, ~np.isfinite(film.people[person].joints_m[0, :, 13, 0])) for film in there]
    )


def _spans(masks: list[tuple[FilmMotions, np.ndarray]]) -> list[float]:
    lengths_s, whole_s = [], 0.0
    for film, mask in masks:
        step_s = float(np.median(np.diff(film.people[0].time_s)))
        lengths_s += [(stop - start) * step_s for start, stop in runs(mask)]
        whole_s += mask.size * step_s
    share = sum(lengths_s) / whole_s if whole_s else 0.0
    return [round(share, 3), round(float(np.mean(lengths_s)), 2) if lengths_s else 0.0]


if __name__ == "__main__":
    sys.exit(main())
