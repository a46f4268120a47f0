"""Estimates the offsets of the pose model's points on rendered bodies of known joints.

``python -m tests.bench.joint_offsets FOLDER ... --cache DIR`` writes the table that
`pipeline.scene.joint_offsets` reads. The folders hold clips with truth that nothing is scored on,
e.g. those of ``python -m sample_clips.render --set training`` and ``--set drawn --seed 11``.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from calibration.body_size import toward_viewing_ray
from pipeline.core.progress import ignore_progress
from pipeline.core.types import JOINTS, SmoothTracks
from pipeline.film.container import file_digest
from pipeline.people.landmarks import read_landmarks
from pipeline.people.smoothing import smooth_tracks
from pipeline.scene.calibration_samples import SIZE_JOINTS, model_stature
from pipeline.scene.depth import arm_readings_m
from pipeline.scene.joint_offsets import PARTS, TABLE, body_axes
from pipeline.settings.settings import GivenSettings, resolve
from pipeline.settings.side_file import read_side_file
from tests.bench.clip_scores import film_of

LOST = 0.15
"""A point further off than this share of the stature belongs to another body or to none."""

Floats = Any


@dataclass(frozen=True, slots=True, kw_only=True)
class Residuals:
    """One person of one clip: what the model says less what is true, as shares of stature.

    Attributes
    ----------
    picture
        (n_frames, 23, 2) in the picture; NaN where a body is in the way.
    depth
        (n_frames, 23) of the depth against the hips.
    axes
        (n_frames, 3, 3) as from `body_axes`.
    arm_ratios
        (2,) true arm length over each of its readings.
    """

    picture: Floats
    depth: Floats
    axes: Floats
    arm_ratios: Floats


def main() -> None:
    """Estimate and write the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folders", nargs="+", type=Path)
    parser.add_argument("--cache", required=True, type=Path)
    parser.add_argument("--model", required=True, help="lite, full or heavy.")
    parser.add_argument("--sets", required=True, help="Which sets these are, for the table's head.")
    parser.add_argument("--out", default=TABLE, type=Path)
    options = parser.parse_args()
    truths = sorted(path for folder in options.folders for path in folder.rglob("*.truth.json"))
    people = [each for path in truths for each in residuals_of(path, options.cache, options.model)]
    n_frames = sum(int(np.isfinite(each.depth[:, 0]).sum()) for each in people)
    lines = [
        "# Offsets of the pose model's points from the joint centres, as shares of stature.",
        "# Written by `python -m tests.bench.joint_offsets`; not to be edited by hand.",
        f"# Estimated on rendered, invented bodies: {options.sets}.",
        f"# {len(truths)} clips, {len(people)} people, {n_frames} frames.",
        "# picture, metric: forward, outward, up. u_picture, u_metric: standard deviation of the",
        "# mean over a clip, and about that mean.",
        "",
    ]
    factors, u_share = fit_arm(people)
    lines += [
        "# True arm length over its two readings, and what their mean is off by, as a share.",
        "[arm]",
        f"metric = {factors[0]:.4f}",
        f"picture = {factors[1]:.4f}",
        f"u_share = {u_share:.4f}",
        "",
    ]
    for part in PARTS:
        picture, u_picture = fit(people, part, of_depth=False)
        metric, u_metric = fit(people, part, of_depth=True)
        lines += [
            f"[offsets.{part}]",
            *(
                f"{key} = [{', '.join(f'{value:.4f}' for value in values)}]"
                for key, values in (
                    ("picture", picture),
                    ("metric", metric),
                    ("u_picture", u_picture),
                    ("u_metric", u_metric),
                )
            ),
            "",
        ]
    options.out.write_text("\n".join(lines), encoding="utf-8")


def residuals_of(truth_path: Path, cache: Path, model: str) -> Iterator[Residuals]:
    """Compare each person of a clip with the truth."""
    truth = json.loads(truth_path.read_text(encoding="utf-8"))
    film = film_of(truth_path)
    settings = resolve(GivenSettings(model=model), read_side_file(film), clip_name=film.name)
    clip, tracks = read_landmarks(
        film, settings, digest=file_digest(film), cache_dir=cache, on_progress=ignore_progress
    )
    smooth = smooth_tracks(tracks, clip.time_s)
    for person, role in enumerate(("athlete", "defender")):
        if role in truth["people"] and person < tracks.n_people:
            yield _residuals(truth, role, smooth, person)


