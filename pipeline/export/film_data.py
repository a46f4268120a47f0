"""Everything known of a film, gathered for export: results, landmarks, joints, paths."""

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
from pipeline.scene.placed_clip import PlacedClip, seen_from
from pipeline.settings.settings import AnalysisSettings

BLOCK_FRAMES = 240
"""The draws of so many frames are held at a time, so that memory does not grow with the film."""

_SEED_OF_PATHS = 1_000_000
"""Keeps these draws apart from those of the reps, which are numbered from 1."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldPaths:
    """Joints of each followed person in the field frame: athlete first, then the defender if any.

    Attributes
    ----------
    time_s
        (n_frames,) times from the clip's first frame.
    joints_m
        (n_people, n_frames, 23, 3) best estimate of each joint (`JOINTS`); NaN where unknown.
    u_m
        (n_people, n_frames, 23, 3) its standard uncertainty (k = 1); NaN where unknown.
    """

    time_s: FloatArray
    joints_m: FloatArray
    u_m: FloatArray


def field_paths(seen: PlacedClip, *, seed: int) -> FieldPaths:
    """Follow the joints of everyone through the film.

    Parameters
    ----------
    seen
        The clip with its people placed in the scene.
    seed
        Of the draws that carry the uncertainty.

    Returns
    -------
    FieldPaths
        The uncertainty is the standard deviation of the Monte Carlo draws (JCGM 101:2008).
    """
    time_s, scene = seen.clip.time_s, seen.scene
    n_frames = seen.clip.n_frames
    best, spread = [], []
    for number, person in enumerate(seen.people):
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
"""What the followed people are called, in their order."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmData:
    """A film as data.

    Attributes
    ----------
    analysis
        Reps, measures, verdicts.
    tracks
        Raw landmarks, as seen on the film.
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
    """Analyse a clip, by its cached landmarks where there are any, and keep all that it gives.

    Parameters
    ----------
    path
        The film.
    settings
        As for an analysis.
    cache_dir
        Where raw landmarks are kept.
    on_progress
        Told how far the pose model has come.

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
    seen = seen_from(clip, tracks, settings, profile, marks)
    return FilmData(analysis=analysis, tracks=tracks, paths=field_paths(seen, seed=settings.seed))
