"""Scores the metres of each view of a calibrated scene against the triangulation of all views.

``python -m tests.bench.view_metres SCENE FOLDER --cameras FILE --stature METRES --cache DIR``: the
folder holds cam01.mp4, cam02.mp4 and so on. The reference is made of the landmarks of all views and
shares their common bias.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

import numpy as np

import models
from pipeline.core.types import JOINTS, FloatArray
from pipeline.measures.angles import included_angle_deg
from pipeline.scene.motion import motion_of
from pipeline.scene.placed_clip import load_placed_clip
from pipeline.settings.settings import GivenSettings, SideFile, resolve
from tests.bench.pose_model_landmarks import clean_joints_px
from tests.bench.views import View, best_agreement, triangulate, views_of

QUANTITIES = (
    "higher wrist, cm", "hips, cm", "distance to the camera, cm", "trunk lean, deg",
    "knee angles, deg",
)  # fmt: skip


def main() -> int:
    """Print bias, median and 95th error and the share inside the 95 % interval."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("scene")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--cameras", type=Path, required=True, help="JSON of the cameras.")
    parser.add_argument("--stature", type=float, required=True)
    parser.add_argument("--cache", type=Path, required=True)
    parser.add_argument("--model", default=models.DEFAULT_MODEL)
    parser.add_argument("--fov-deg", type=float, default=None)
    options = parser.parse_args()
    views = views_of(json.loads(options.cameras.read_text(encoding="utf-8")), options.scene)
    people = [
        clean_joints_px(options.folder / f"{name}.mp4", options.model, options.cache)
        for name in views
    ]
    cameras = list(views.values())
    truth_m = triangulate(best_agreement(people, cameras), cameras)
    pairs = []
    for name, view in views.items():
        given = GivenSettings(
            stature_m=options.stature, model=options.model, fov_deg=options.fov_deg
        )
        film = options.folder / f"{name}.mp4"
        settings = resolve(given, SideFile(), clip_name=film.name)
        placed = load_placed_clip(film, settings, cache_dir=options.cache)
        scene = placed.scene
        camera_m = -view.rotation.T @ view.translation_m
        print(
            f"{name}: grade {scene.grade}, height {scene.height_m[0]:.2f} "
            f"(u {scene.height_m.std():.2f}) for {camera_m[2]:.2f} m, roll {scene.roll_deg[0]:.1f} "
            f"(u {scene.roll_deg.std():.1f}) for {roll_deg(view):.1f} degrees"
        )
        motion = motion_of(
            placed.people[0], placed.clip.time_s, scene, 0, len(truth_m), n_draws=scene.n_draws
        )
        found = quantities(motion.joints_m.astype(float), np.zeros(3))
        pairs.append((found, quantities(truth_m[None], camera_m)[:, 0]))
    print("\nbias, median, 95th; inside the 95 % interval; over 3 u")
    for i, name in enumerate(QUANTITIES):
        print_row(name, [(found[i], true[i]) for found, true in pairs])
    return 0


def roll_deg(view: View) -> float:
    """Roll of a camera over a ground whose third axis points up."""
    return float(np.degrees(np.arctan2(-view.rotation[0, 2], -view.rotation[1, 2])))


def quantities(joints_m: FloatArray, camera_m: FloatArray) -> FloatArray:
    """Give `QUANTITIES` of joints ``(n_draws, n_frames, 23, 3)``: (5, n_draws, 2 * n_frames)."""

    def joint(name: str) -> FloatArray:
        return joints_m[..., JOINTS.index(name), :]

    def middle(part: str) -> FloatArray:
        return 0.5 * (joint(f"left_{part}") + joint(f"right_{part}"))

    wrist = np.fmax(joint("left_wrist")[..., 2], joint("right_wrist")[..., 2])
    hips = middle("hip")
    away = np.linalg.norm(hips[..., :2] - camera_m[:2], axis=-1)
    trunk = middle("shoulder") - hips
    lean = np.degrees(np.arccos(trunk[..., 2] / np.linalg.norm(trunk, axis=-1)))
    knees = [
        included_angle_deg(*(joint(f"{side}_{part}") for part in ("hip", "knee", "ankle")))
        for side in ("left", "right")
    ]
    blank = np.full_like(lean, np.nan)
    rows = [(100 * wrist, blank), (100 * hips[..., 2], blank), (100 * away, blank), (lean, blank)]
    return np.stack([np.concatenate(row, axis=-1) for row in [*rows, tuple(knees)]])


def print_row(name: str, pairs: list[tuple[FloatArray, FloatArray]]) -> None:
    """Print one quantity over all views: found (n_draws, n) with draw 0 first, and true (n,)."""
    off, inside, beyond = [], [], []
    for found, true in pairs:
        known = np.isfinite(found[0]) & np.isfinite(true)
        best, draws = found[0, known], found[1:, known]
        low, high = np.nanquantile(draws - np.nanmean(draws, axis=0) + best, [0.025, 0.975], axis=0)
        off.append(best - true[known])
        inside.append((true[known] >= low) & (true[known] <= high))
        beyond.append(np.abs(off[-1]) > 3.0 * np.nanstd(draws, axis=0))
    errors = np.concatenate(off)
    median, tail = np.percentile(np.abs(errors), [50, 95])
    print(
        f"{name:28} {errors.mean():+6.1f} {median:6.1f} {tail:6.1f} "
        f"{np.concatenate(inside).mean():5.0%} {np.concatenate(beyond).mean():5.1%}"
    )


if __name__ == "__main__":
    raise SystemExit(main())
