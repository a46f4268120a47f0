"""Options that all commands on a clip share, and their checks."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from models import DEFAULT_MODEL, MODELS
from pipeline.commands.help import option
from pipeline.commands.installation import complete_level, complete_model, complete_move
from pipeline.core.errors import OutputError, SettingsError
from pipeline.core.move_table import known_moves
from pipeline.settings.checks import (
    LEVELS,
    check_age_years,
    check_athlete,
    check_field_of_view_deg,
    check_level,
    check_model,
    check_move,
    check_place_px,
    check_stature_m,
    check_true_rate_hz,
)
from pipeline.settings.locale import check_language, check_units
from pipeline.settings.settings import GivenSettings

_Command = TypeVar("_Command", bound=Callable[..., Any])

_FILE = click.Path(path_type=Path)

_OPTIONS = (
    option("--stature", metavar="METRES", help="options.stature"),
    option(
        "--move",
        metavar="MOVE",
        shell_complete=complete_move,
        help="options.move",
        placeholders={"moves": ", ".join(known_moves())},
    ),
    option(
        "--level",
        metavar="LEVEL",
        shell_complete=complete_level,
        help="options.level",
        placeholders={"levels": ", ".join(LEVELS)},
    ),
    option("--age", metavar="YEARS", help="options.age"),
    option("--athlete", metavar="NAME", help="options.athlete"),
    option("--targets", metavar="FILE", type=_FILE, help="options.targets"),
    option("--athlete-at", metavar="X,Y", help="options.athlete_at"),
    option("--fov-deg", metavar="DEGREES", help="options.fov_deg"),
    option("--lens", metavar="FILE", type=_FILE, help="options.lens"),
    option("--marks", metavar="FILE", type=_FILE, help="options.marks"),
    option("--true-fps", metavar="RATE", help="options.true_fps"),
    option(
        "--model",
        metavar="MODEL",
        shell_complete=complete_model,
        help="options.model",
        placeholders={"models": ", ".join(MODELS), "usual": DEFAULT_MODEL},
    ),
    option("--every-frame/--windows", default=True, help="options.every_frame"),
)

faces_option = option("--show-faces/--hide-faces", default=False, help="options.show_faces")
out_option = option(
    "--out", default="out", show_default=True, metavar="FOLDER", type=_FILE, help="options.out"
)
cache_option = option("--cache", metavar="FOLDER", type=_FILE, help="options.cache")


def clip_options(command: _Command) -> _Command:
    """Add the options on athlete, film and field, from ``--stature`` to ``--every-frame``."""
    for add in reversed(_OPTIONS):
        command = add(command)
    return command


def given_settings(
    *,
    n_clips: int,
    stature: str | None,
    move: str | None,
    level: str | None,
    athlete: str | None,
    age: str | None,
    targets: Path | None,
    athlete_at: str | None,
    fov_deg: str | None,
    lens: Path | None,
    marks: Path | None,
    true_fps: str | None,
    model: str | None,
    every_frame: bool,
    explain: bool = False,
    show_faces: bool = False,
    language: str | None = None,
    units: str | None = None,
) -> GivenSettings:
    """Check the options and convert them to settings; raises `SettingsError`."""
    if lens is not None and fov_deg is not None:
        raise SettingsError.of("lens_and_fov")
    if marks is not None and n_clips > 1:
        raise SettingsError.of("marks_of_one_clip")
    return GivenSettings(
        stature_m=None if stature is None else check_stature_m(stature, named="--stature"),
        move=None if move is None else check_move(move, named="--move"),
        level=None if level is None else check_level(level, named="--level"),
        athlete=None if athlete is None else check_athlete(athlete, named="--athlete"),
        age_years=None if age is None else check_age_years(age, named="--age"),
        model=None if model is None else check_model(model, named="--model"),
        fov_deg=None if fov_deg is None else check_field_of_view_deg(fov_deg, named="--fov-deg"),
        lens_path=lens,
        marks_path=marks,
        true_fps=None if true_fps is None else check_true_rate_hz(true_fps, named="--true-fps"),
        athlete_at=(
            None if athlete_at is None else check_place_px(athlete_at, named="--athlete-at")
        ),
        targets_path=targets,
        hide_faces=not show_faces,
        every_frame=every_frame,
        explain=explain,
        language=None if language is None else check_language(language, named="--language"),
        units=None if units is None else check_units(units, named="--units"),
    )


def check_files(given: GivenSettings) -> None:
    """Read the named files, so that an unusable one fails early; raises `SettingsError`."""
    from pipeline.targets.load import coach_targets_path, load_targets

    load_targets(coach_targets_path(given.targets_path))
    if given.lens_path is not None:
        from calibration.lens_file import read_lens_profile

        read_lens_profile(given.lens_path)
    if given.marks_path is not None:
        from calibration.marks_file import read_marks

        read_marks(given.marks_path)


def make_writable_folder(folder: Path) -> None:
    """Make a folder and try to write in it before a long analysis; raises `OutputError`."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError as error:
        raise OutputError.of(
            "results_not_writable", folder=str(folder), why=error.strerror
        ) from error
