"""Everything that is known of a film, gathered for export: results, landmarks, joints in metres."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from pipeline.analysis import analyse_clip
from pipeline.core.progress import ProgressCallback, ignore_progress
from pipeline.core.results import Analysis
from pipeline.core.types import Tracks
from pipeline.export.field_paths import FieldPaths, field_paths
from pipeline.film.container import file_digest
from pipeline.film.undistort import read_lens
from pipeline.people.landmarks import read_landmarks
from pipeline.scene.from_marks import read_scene_marks
from pipeline.scene.placed_clip import seen_from
from pipeline.settings.settings import AnalysisSettings

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
    clip, tracks = read_landmarks(
        path, settings, digest=file_digest(path), cache_dir=cache_dir, on_progress=on_progress
    )
    seen = seen_from(clip, tracks, settings, profile, marks)
    return FilmData(analysis=analysis, tracks=tracks, paths=field_paths(seen, seed=settings.seed))
