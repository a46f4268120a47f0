"""Motions of the people of a clip as the program has them, for benches that look at reps alone."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

from pipeline.core.progress import ignore_progress
from pipeline.core.types import Motion
from pipeline.film.camera_motion import judge_stillness
from pipeline.film.container import file_digest
from pipeline.film.stabilise import stabilise
from pipeline.film.undistort import lens_of, undistort
from pipeline.people.landmarks import read_landmarks
from pipeline.people.smoothing import smooth_tracks
from pipeline.scene.depth import place_person
from pipeline.scene.from_marks import scene_of_clip
from pipeline.scene.motion import motion_of
from pipeline.settings.settings import AnalysisSettings, GivenSettings, SideFile, resolve
from tests.bench.clip_scores import film_of
from tests.bench.truths import Truth


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmMotions:
    """Best-estimate motions of the people over a clip, athlete first, and the clip's truth."""

    name: str
    people: list[Motion]
    settings: AnalysisSettings
    truth: Truth


def film_motions(truth_path: Path, cache: Path) -> FilmMotions:
    """Read a clip as the program does, up to the motions.

    Parameters
    ----------
    truth_path
        The clip's truth; the film and its side file lie beside it.
    cache
        Where landmarks are kept.
    """
    path = film_of(truth_path)
    truth = json.loads(truth_path.read_text(encoding="utf-8"))
    # The move has to be some move of the table; nothing up to the motions depends on it.
    told = GivenSettings(stature_m=truth["stature_m"], move="high_to_low_shot")
    settings = resolve(told, SideFile(), clip_name=path.name)
    clip, tracks = read_landmarks(
        path, settings, digest=file_digest(path), cache_dir=cache, on_progress=ignore_progress
    )
    lens = lens_of(clip, None)
    camera = judge_stillness(tracks.camera_shift_px, clip.time_s, (clip.width_px, clip.height_px))
    steady = stabilise(undistort(tracks, lens), clip, camera, lens)
    smooth = smooth_tracks(steady.tracks, clip.time_s)
    scene = scene_of_clip(clip, smooth, settings, lens=lens, marks=None, camera=steady.camera)
    people = [
        motion_of(
            place_person(smooth, person, scene), clip.time_s, scene, 0, clip.n_frames, n_draws=1
        )
        for person in range(tracks.n_people)
    ]
    return FilmMotions(name=path.stem, people=people, settings=settings, truth=truth)
