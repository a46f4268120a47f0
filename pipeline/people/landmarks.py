"""Raw tracks of a clip: from the cache if it was analysed before, else by the pose model."""

from __future__ import annotations

from pathlib import Path

import models
from pipeline.core.progress import Progress, ProgressCallback
from pipeline.core.types import Clip, Tracks
from pipeline.film.clip import open_clip
from pipeline.people.cache import TrackCache, cache_key
from pipeline.people.pose_model import PoseModel
from pipeline.people.tracking import follow_people
from pipeline.settings.settings import AnalysisSettings

N_PEOPLE_MAX = 3


def tracks_key(digest: str, settings: AnalysisSettings) -> str:
    """Return the name under which the raw tracks of a clip are kept.

    Parameters
    ----------
    digest
        SHA-256 of the film's bytes.
    settings
        For all that changes the tracks.

    Raises
    ------
    ModelError
        The pose model cannot be used.
    """
    return cache_key(
        digest,
        models.verify(settings.model_path),
        {
            "true_fps": settings.true_fps,
            "athlete_at": settings.athlete_at,
            "n_people_max": N_PEOPLE_MAX,
            "every_frame": settings.every_frame,
        },
    )


def read_landmarks(
    path: Path,
    settings: AnalysisSettings,
    *,
    digest: str,
    cache_dir: Path,
    on_progress: ProgressCallback,
) -> tuple[Clip, Tracks]:
    """Give the facts of a clip and the raw landmarks of the people in it.

    Parameters
    ----------
    path
        The film.
    settings
        For the model, the true frame rate and the place of the athlete.
    digest
        SHA-256 of the film's bytes.
    cache_dir
        Where landmarks of earlier analyses lie.
    on_progress
        Told the frames done.

    Returns
    -------
    tuple
        Facts of the clip and raw tracks.

    Raises
    ------
    ClipError
        The file cannot be used.
    ModelError
        The pose model cannot be used.
    """
    cache = TrackCache(cache_dir)
    key = tracks_key(digest, settings)
    kept = cache.load(key, path)
    if kept is not None:
        return kept
    model = PoseModel(settings.model_path)
    with open_clip(path, true_fps=settings.true_fps, digest=digest) as reader:

        def report(done: int) -> None:
            on_progress(
                Progress(stage="following_players", done=done, total=reader.n_frames_expected)
            )

        tracks = follow_people(
            reader.stored_frames(),
            model,
            n_people_max=N_PEOPLE_MAX,
            athlete_at=settings.athlete_at,
            every_frame=settings.every_frame,
            on_progress=report,
        )
        clip = reader.clip()
    cache.save(key, clip, tracks)
    return clip, tracks
