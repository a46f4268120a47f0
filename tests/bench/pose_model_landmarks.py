"""Joints of a film by one pose model: as the model gives them, and as the program cleans them."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from pipeline.core.progress import ignore_progress
from pipeline.core.types import Clip, FloatArray, Tracks
from pipeline.film.container import file_digest
from pipeline.people.landmarks import read_landmarks
from pipeline.people.smoothing import joints_from_landmarks, smooth_tracks
from pipeline.settings.settings import GivenSettings, SideFile, resolve

ANY_STATURE_M = 1.75
"""Joints in the picture do not depend on it."""


def raw_joints_px(film: Path, model: str, cache_dir: Path) -> list[FloatArray]:
    """(n_frames, 23, 2) joints of each person as the model gave them in the person's region."""
    _, tracks = _tracks(film, model, cache_dir)
    return list(joints_from_landmarks(tracks.image_px).astype(float))


def clean_joints_px(film: Path, model: str, cache_dir: Path) -> list[FloatArray]:
    """(n_frames, 23, 2) joints of each person as the program cleans them."""
    clip, tracks = _tracks(film, model, cache_dir)
    return list(smooth_tracks(tracks, clip.time_s, model=model).image_px)


def bodies_m(film: Path, model: str, cache_dir: Path) -> tuple[FloatArray, float]:
    """(n_frames, 23, 3) metric body of the first person as the model gave it, and frames a second.

    Parameters
    ----------
    film
        The film.
    model
        As `models.bundle_path` takes it.
    cache_dir
        Where landmarks are kept.
    """
    clip, tracks = _tracks(film, model, cache_dir)
    rate_hz = 1.0 / float(np.median(np.diff(clip.time_s)))
    return joints_from_landmarks(tracks.world_m[0]).astype(float), rate_hz


def _tracks(film: Path, model: str, cache_dir: Path) -> tuple[Clip, Tracks]:
    given = GivenSettings(stature_m=ANY_STATURE_M, model=model)
    settings = resolve(given, SideFile(), clip_name=film.name)
    return read_landmarks(
        film,
        settings,
        digest=file_digest(film),
        cache_dir=cache_dir,
        on_progress=ignore_progress,
    )
