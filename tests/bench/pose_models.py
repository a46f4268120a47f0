"""Compares the pose models joint by joint, with tails, on each source of film by itself.

``python -m tests.bench.pose_models --cache DIR`` with folders of film; nothing is fetched. A folder
of four views holds cam01.mp4 to cam04.mp4 of the scene that is named with it.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Iterator
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np

import models
from pipeline.core.types import JOINTS, BoolArray, FloatArray
from tests.bench.pose_model_landmarks import bodies_m, clean_joints_px, raw_joints_px
from tests.bench.views import View, best_agreement, pixels_of, triangulate, views_of

PARTS = ("shoulder", "elbow", "wrist", "hand", "hip", "knee", "ankle", "heel", "toe")
ARMS = tuple((JOINTS.index(f"left_{p}"), JOINTS.index(f"right_{p}")) for p in ("elbow", "wrist"))
LEGS = tuple((JOINTS.index(f"left_{p}"), JOINTS.index(f"right_{p}")) for p in ("knee", "ankle"))
APART_OF_STATURE = 0.06
"""Left and right count as exchanged only where they are further apart than this."""
LIMBS = (("shoulder", "elbow"), ("elbow", "wrist"), ("hip", "knee"), ("knee", "ankle"))
STILL_SHARE = 0.25
"""Share of the frames, the slowest of a joint, in which it counts as still."""

Finder = Callable[[Path, str, Path], list[FloatArray]]
EXCHANGE = "longest exchange of left and right in frames"
WAYS: dict[str, Finder] = {"raw": raw_joints_px, "clean": clean_joints_px}


def main() -> int:
    """Print one table per source."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cache", type=Path, required=True, help="Landmarks are kept here.")
    parser.add_argument("--models", nargs="+", default=list(models.MODELS))
    parser.add_argument("--cameras", type=Path, help="JSON of the cameras of the four views.")
    two: dict[str, Any] = {"nargs": 2, "action": "append", "default": []}
    parser.add_argument("--views", metavar=("SCENE", "FOLDER"), **two)
    parser.add_argument("--untrue", nargs="*", type=Path, default=[], help="Films without truth.")
    parser.add_argument("--truth", metavar=("NAME", "FOLDER"), **two)
    options = parser.parse_args()
    for scene, folder in options.views:
        views = views_of(json.loads(options.cameras.read_text(encoding="utf-8")), scene)
        for way, find in WAYS.items():
            print(
                f"\n{scene}, {way}: px between a view and all four, median/95th; longest exchange"
            )
            for model in options.models:
                print_row(model, *four_views(Path(folder), views, model, find, options.cache))
    for film in options.untrue:
        print(f"\n{film.name}, raw: exchanges a second, jitter of still joints, limbs' spread")
        for model in options.models:
            print(
                f"{model:6}",
                "  ".join(f"{x:.3f}" for x in without_truth(film, model, options.cache)),
            )
    for name, folder in options.truth:
        truths = sorted(Path(folder).rglob("*.truth.json"))
        for way, find in WAYS.items():
            print(f"\n{name}, {way}: % of stature, median/95th; {EXCHANGE}")
            for model in options.models:
                pairs = [against_truth(path, model, find, options.cache) for path in truths]
                off, longest = zip(*pairs, strict=True)
                print_row(model, 100.0 * np.concatenate(off), max(longest))
    return 0


def print_row(model: str, off: FloatArray, longest: int) -> None:
    """Print median and 95th of each part, both sides together, and the longest exchange."""
    cells = []
    for part in PARTS:
        columns = [j for j, name in enumerate(JOINTS) if name.endswith(f"_{part}")]
        values = off[:, columns]
        values = values[np.isfinite(values)]
        numbers = np.percentile(values, [50, 95]) if values.size else ()
        cells.append("/".join(f"{number:.1f}" for number in numbers) or "-")
    print(f"{model:6}", " ".join(f"{cell:>10}" for cell in cells), f"{longest:5d}")


def four_views(
    folder: Path, views: dict[str, View], model: str, find: Finder, cache: Path
) -> tuple[FloatArray, int]:
    """Distance of each view's joints from the point of all four, px, and the longest exchange.

    Of the people found in each view those are compared who fit one body best.
    """
    found = [find(folder / f"{name}.mp4", model, cache) for name in views]
    cameras = list(views.values())
    seen = best_agreement(found, cameras)
    reference = pixels_of(triangulate(seen, cameras), cameras)
    off = np.linalg.norm(seen - reference, axis=-1)
    longest = 0
    for view in range(len(cameras)):
        others = [k for k in range(len(cameras)) if k != view]
        points_m = triangulate(seen[others], [cameras[k] for k in others])
        expected = pixels_of(points_m, [cameras[view]])[0]
        longest = max(longest, longest_exchange(seen[view], expected, height_px(expected)))
    return off.reshape(-1, len(JOINTS)), longest


def height_px(joints_px: FloatArray) -> float:
    """Give the median height of a body from the nose to the lower ankle, px."""
    ankles = joints_px[:, [JOINTS.index("left_ankle"), JOINTS.index("right_ankle")], 1]
    return float(np.nanmedian(ankles.max(axis=1) - joints_px[:, 0, 1]))


def longest_exchange(seen: FloatArray, expected: FloatArray, size_px: float) -> int:
    """Longest run of frames in which both arms or both legs are clearly at the other side's place.

    Parameters
    ----------
    seen, expected
        (n_frames, 23, 2) px.
    size_px
        Height of the body.
    """
    longest = 0
    for pairs in (ARMS, LEGS):
        left, right = (np.array([pair[k] for pair in pairs]) for k in (0, 1))
        with np.errstate(invalid="ignore"):
            exchanged = _exchanged(seen, expected, left, right, size_px)
        run = 0
        for now in exchanged:
            run = run + 1 if now else 0
            longest = max(longest, run)
    return longest