def _residuals(truth: dict[str, Any], role: str, smooth: SmoothTracks, person: int) -> Residuals:
    camera, who = truth["camera"], truth["people"][role]
    names = who.get("joints") or truth["people"]["athlete"]["joints"]
    matrix = np.asarray(camera["matrix"])
    rotation = np.asarray(camera["rotation_camera_from_field"])
    joints_m = np.asarray(who["joints_field_m"])[:, [names.index(name) for name in JOINTS]]
    seen_m = (joints_m - np.asarray(camera["position_field_m"])) @ rotation.T
    n_frames = min(len(seen_m), smooth.time_s.size)
    seen_m, image_px = seen_m[:n_frames], smooth.image_px[person, :n_frames]
    focal_px, principal_px = matrix[0, 0], matrix[:2, 2]
    true_px = seen_m[..., :2] / seen_m[..., 2:] * focal_px + principal_px
    size_px = focal_px * who["stature_m"] / seen_m[..., 2]
    off = (image_px - true_px) / size_px[..., None]
    off[smooth.overlapped[person, :n_frames]] = np.nan
    lost = np.linalg.norm(np.nan_to_num(off), axis=-1) > LOST
    off[lost] = np.nan
    slope = (image_px - principal_px) / focal_px
    body_m = smooth.body_m[person, :n_frames]
    turned = toward_viewing_ray(body_m, slope[:, SIZE_JOINTS].mean(axis=1))
    known = np.isfinite(body_m).all(axis=(1, 2))
    scale = 1.0 / model_stature(body_m[known])
    depth = scale * turned[..., 2] - _against_hips(seen_m[..., 2]) / who["stature_m"]
    depth[~np.isfinite(off[..., 0])] = np.nan
    hips = [JOINTS.index("left_hip"), JOINTS.index("right_hip")]
    clear = known & ~smooth.overlapped[person, :n_frames]
    readings_m = arm_readings_m(
        body_m=np.where(clear[:, None, None], body_m, np.nan),
        scale=scale * who["stature_m"],
        joint_px=image_px,
        noise_px=smooth.noise_px[person, :n_frames],
        metres_per_px=seen_m[:, hips, 2].mean(axis=1) / focal_px,
        size_px=size_px[:, hips].mean(axis=1),
    )
    return Residuals(
        picture=off,
        depth=depth,
        axes=body_axes(turned, rotation[:, 2]),
        arm_ratios=who["arm_length_m"] / readings_m,
    )


def _against_hips(depth_m: Floats) -> Floats:
    hips = [JOINTS.index("left_hip"), JOINTS.index("right_hip")]
    return depth_m - depth_m[:, hips].mean(axis=1, keepdims=True)


def fit_arm(people: list[Residuals]) -> tuple[Floats, float]:
    """Fit the factors that bring the readings to true arms, and the spread of their mean."""
    ratios = np.array([person.arm_ratios for person in people])
    ratios = ratios[np.isfinite(ratios).all(axis=1)]
    factors = 1.0 / (1.0 / ratios).mean(axis=0)
    return factors, float(np.std((factors / ratios).mean(axis=1), ddof=1))


def fit(
    people: list[Residuals], part: str, *, of_depth: bool
) -> tuple[list[float], tuple[float, float]]:
    """Fit an offset (forward, outward, up) by least squares, and the spreads that it leaves."""
    rows, values, groups = [], [], []
    for number, person in enumerate(people):
        for joint, name in enumerate(JOINTS):
            if name.split("_")[-1] != part:
                continue
            axes = person.axes.copy()
            if name.startswith("right_"):
                axes[..., 1] *= -1.0
            if of_depth:
                row, value = axes[:, 2:3], person.depth[:, joint, None]
            else:
                row, value = axes[:, :2], person.picture[:, joint]
            known = np.isfinite(row).all(axis=(1, 2)) & np.isfinite(value).all(axis=1)
            rows.append(row[known])
            values.append(value[known])
            groups.append(np.full(int(known.sum()), 2 * number + name.startswith("right_")))
    row, value, group = np.concatenate(rows), np.concatenate(values), np.concatenate(groups)
    n_axes = 2 if of_depth else 3  # the way up has no depth to speak of
    flat = row[..., :n_axes].reshape(-1, n_axes)
    offset = np.linalg.lstsq(flat, value.ravel(), rcond=None)[0]
    left = value - (row[..., :n_axes] @ offset)
    means = np.array([left[group == each].mean(axis=0) for each in np.unique(group)])
    within = left - means[np.searchsorted(np.unique(group), group)]
    spreads = float(np.sqrt(np.mean(means**2))), float(np.sqrt(np.mean(within**2)))
    return [*map(float, offset), *([0.0] * (3 - n_axes))], spreads


if __name__ == "__main__":
    main()
