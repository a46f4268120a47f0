"""The program as a Python function: a film in, typed results out, nothing written but the cache."""

from __future__ import annotations

import tempfile
from os import PathLike
from pathlib import Path

from pipeline.analysis import analyse_clip
from pipeline.core.catalogue import Language, Units
from pipeline.core.progress import ProgressCallback, ignore_progress
from pipeline.core.results import Analysis
from pipeline.log.log_request import allowed_settings
from pipeline.settings.checks import (
    check_age_years,
    check_athlete,
    check_field_of_view_deg,
    check_level,
    check_model,
    check_move,
    check_stature_m,
    check_true_rate_hz,
)
from pipeline.settings.locale import USUAL_READING, check_language, check_units
from pipeline.settings.settings import GivenSettings


def analyse(
    path: str | PathLike[str],
    *,
    stature_m: float | None = None,
    move: str | None = None,
    level: str | None = None,
    athlete: str | None = None,
    age_years: float | None = None,
    lens: str | PathLike[str] | None = None,
    marks: str | PathLike[str] | None = None,
    fov_deg: float | None = None,
    true_fps: float | None = None,
    athlete_at: tuple[float, float] | None = None,
    model: str | None = None,
    targets: str | PathLike[str] | None = None,
    every_frame: bool = True,
    explain: bool = False,
    seed: int = 0,
    language: Language | None = None,
    units: Units | None = None,
    cache: str | PathLike[str] | None = None,
    on_progress: ProgressCallback = ignore_progress,
) -> Analysis:
    """Analyse one clip.

    What is not given is read from ``NAME.clip.toml`` beside the clip, if there is such a file.

    Parameters
    ----------
    path
        The film.
    stature_m
        Stature of the athlete, barefoot, in metres.
    move
        Key of the move, or name of a taught drill; None = found rep by rep.
    level
        Level of play: any, youth, school, college, adult.
    athlete, age_years
        Who it is, for ranges of their own; age, for the rules of youth play.
    lens, marks
        Files with the lens profile of the phone and with marks on the field.
    fov_deg
        Field of view of the camera along the long side of the picture, where there is no profile.
    true_fps
        Frames a second at which slow-motion film was taken.
    athlete_at
        (x, y) in px where the athlete stands in the first frame.
    model
        Pose model: lite, full or heavy, or the path of a bundle; None = the usual one.
    targets
        File with target ranges; None = those in the data folder, else the shipped ones.
    every_frame
        Whether the pose model runs on every frame, or only where something may happen.
    explain
        Whether to list the sources of each number's uncertainty.
    seed
        Of the draws that carry the uncertainty: the same seed gives the same numbers.
    language, units
        Of the texts; measured values stay in metres and seconds.
    cache
        Folder in which body landmarks are kept for the next time; None = nothing is kept.
    on_progress
        Called with how far the pose model has come.

    Returns
    -------
    Analysis
        Reps with their measurements (value, standard uncertainty, 95 % interval, or the reason for
        none), verdicts, words and cautions.

    Raises
    ------
    CrossemetryError
        The film, a setting, the targets or the model cannot be used; the message gives the remedy.
    """
    clip = Path(path)
    given = GivenSettings(
        stature_m=None if stature_m is None else check_stature_m(stature_m, named="stature_m"),
        move=None if move is None else check_move(move, named="move"),
        level=None if level is None else check_level(level, named="level"),
        athlete=None if athlete is None else check_athlete(athlete, named="athlete"),
        age_years=None if age_years is None else check_age_years(age_years, named="age_years"),
        fov_deg=None if fov_deg is None else check_field_of_view_deg(fov_deg, named="fov_deg"),
        true_fps=None if true_fps is None else check_true_rate_hz(true_fps, named="true_fps"),
        lens_path=None if lens is None else Path(lens),
        marks_path=None if marks is None else Path(marks),
        targets_path=None if targets is None else Path(targets),
        athlete_at=athlete_at,
        model=None if model is None else check_model(model, named="model"),
        every_frame=every_frame,
        explain=explain,
        seed=seed,
        language=None if language is None else check_language(language, named="language"),
        units=None if units is None else check_units(units, named="units"),
    )
    settings = allowed_settings(clip, given, reading=USUAL_READING)
    if cache is not None:
        return analyse_clip(clip, settings, cache_dir=Path(cache), on_progress=on_progress)
    with tempfile.TemporaryDirectory() as folder:
        return analyse_clip(clip, settings, cache_dir=Path(folder), on_progress=on_progress)
