"""What may be given to an analysis: each value checked where it comes in, by the same rules."""

from __future__ import annotations

import math

from pipeline.core.errors import SettingsError
from pipeline.core.toml_file import nearest
from pipeline.settings.move_names import known_move_names

STATURE_RANGE_M = (0.8, 2.4)
FIELD_OF_VIEW_RANGE_DEG = (10.0, 140.0)
TRUE_RATE_RANGE_HZ = (1.0, 2000.0)
AGE_RANGE_YEARS = (3.0, 100.0)
LEVELS = ("any", "youth", "school", "college", "adult")
DEFAULT_LEVEL = "any"
LONGEST_NAME = 60


def check_stature_m(value: float | str, *, named: str) -> float:
    """Return a stature in metres, or say why it cannot be one.

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
    return _number_between(value, STATURE_RANGE_M, named=named, else_told="no_stature")


def check_age_years(value: float | str, *, named: str) -> float:
    """Return an age in years, or raise `SettingsError`."""
    return _number_between(value, AGE_RANGE_YEARS, named=named, else_told="no_age")


def check_field_of_view_deg(value: float | str, *, named: str) -> float:
    """Return a field of view in degrees, or raise `SettingsError`."""
    limits = FIELD_OF_VIEW_RANGE_DEG
    return _number_between(value, limits, named=named, else_told="no_field_of_view")


def check_true_rate_hz(value: float | str, *, named: str) -> float:
    """Return a rate of filming in frames per second, or raise `SettingsError`."""
    return _number_between(value, TRUE_RATE_RANGE_HZ, named=named, else_told="no_filming_rate")


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
    return _one_of(value, LEVELS, named=named, else_told="no_level")


def check_athlete(value: str, *, named: str) -> str:
    """Return a name or code of an athlete without blanks around it, or raise `SettingsError`."""
    name = value.strip()
    # Printable only: a name is shown in terminals, where other signs could act and not show.
    if not 0 < len(name) <= LONGEST_NAME or not name.isprintable() or name.lower() == DEFAULT_LEVEL:
        raise SettingsError.of("no_athlete_name", named=named, most=LONGEST_NAME)
    return name


def check_move(value: str, *, named: str) -> str:
    """Return the key of a move or the name of a drill, or raise `SettingsError`."""
    return _one_of(value, known_move_names(), named=named, else_told="not_a_move")


def _number_between(
    value: float | str, limits: tuple[float, float], *, named: str, else_told: str
) -> float:
    """Return a number that lies within limits, or raise the error of that name."""
    low, high = limits
    try:
        number = float(value)
    except ValueError:
        number = math.nan
    if not low <= number <= high:
        raise SettingsError.of(else_told, named=named, value=value, low=low, high=high)
    return number


def _one_of(value: str, known: tuple[str, ...], *, named: str, else_told: str) -> str:
    """Return a value that is known, or raise the error of that name with the nearest one."""
    if value in known:
        return value
    near = nearest(value, known)
    raise SettingsError.of(else_told, named=named, value=value, nearest=near)
