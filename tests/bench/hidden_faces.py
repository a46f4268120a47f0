"""How well faces stay hidden in overlays, frame by frame, against the true places of heads.

``python -m tests.bench.hidden_faces FOLDER ... --cache DIR`` writes the whole overlay of each clip
with truth, reads it back, and tells how much of the detail of each true head is left in it. The
detail is what a blur takes away; what is left is the share of it that the written picture still
has (1: all, 0: none): the slope of a line through the origin, or the correlation if that is less.
"""

from __future__ import annotations

import argparse
import json
import tempfile
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import av
import cv2
import numpy as np

from pipeline.analysis import analyse_clip
from pipeline.core.results import Analysis
from pipeline.film.clip import FrameRuns
from pipeline.film.writer import film_size_px
from pipeline.report.pictures.film_plan import plan_film
from pipeline.report.pictures.overlay import FILM_NAME, OverlaySettings, part_views, write_overlay
from pipeline.settings.settings import GivenSettings, resolve
from pipeline.settings.side_file import read_side_file
from tests.bench.clip_scores import film_of

HEAD = ("nose", "left_eye", "right_eye", "left_ear", "right_ear")
HEAD_RADIUS_OF_STATURE = 0.06
"""Face and ears from the middle between them: half of a head's height of 0.13 of stature."""
TRUNK = ("left_shoulder", "right_shoulder", "right_hip", "left_hip")
BODY_RADIUS_OF_STATURE = 0.05
"""A limb or a trunk covers what lies this near to its line, at least."""
LEFT_OF_DETAIL = 0.3
"""A head that keeps more of its detail than this counts as seen."""
LEAST_DETAIL = 2.0
"""Root mean square of the detail of a head, of 255, from which it can be judged."""

Floats = Any


@dataclass(slots=True)
class HeadScores:
    """What was found for the heads of one kind of person.

    Attributes
    ----------
    kept
        Share of its detail that each head in view keeps, by written picture.
    where
        Written picture and source frame of each.
    n_covered
        Heads behind another body, which are not looked at.
    """

    kept: list[float] = field(default_factory=list)
    where: list[tuple[int, int]] = field(default_factory=list)
    n_covered: int = 0


def main() -> None:
    """Print the figures of each clip and of all of them."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("clips", nargs="+", type=Path, help="Folders or truth files.")
    parser.add_argument("--cache", required=True, type=Path)
    parser.add_argument("--control", action="store_true", help="With faces shown, as a check.")
    options = parser.parse_args()
    truths = [
        path
        for given in options.clips
        for path in (sorted(given.rglob("*.truth.json")) if given.is_dir() else [given])
    ]
    sums: dict[str, list[float]] = {}
    for path in truths:
        if not film_of(path).exists():
            continue
        scores = scores_of(path, options.cache, hide_faces=not options.control)
        for who, score in scores.items():
            kept = np.array(score.kept)
            seen = np.flatnonzero(kept > LEFT_OF_DETAIL)
            worst = [score.where[i] for i in seen[:6]]
            print(
                f"{path.name.removesuffix('.truth.json')}, {who}: {kept.size} heads in view, "
                f"{score.n_covered} behind a body, {seen.size} not hidden {worst or ''}, "
                f"median kept {np.median(kept) if kept.size else np.nan:.3f}, "
                f"most {kept.max() if kept.size else np.nan:.3f}",
                flush=True,
            )
            sums.setdefault(who, []).extend(score.kept)
    for who, values in sums.items():
        kept = np.array(values)
        print(
            f"all, {who}: {kept.size} heads, {(kept > LEFT_OF_DETAIL).sum()} not hidden, "
            f"median kept {np.median(kept):.3f}, 99 % below {np.percentile(kept, 99):.3f}, "
            f"most {kept.max():.3f}"
        )


def scores_of(truth_path: Path, cache: Path, *, hide_faces: bool = True) -> dict[str, HeadScores]:
    """Write the whole overlay of a clip and look at every true head in it.

    Parameters
    ----------
    truth_path
        Truth beside a clip.
    cache
        Where landmarks are kept.
    hide_faces
        False shows what the figures are when nothing is hidden.

    Returns
    -------
    dict
        By the name of the person in the truth.
    """
    truth = json.loads(truth_path.read_text(encoding="utf-8"))
    film = film_of(truth_path)
    settings = resolve(GivenSettings(), read_side_file(film), clip_name=film.name)
    analysis = analyse_clip(film, settings, cache_dir=cache)
    shown = OverlaySettings(whole=True, hide_faces=hide_faces)
    with tempfile.TemporaryDirectory() as folder:
        write_overlay(analysis, Path(folder), shown)
        return _looked_at(Path(folder) / FILM_NAME, analysis, truth)


def _looked_at(overlay: Path, analysis: Analysis, truth: dict[str, Any]) -> dict[str, HeadScores]:
    heads, bodies = true_people_px(truth, analysis.clip.time_s)
    scores = {who: HeadScores() for who in heads}
    size_px = film_size_px(analysis.clip.width_px, analysis.clip.height_px)
    runs = FrameRuns(analysis.clip)
    with av.open(str(overlay)) as container:
        written = (frame.to_ndarray(format="rgb24") for frame in container.decode(video=0))
        number = 0
        for part in plan_film(analysis.clip.time_s, analysis.reps, whole=True):
            first, stop = int(part.frames[0]), int(part.frames[-1]) + 1
            views = part_views(analysis, part)
            wanted = set(part.frames.tolist())
            for frame, source in runs.read(first, stop):
                if frame not in wanted:
                    continue
                view, picture = views[frame - first], next(written)
                assert picture.shape[1::-1] == size_px
                plain = view.cut(source)
                for who, circles in heads.items():
                    if covered(who, frame, heads, bodies):
                        scores[who].n_covered += 1
                        continue
                    kept = kept_detail(plain, picture, view.circles(circles[frame, :3]))
                    if kept is not None:
                        scores[who].kept.append(kept)
                        scores[who].where.append((number, frame))
                number += 1
        assert next(written, None) is None
    return scores


def kept_detail(plain: Floats, written: Floats, circle: Floats) -> float | None:
    """Tell the share of a head's detail that is left; None out of view or without any detail.

    Parameters
    ----------
    plain, written
        (height, width, 3) of 8 bits, before and after.
    circle
        (3,) x, y and radius, px.
    """
    x, y, radius = (float(value) for value in circle)
    height, width = plain.shape[:2]
    if not (0 <= x < width and 0 <= y < height):
        return None
    reach = int(np.ceil(radius)) + 2
    left, top = max(int(x) - reach, 0), max(int(y) - reach, 0)
    part = (slice(top, int(y) + reach + 1), slice(left, int(x) + reach + 1))
    before, after = (
        _detail(cv2.cvtColor(np.ascontiguousarray(p[part]), cv2.COLOR_RGB2GRAY), radius)
        for p in (plain, written)
    )
    rows, columns = np.indices(before.shape)
    inside = np.hypot(columns + left - x, rows + top - y) <= radius
    if np.sqrt((before[inside] ** 2).mean()) < LEAST_DETAIL:
        return None
    common = (before[inside] * after[inside]).sum()
    slope = common / (before[inside] ** 2).sum()
    alike = common / np.sqrt((before[inside] ** 2).sum() * max((after[inside] ** 2).sum(), 1e-9))
    # The edge of a block may happen to lie along that of the hair: steep, but not alike.
    return float(min(slope, alike))


def _detail(grey: Floats, radius: float) -> Floats:
    """What a blur over a quarter of a head's radius takes away: eyes, nose, mouth, ears."""
    grey = grey.astype(float)
    return grey - cv2.GaussianBlur(grey, (0, 0), max(radius / 4.0, 1.0))


