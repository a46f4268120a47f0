"""Lens profiles as files: a small TOML table, read with every entry checked."""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Mapping
from dataclasses import fields
from datetime import date, datetime
from pathlib import Path
from typing import Any

from calibration.toml_text import listed, quoted
from pipeline.core.errors import LensProfileError
from pipeline.core.messages import message
from pipeline.core.types import LensProfile

if sys.version_info >= (3, 11):
    import tomllib
else:  # pragma: no cover - the same parser under its earlier name
    import tomli as tomllib

SCHEMA = "crossemetry.lens/1"

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
        why = error.strerror
        raise LensProfileError.of("unreadable_lens", file=path.name, why=why) from error
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise LensProfileError.of("not_a_lens", file=path.name, why=str(error)) from error
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

_FITS: Mapping[str, Callable[[Any], bool]] = {
    "schema": lambda value: value == SCHEMA,
    "name": lambda value: isinstance(value, str) and value.strip() != "",
    "width_px": _is_count,
    "height_px": _is_count,
    "rotation_deg": lambda value: _is_number(value) and value in (0, 90, 180, 270),
    "focal_px": _numbers(2, _SMALLEST),
    "u_focal_px": _numbers(2, 0.0),
    "principal_px": _numbers(2),
    "u_principal_px": _numbers(2, 0.0),
    "distortion": _numbers(4),
    "u_distortion": _numbers(4, 0.0),
    "reprojection_px": lambda value: _is_number(value) and value >= 0,
    "n_views": _is_count,
    "made_on": lambda value: isinstance(value, date) and not isinstance(value, datetime),
}
"""What a value must be; described in ``[lens_entries]`` of the catalogue."""


def _checked(file: str, table: Mapping[str, Any]) -> LensProfile:
    """Turn a table into a profile, or report which entry of the file is wrong."""
    # The schema first: of another one, every key may differ.
    for key in _KEYS:
        if key not in table:
            raise LensProfileError.of("lens_entry_missing", file=file, entry=key)
        if not _FITS[key](table[key]):
            raise LensProfileError.of(
                "lens_entry_does_not_fit",
                file=file,
                entry=key,
                value=repr(table[key]),
                must_be=message(f"lens_entries.{key}", schema=SCHEMA),
            )
    for key in table:
        if key not in _KEYS:
            known = ", ".join(_KEYS)
            raise LensProfileError.of("unknown_lens_entry", file=file, entry=key, known=known)
    values: dict[str, Any] = {
        key: tuple(float(number) for number in value) if isinstance(value, list) else value
        for key, value in table.items()
        if key != "schema"
    }
    x_px, y_px = values["principal_px"]
    if not (0 < x_px < values["width_px"] and 0 < y_px < values["height_px"]):
        raise LensProfileError.of("lens_centre_outside", file=file, x=f"{x_px:g}", y=f"{y_px:g}")
    return LensProfile(**values)
