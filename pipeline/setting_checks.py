"""What may be given to an analysis: each value checked where it comes in, by the same rules."""

from __future__ import annotations

import math

from pipeline.drill_names import known_move_names
from pipeline.errors import SettingsError
from pipeline.toml_file import nearest

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
    low, high = STATURE_RANGE_M
    return _number_between(
        value, low, high, named=named, what=f"a stature between {low} and {high} m",
        what_to_do="Give it in metres, e.g. 1.80.",
    )  # fmt: skip


def check_age_years(value: float | str, *, named: str) -> float:
    """Return an age in years, or raise `SettingsError`."""
    low, high = AGE_RANGE_YEARS
    return _number_between(
        value, low, high, named=named, what=f"an age between {low:g} and {high:g} years",
        what_to_do="Give it in years, e.g. 12, or leave it out.",
    )  # fmt: skip


def check_field_of_view_deg(value: float | str, *, named: str) -> float:
    """Return a field of view in degrees, or raise `SettingsError`."""
    low, high = FIELD_OF_VIEW_RANGE_DEG
    return _number_between(
        value, low, high, named=named, what=f"a field of view between {low:g} and {high:g} degrees",
        what_to_do="Give the angle along the long side of the picture, e.g. 65, or leave it out.",
    )  # fmt: skip


def check_true_rate_hz(value: float | str, *, named: str) -> float:
    """Return a rate of filming in frames per second, or raise `SettingsError`."""
    low, high = TRUE_RATE_RANGE_HZ
    return _number_between(
        value, low, high, named=named, what=f"a rate between {low:g} and {high:g} frames a second",
        what_to_do="Give the rate the phone filmed at, e.g. 240, or leave it out.",
    )  # fmt: skip


def check_place_px(value: str, *, named: str) -> tuple[float, float]:
    """Return a place in the picture from text such as ``640,360``, or raise `SettingsError`."""
    try:
        x_px, y_px = (float(part) for part in value.split(","))
    except ValueError:
        x_px = y_px = math.nan
    if not (math.isfinite(x_px) and math.isfinite(y_px) and x_px >= 0 and y_px >= 0):
        raise SettingsError(
            f"{named} {value}: not a place in the picture.",
            what_to_do="Give pixels from the left and from the top, e.g. 640,360.",
        )
    return x_px, y_px


def check_level(value: str, *, named: str) -> str:
    """Return a level of play, or raise `SettingsError` with the nearest one."""
    return _one_of(value, LEVELS, named=named, what="a level of play")


def check_athlete(value: str, *, named: str) -> str:
    """Return a name or code of an athlete without blanks around it, or raise `SettingsError`."""
    name = value.strip()
    # Printable only: a name is shown in terminals, where other signs could act and not show.
    if not 0 < len(name) <= LONGEST_NAME or not name.isprintable() or name.lower() == DEFAULT_LEVEL:
        raise SettingsError(
            f"{named}: not a name or a code that can be used for an athlete.",
            what_to_do=f"Give up to {LONGEST_NAME} letters, digits and signs, e.g. 7 or K. M.; "
            "to mean nobody in particular, leave it out.",
        )
    return name


def check_move(value: str, *, named: str) -> str:
    """Return the key of a move or the name of a drill, or raise `SettingsError`."""
    what = "a move this program measures, nor a drill it was taught"
    return _one_of(value, known_move_names(), named=named, what=what)


def _number_between(
    value: float | str, low: float, high: float, *, named: str, what: str, what_to_do: str
) -> float:
    try:
        number = float(value)
    except ValueError:
        number = math.nan
    if not low <= number <= high:
        raise SettingsError(f"{named} {value}: not {what}.", what_to_do=what_to_do)
    return number


def _one_of(value: str, known: tuple[str, ...], *, named: str, what: str) -> str:
    if value in known:
        return value
    raise SettingsError(f"{named}: '{value}' is not {what}.", what_to_do=nearest(value, known))
