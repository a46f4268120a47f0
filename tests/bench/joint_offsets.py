"""Estimates the offsets of the pose model's points on rendered bodies of known joints.

``python -m tests.bench.joint_offsets FOLDER ... --cache DIR --model NAME`` writes the table of
that model, which `pipeline.scene.joint_offsets` reads. The folders hold clips with truth that
nothing is scored on, e.g. those of ``python -m sample_clips.render --set training`` and
``--set drawn --seed 11``.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from calibration.body_size import root_from_size, toward_viewing_ray
from pipeline.core.progress import ignore_progress
from pipeline.core.types import JOINTS, SmoothTracks
from pipeline.film.container import file_digest
from pipeline.people.landmarks import read_landmarks
from pipeline.people.smoothing import smooth_tracks
from pipeline.scene.calibration_samples import SIZE_JOINTS, chain_m
from pipeline.scene.depth import arm_readings_m
from pipeline.scene.joint_offsets import PARTS, body_axes, table_path
from pipeline.settings.settings import GivenSettings, resolve
from pipeline.settings.side_file import read_side_file
from tests.bench.clip_scores import film_of

FIRST_CHAIN = 0.74

CHAIN_OVER_SIZE = 1.016
"""How much longer the chain is than the body's size shows, because points lie off the joints. With
it hips and ears are at their true heights, on 87 rendered clips measured by the stature: within
0.4 % of stature in the mean (full model)."""

LOST = 0.15
"""A point further off than this share of the stature belongs to another body or to none."""

Floats = Any


@dataclass(frozen=True, slots=True, kw_only=True)
class Residuals:
    """One person of one clip: the model's values less the true ones, as shares of stature.

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
    body
        (n_frames, 23, 3) metric body turned to the viewing ray, in statures of the model's body.
    slope
        (n_frames, 10, 2) of the rays of the joints that carry the size.
    hip_depth
        (n_frames,) true depth of mid-hip, in statures.
    chain
        (n_frames,) shank, thigh and trunk, in statures of the model's body.
    """

    picture: Floats
    depth: Floats
    axes: Floats
    arm_ratios: Floats
    body: Floats
    slope: Floats
    hip_depth: Floats
    chain: Floats


def main() -> None:
    """Estimate and write the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folders", nargs="+", type=Path)
    parser.add_argument("--cache", required=True, type=Path)
    parser.add_argument("--model", required=True, help="lite, full or heavy.")
    parser.add_argument("--sets", required=True, help="Which sets these are, for the table's head.")
    options = parser.parse_args()
    truths = sorted(path for folder in options.folders for path in folder.rglob("*.truth.json"))
    chain = FIRST_CHAIN
    for _ in range(2):  # the offsets hardly depend on it
        people = [
            each
            for path in truths
            for each in residuals_of(path, options.cache, options.model, chain)
        ]
        depth = {part: fit(people, part, of_depth=True)[0] for part in PARTS}
        chain = CHAIN_OVER_SIZE * fit_chain(people, depth)
    n_frames = sum(int(np.isfinite(each.depth[:, 0]).sum()) for each in people)
    lines = [
        "# Offsets of the pose model's points from the joint centres, as shares of stature.",
        "# Written by `python -m tests.bench.joint_offsets`; not to be edited by hand.",
        f"# Estimated on rendered, invented bodies: {options.sets}.",
        f"# {len(truths)} clips, {len(people)} people, {n_frames} frames.",
        "# picture, metric: forward, outward, up. u_picture, u_metric: standard deviation of the",
        "# mean over a clip, and about that mean.",
        "",
        "# Shank, thigh and trunk of the metric body, as a share of stature.",
        "[body]",
        f"chain = {chain:.4f}",
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
    fitted = {
        part: (*fit(people, part, of_depth=False), *fit(people, part, of_depth=True))
        for part in PARTS
    }
    for part, (picture, u_picture, metric, u_metric) in fitted.items():
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
    table_path(options.model).write_text("\n".join(lines), encoding="utf-8")


def residuals_of(truth_path: Path, cache: Path, model: str, chain: float) -> Iterator[Residuals]:
    """Compare each person of a clip with the truth."""
    truth = json.loads(truth_path.read_text(encoding="utf-8"))
    film = film_of(truth_path)
    settings = resolve(GivenSettings(model=model), read_side_file(film), clip_name=film.name)
    clip, tracks = read_landmarks(
        film, settings, digest=file_digest(film), cache_dir=cache, on_progress=ignore_progress
    )
    smooth = smooth_tracks(tracks, clip.time_s, model=model)
    for person, role in enumerate(("athlete", "defender")):
        if role in truth["people"] and person < tracks.n_people:
            yield _residuals(truth, role, smooth, person, chain)


def _residuals(
    truth: dict[str, Any], role: str, smooth: SmoothTracks, person: int, chain: float
) -> Residuals:
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
    scale = chain / float(np.median(chain_m(body_m[known])))
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
        body=np.where(clear[:, None, None], scale * turned, np.nan),
        slope=slope[:, SIZE_JOINTS],
        hip_depth=seen_m[:, hips, 2].mean(axis=1) / who["stature_m"],
        chain=scale * chain_m(body_m),
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


def fit_chain(people: list[Residuals], depth: dict[str, list[float]]) -> float:
    """Fit what shank, thigh and trunk add up to in statures.

    It is the one that puts mid-hip at its true depth when the depth is read from the body's size.
    """
    metric = np.array([depth[name.split("_")[-1]] for name in JOINTS])
    metric[:, 1] *= [-1.0 if name.startswith("right_") else 1.0 for name in JOINTS]
    shares = []
    for person in people:
        known = np.isfinite(person.body).all(axis=(1, 2)) & np.isfinite(person.slope).all((1, 2))
        if known.sum() < 20:
            continue
        body, axes = person.body[known], person.axes[known]
        depth = body[..., 2] - axes[:, 2] @ metric.T
        shape = np.concatenate([body[..., :2], depth[..., None]], axis=-1)[:, SIZE_JOINTS]
        unit = root_from_size(person.slope[known], shape, np.ones(len(SIZE_JOINTS)))[:, 2]
        shares.append(np.median(person.hip_depth[known] / unit) * np.median(person.chain[known]))
    return float(np.mean(shares))


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
