"""Checks of the values and move names that may be given to an analysis."""

from __future__ import annotations

import math
import re
from pathlib import Path

from models import MODELS
from pipeline.core.errors import DrillError, SettingsError
from pipeline.core.files import data_folder
from pipeline.core.move_table import known_moves
from pipeline.core.toml_file import nearest

FOLDER = "drills"
_NAME = re.compile(r"[A-Za-z][A-Za-z0-9_]{0,39}")
_START, _END = "drill_", ".npz"
"""The start keeps a name from being one that some file systems keep for themselves."""


def drill_names() -> tuple[str, ...]:
    """Names of the drills that were taught, in the order of the alphabet."""
    folder = data_folder() / FOLDER
    names = [path.name[len(_START) : -len(_END)] for path in folder.glob(f"{_START}*{_END}")]
    return tuple(sorted(name for name in names if _NAME.fullmatch(name)))


def known_move_names() -> tuple[str, ...]:
    """Names of all moves that can be requested: built-in ones first, then drills."""
    return (*known_moves(), *drill_names())


def drill_path(name: str) -> Path:
    """File of a drill; its name has been checked.

    Raises
    ------
    DrillError
        The name cannot be one of a drill.
    """
    return data_folder() / FOLDER / f"{_START}{check_drill_name(name)}{_END}"


def check_drill_name(name: str) -> str:
    """Return a name that a drill may have.

    Parameters
    ----------
    name
        As typed.

    Raises
    ------
    DrillError
        Other signs than letters, digits and ``_``, too long, or the name of a built-in move.
    """
    if not _NAME.fullmatch(name):
        raise DrillError.of("no_drill_name", name=name)
    if name.casefold() in (*known_moves(), "unknown"):
        raise DrillError.of("drill_called_as_move", name=name)
    return name


def existing_drill(name: str) -> str:
    """Return the name of a drill that was taught, as it was written then.

    Raises
    ------
    DrillError
        No move has that name.
    """
    check_drill_name(name)
    names = drill_names()
    for known in names:
        if known.casefold() == name.casefold():
            return known
    if not names:
        raise DrillError.of("no_drill_yet", name=name)
    raise DrillError.of("no_such_drill", name=name, nearest=nearest(name, names))


STATURE_RANGE_M = (0.8, 2.4)
FIELD_OF_VIEW_RANGE_DEG = (10.0, 140.0)
TRUE_RATE_RANGE_HZ = (1.0, 2000.0)
AGE_RANGE_YEARS = (3.0, 100.0)
LEVELS = ("any", "youth", "school", "college", "adult")
DEFAULT_LEVEL = "any"
LONGEST_NAME = 60


def check_stature_m(value: float | str, *, named: str) -> float:
    """Return a stature in metres, or raise for what cannot be one.

    Parameters
    ----------
    value
        A number, or the text that was typed.
    named
        How the value is called where it was given, e.g. ``--stature``.

    Raises
    ------
    SettingsError
        Not a number, or outside 0.8 to 2.4 m.
    """
    return _number_between(value, STATURE_RANGE_M, named=named, error_key="no_stature")


def check_age_years(value: float | str, *, named: str) -> float:
    """Return an age in years, or raise `SettingsError`."""
    return _number_between(value, AGE_RANGE_YEARS, named=named, error_key="no_age")


def check_field_of_view_deg(value: float | str, *, named: str) -> float:
    """Return a field of view in degrees, or raise `SettingsError`."""
    limits = FIELD_OF_VIEW_RANGE_DEG
    return _number_between(value, limits, named=named, error_key="no_field_of_view")


def check_true_rate_hz(value: float | str, *, named: str) -> float:
    """Return a rate of filming in frames per second, or raise `SettingsError`."""
    return _number_between(value, TRUE_RATE_RANGE_HZ, named=named, error_key="no_filming_rate")


def check_place_px(value: str, *, named: str) -> tuple[float, float]:
    """Return a place in the picture from text such as ``640,360``, or raise `SettingsError`."""
    try:
        x_px, y_px = (float(part) for part in value.split(","))
    except ValueError:
        x_px = y_px = math.nan
    if not (math.isfinite(x_px) and math.isfinite(y_px) and x_px >= 0 and y_px >= 0):
        raise SettingsError.of("no_place_in_picture", named=named, value=value)
    return x_px, y_px


def check_level(value: str, *, named: str) -> str:
    """Return a level of play, or raise `SettingsError` with the nearest one."""
    return _one_of(value, LEVELS, named=named, error_key="no_level")


def check_athlete(value: str, *, named: str) -> str:
    """Return a name or code of an athlete without blanks around it, or raise `SettingsError`."""
    name = value.strip()
    # Printable only: a name is shown in terminals, where other signs could act and not show.
    if not 0 < len(name) <= LONGEST_NAME or not name.isprintable() or name.lower() == DEFAULT_LEVEL:
        raise SettingsError.of("no_athlete_name", named=named, most=LONGEST_NAME)
    return name


def check_model(value: str, *, named: str) -> str:
    """Return the name of a shipped pose model or the path of another, or raise `SettingsError`."""
    if value in MODELS or value.endswith(".task") or Path(value).is_file():
        return value
    near = nearest(value, MODELS)
    raise SettingsError.of("no_such_pose_model", named=named, value=value, nearest=near)


def check_move(value: str, *, named: str) -> str:
    """Return the key of a move or the name of a drill, or raise `SettingsError`."""
    return _one_of(value, known_move_names(), named=named, error_key="not_a_move")


def _number_between(
    value: float | str, limits: tuple[float, float], *, named: str, error_key: str
) -> float:
    """Return a number that lies within limits, or raise the error of that name."""
    low, high = limits
    try:
        number = float(value)
    except ValueError:
        number = math.nan
    if not low <= number <= high:
        raise SettingsError.of(error_key, named=named, value=value, low=low, high=high)
    return number


def _one_of(value: str, known: tuple[str, ...], *, named: str, error_key: str) -> str:
    """Return a value that is known, or raise the error of that name with the nearest one."""
    if value in known:
        return value
    near = nearest(value, known)
    raise SettingsError.of(error_key, named=named, value=value, nearest=near)
