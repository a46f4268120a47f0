"""Gathers a film's data for export: results, raw landmarks, joint paths in the field frame."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from pipeline.analysis import analyse_clip
from pipeline.core.progress import ProgressCallback, ignore_progress
from pipeline.core.results import Analysis
from pipeline.core.types import FloatArray, Tracks
from pipeline.film.undistort import read_lens
from pipeline.people.landmarks import read_landmarks
from pipeline.scene.from_marks import read_scene_marks
from pipeline.scene.motion import motion_of
from pipeline.scene.placed_clip import PlacedClip, place_people
from pipeline.settings.settings import AnalysisSettings

BLOCK_FRAMES = 240
"""Frames whose Monte Carlo draws are in memory at a time, so memory stays constant."""

_SEED_OF_PATHS = 1_000_000
"""Offset of the seeds, which keeps these draws independent of those of the reps."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldPaths:
    """Joints of each tracked person in the field frame: the athlete, then the defender if any.

    Attributes
    ----------
    time_s
        (n_frames,) times from the clip's first frame.
    joints_m
        (n_people, n_frames, 23, 3) best estimate of each joint (`JOINTS`); NaN where unknown.
    u_m
        (n_people, n_frames, 23, 3) standard uncertainties (k = 1); NaN where unknown.
    """

    time_s: FloatArray
    joints_m: FloatArray
    u_m: FloatArray


def field_paths(placed: PlacedClip, *, seed: int) -> FieldPaths:
    """Compute the joints of all tracked people in the field frame, frame by frame.

    Parameters
    ----------
    placed
        The clip with its people placed in the scene.
    seed
        Seed of the Monte Carlo draws.

    Returns
    -------
    FieldPaths
        The uncertainty is the standard deviation of the Monte Carlo draws (JCGM 101:2008).
    """
    time_s, scene = placed.clip.time_s, placed.scene
    n_frames = placed.clip.n_frames
    best, spread = [], []
    for number, person in enumerate(placed.people):
        best.append(motion_of(person, time_s, scene, 0, n_frames, n_draws=1).joints_m[0])
        u_m = np.full_like(best[-1], np.nan)
        for block, start in enumerate(range(0, n_frames, BLOCK_FRAMES)):
            stop = min(start + BLOCK_FRAMES, n_frames)
            drawn = motion_of(
                person,
                time_s,
                scene,
                start,
                stop,
                n_draws=scene.n_draws,
                seed=(seed, _SEED_OF_PATHS + block, number),
            )
            if scene.n_draws > 2:
                u_m[start:stop] = drawn.joints_m[1:].std(axis=0, ddof=1)
        u_m[~np.isfinite(best[-1])] = np.nan
        spread.append(u_m)
    return FieldPaths(time_s=time_s, joints_m=np.stack(best), u_m=np.stack(spread))


PEOPLE = ("athlete", "defender")
"""Names of the tracked people in the order of the arrays."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmData:
    """All data of a film for export.

    Attributes
    ----------
    analysis
        Reps, measures, verdicts.
    tracks
        Raw landmarks in the image frame.
    paths
        Joints in the field frame.
    """

    analysis: Analysis
    tracks: Tracks
    paths: FieldPaths


def read_film_data(
    path: Path,
    settings: AnalysisSettings,
    *,
    cache_dir: Path,
    on_progress: ProgressCallback = ignore_progress,
) -> FilmData:
    """Analyse a clip and return all its data, using cached landmarks where there are any.

    Parameters
    ----------
    path
        The film.
    settings
        Settings of the analysis.
    cache_dir
        Cache of the raw landmarks.
    on_progress
        Receives the progress of the pose model.

    Returns
    -------
    FilmData

    Raises
    ------
    CrossemetryError
        The film, a setting, the targets or the model cannot be used.
    """
    analysis = analyse_clip(path, settings, cache_dir=cache_dir, on_progress=on_progress)
    profile = read_lens(settings.lens_path, path)
    marks = read_scene_marks(path, settings, profile)
    digest = analysis.clip.digest
    clip, tracks = read_landmarks(
        path, settings, digest=digest, cache_dir=cache_dir, on_progress=on_progress
    )
    placed = place_people(clip, tracks, settings, profile, marks)
    return FilmData(analysis=analysis, tracks=tracks, paths=field_paths(placed, seed=settings.seed))