def true_people_px(truth: dict[str, Any], time_s: Floats) -> tuple[dict[str, Floats], Any]:
    """Project the true people into the picture of each frame.

    Parameters
    ----------
    truth
        A clip's truth.
    time_s
        (n_frames,) times of its frames.

    Returns
    -------
    heads, bodies
        By person: (n_frames, 4) x, y and radius in px and distance in m of the head; and
        (n_frames, n_joints, 3) x and y in px and distance in m of the joints, with the names.
    """
    camera = {key: np.asarray(truth["camera"][key], float) for key in
              ("matrix", "rotation_camera_from_field", "position_field_m")}  # fmt: skip
    rows = np.abs(np.asarray(truth["frame_times_s"])[:, None] - time_s[None]).argmin(axis=0)
    heads, bodies = {}, {}
    for who, person in truth["people"].items():
        joints_m = np.asarray(person["joints_field_m"], float)[rows]
        seen = (joints_m - camera["position_field_m"]) @ camera["rotation_camera_from_field"].T
        with np.errstate(invalid="ignore", divide="ignore"):
            flat = seen @ camera["matrix"].T
            xy = flat[..., :2] / flat[..., 2:]
        xy[seen[..., 2] <= 0.1] = np.nan
        columns = [person["joints"].index(name) for name in HEAD]
        depth = seen[:, columns, 2].mean(axis=1)
        radius = HEAD_RADIUS_OF_STATURE * person["stature_m"] * camera["matrix"][0, 0] / depth
        heads[who] = np.column_stack([xy[:, columns].mean(axis=1), radius, depth])
        bodies[who] = (np.concatenate([xy, seen[..., 2:]], axis=-1), person["joints"])
    return heads, bodies


def covered(who: str, frame: int, heads: dict[str, Floats], bodies: Any) -> bool:
    """Tell whether a head lies behind another body."""
    x, y, radius, depth = heads[who][frame]
    for other, (joints, names) in bodies.items():
        if other == who or heads[other][frame, 3] > depth:
            continue
        own_radius = heads[other][frame, 2] * BODY_RADIUS_OF_STATURE / HEAD_RADIUS_OF_STATURE
        place = {name: joints[frame, i, :2] for i, name in enumerate(names)}
        trunk = np.array([place[name] for name in TRUNK])
        if not np.isfinite(trunk).all():
            continue
        hull = cv2.convexHull(trunk.astype(np.float32))
        if cv2.pointPolygonTest(hull, (float(x), float(y)), measureDist=True) > -own_radius:
            return True
        if np.hypot(*(heads[other][frame, :2] - (x, y))) < 0.5 * (radius + heads[other][frame, 2]):
            return True
    return False


if __name__ == "__main__":
    main()
