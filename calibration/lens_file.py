"""Lens profiles as files: a small TOML table, read with every entry checked."""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Mapping
from dataclasses import fields
from datetime import date, datetime
from pathlib import Path
from typing import Any

from calibration.lens_profile import LensProfile
from calibration.toml_text import listed, quoted
from pipeline.errors import LensProfileError

if sys.version_info >= (3, 11):
    import tomllib
else:  # pragma: no cover - the same parser under its earlier name
    import tomli as tomllib

SCHEMA = "crossemetry.lens/1"
MAKE_ANEW = "Make it anew with crossemetry calibrate lens."

_KEYS = ("schema", *(field.name for field in fields(LensProfile)))


def read_lens_profile(path: Path) -> LensProfile:
    """Read a profile.

    Parameters
    ----------
    path
        A TOML file, with the text of `lens_profile_text`.

    Returns
    -------
    LensProfile

    Raises
    ------
    LensProfileError
        The file cannot be read or is not TOML, a key is unknown or missing, or a value cannot be
        meant; names file and key.
    """
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        raise LensProfileError(
            f"{path.name}: the lens profile cannot be read: {error.strerror}.",
            what_to_do="Check the name.",
        ) from error
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise LensProfileError(
            f"{path.name}: not a lens profile, which is a TOML file ({error}).",
            what_to_do=MAKE_ANEW,
        ) from error
    return _checked(path.name, table)


def lens_profile_text(profile: LensProfile) -> str:
    """Give a profile as the text of its file."""
    lines = [
        "# A lens measured by crossemetry calibrate lens: for this phone and video mode alone."
    ]
    lines.append(f"schema = {quoted(SCHEMA)}")
    for key in _KEYS[1:]:
        value = getattr(profile, key)
        if isinstance(value, tuple):
            written = listed(value)
        elif isinstance(value, date):
            written = value.isoformat()
        else:
            written = quoted(value) if isinstance(value, str) else repr(value)
        lines.append(f"{key} = {written}")
    return "\n".join(lines) + "\n"


def _is_number(value: object) -> bool:
    # True and false are whole numbers to Python.
    return isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)


def _is_count(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and value > 0


def _numbers(count: int, least: float = -math.inf) -> Callable[[Any], bool]:
    """Make a check for a list of so many numbers that are none smaller than the least."""
    return lambda value: (
        isinstance(value, list)
        and len(value) == count
        and all(_is_number(number) and number >= least for number in value)
    )


_SMALLEST = sys.float_info.min

_CHECKS: Mapping[str, tuple[Callable[[Any], bool], str]] = {
    "schema": (lambda value: value == SCHEMA, f'"{SCHEMA}"'),
    "name": (lambda value: isinstance(value, str) and value.strip() != "", "text in quotes"),
    "width_px": (_is_count, "a whole number of pixels"),
    "height_px": (_is_count, "a whole number of pixels"),
    "rotation_deg": (lambda value: _is_number(value) and value in (0, 90, 180, 270),
                     "0, 90, 180 or 270"),
    "focal_px": (_numbers(2, _SMALLEST), "two positive numbers, [fx, fy]"),
    "u_focal_px": (_numbers(2, 0.0), "two numbers that are not negative"),
    "principal_px": (_numbers(2), "two numbers, [cx, cy]"),
    "u_principal_px": (_numbers(2, 0.0), "two numbers that are not negative"),
    "distortion": (_numbers(4), "four numbers, [k1, k2, p1, p2]"),
    "u_distortion": (_numbers(4, 0.0), "four numbers that are not negative"),
    "reprojection_px": (lambda value: _is_number(value) and value >= 0,
                        "a number that is not negative"),
    "n_views": (_is_count, "a whole number of views"),
    "made_on": (lambda value: isinstance(value, date) and not isinstance(value, datetime),
                "a day such as 2026-03-01, without quotes"),
}  # fmt: skip


def _checked(file: str, table: Mapping[str, Any]) -> LensProfile:
    """Turn a table into a profile, or say which entry of the file is wrong."""
    # The schema first: of another one, every key may differ.
    for key in _KEYS:
        if key not in table:
            raise LensProfileError(
                f"{file}: {key} is missing, so this is no whole lens profile.",
                what_to_do=MAKE_ANEW,
            )
        fits, words = _CHECKS[key]
        if not fits(table[key]):
            raise LensProfileError(
                f"{file}, {key}: {table[key]!r} does not fit.", what_to_do=f"It must be {words}."
            )
    for key in table:
        if key not in _KEYS:
            raise LensProfileError(
                f"{file}, {key}: unknown key.", what_to_do=f"Known: {', '.join(_KEYS)}."
            )
    values: dict[str, Any] = {
        key: tuple(float(number) for number in value) if isinstance(value, list) else value
        for key, value in table.items()
        if key != "schema"
    }
    x_px, y_px = values["principal_px"]
    if not (0 < x_px < values["width_px"] and 0 < y_px < values["height_px"]):
        raise LensProfileError(
            f"{file}, principal_px: [{x_px:g}, {y_px:g}] lies outside the picture.",
            what_to_do=MAKE_ANEW,
        )
    return LensProfile(**values)