def _exchanged(
    seen: FloatArray, expected: FloatArray, left: FloatArray, right: FloatArray, size_px: float
) -> BoolArray:
    def apart(a: FloatArray, b: FloatArray) -> FloatArray:
        return np.asarray(np.linalg.norm(a - b, axis=-1).sum(axis=1))

    same = apart(seen[:, left], expected[:, left]) + apart(seen[:, right], expected[:, right])
    other = apart(seen[:, left], expected[:, right]) + apart(seen[:, right], expected[:, left])
    wide = apart(expected[:, left], expected[:, right]) > APART_OF_STATURE * size_px * left.size
    return np.asarray((other < 0.5 * same) & wide)


def without_truth(film: Path, model: str, cache: Path) -> tuple[float, float, float]:
    """What can be judged without truth: exchanges, jitter, and how constant limbs are.

    Returns
    -------
    tuple
        Frames a second in which left and right go on from where the other was; jitter of still
        joints, % of height; spread of the length of limbs in the metric body, % of the length.
    """
    raw = raw_joints_px(film, model, cache)[0]
    size_px = height_px(raw)
    jumps = np.concatenate([side_jumps(raw, pairs, size_px) for pairs in (ARMS, LEGS)])
    second = np.linalg.norm(raw[2:] - 2.0 * raw[1:-1] + raw[:-2], axis=-1) / np.sqrt(6.0)
    speed = np.linalg.norm(raw[2:] - raw[:-2], axis=-1)
    still = speed <= np.nanquantile(speed, STILL_SHARE, axis=0)
    jitter = float(np.nanmedian(np.where(still, second, np.nan))) / size_px
    body_m, rate_hz = bodies_m(film, model, cache)
    spreads = []
    for side, (a, b) in product(("left", "right"), LIMBS):
        ends = (JOINTS.index(f"{side}_{name}") for name in (a, b))
        first, last = ends
        length = np.linalg.norm(body_m[:, first] - body_m[:, last], axis=-1)
        spreads.append(np.nanstd(length) / np.nanmean(length))
    seconds = raw.shape[0] / rate_hz
    return float(jumps.sum()) / seconds, 100.0 * jitter, 100.0 * float(np.mean(spreads))


def side_jumps(
    joints_px: FloatArray, pairs: tuple[tuple[int, int], ...], size_px: float
) -> BoolArray:
    """(n_frames - 1,) true where a limb's two sides go on from each other's last place."""
    left, right = (np.array([pair[k] for pair in pairs]) for k in (0, 1))
    with np.errstate(invalid="ignore"):
        return _exchanged(joints_px[1:], joints_px[:-1], left, right, size_px)


def against_truth(path: Path, model: str, find: Finder, cache: Path) -> tuple[FloatArray, int]:
    """Distance of the athlete's joints from the truth, shares of stature, and longest exchange."""
    true_px, size_px = true_joints_px(json.loads(path.read_text(encoding="utf-8")))
    film = path.with_name(path.name.removesuffix(".truth.json") + ".mp4")
    best: tuple[float, FloatArray, FloatArray] | None = None
    for person in find(film, model, cache):
        n = min(len(person), len(true_px))
        off = np.linalg.norm(person[:n] - true_px[:n], axis=-1) / size_px[:n, None]
        misfit = float(np.nanmedian(off)) if np.isfinite(off).any() else np.inf
        if best is None or misfit < best[0]:
            best = misfit, off, person[:n]
    if best is None:
        raise ValueError(f"nobody was found in {film.name}")
    n = len(best[2])
    return best[1], longest_exchange(best[2], true_px[:n], float(np.median(size_px)))


def true_joints_px(truth: dict) -> tuple[FloatArray, FloatArray]:
    """True joints of the athlete in the picture, (n, 23, 2), and the stature there, (n,) px."""
    if "camera" in truth:
        camera, who = truth["camera"], truth["people"]["athlete"]
        matrix = np.asarray(camera["matrix"])
        columns = [who["joints"].index(name) for name in JOINTS]
        joints_m = np.asarray(who["joints_field_m"])[:, columns]
        rotation = np.asarray(camera["rotation_camera_from_field"])
        seen_m = (joints_m - np.asarray(camera["position_field_m"])) @ rotation.T
        stature_m = who["stature_m"]
    else:
        matrix, stature_m = np.asarray(truth["K"]), truth["stature_m"]
        seen_m = np.full((len(truth["joints"]), len(JOINTS), 3), np.nan)
        for column, name in enumerate(JOINTS):
            key = "".join(_other_names(name))
            if key in truth["joints"][0]:
                joint_m = np.array([frame[key] for frame in truth["joints"]])
                seen_m[:, column] = joint_m @ np.asarray(truth["R"]).T + np.asarray(truth["t"])
    px = seen_m[..., :2] / seen_m[..., 2:] * np.diag(matrix)[:2] + matrix[:2, 2]
    depth_m = np.nanmean(seen_m[..., 2], axis=1)
    return px, matrix[0, 0] * stature_m / depth_m


def _other_names(name: str) -> Iterator[str]:
    """Name of a joint in the truth of the other renderer: ``kneeL`` for ``left_knee``."""
    side, _, part = name.rpartition("_")
    yield part
    yield {"left": "L", "right": "R", "": ""}[side]


if __name__ == "__main__":
    sys.exit(main())
