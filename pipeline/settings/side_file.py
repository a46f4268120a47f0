"""The file beside a clip: what the person who filmed it wrote down about it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Literal, cast

from pipeline.core.errors import error_text
from pipeline.core.messages import message
from pipeline.core.toml_file import TomlFile, nearest, read_toml
from pipeline.settings.checks import (
    check_age_years,
    check_athlete,
    check_level,
    check_move,
    check_stature_m,
)
from pipeline.settings.locale import check_language, check_units
from pipeline.settings.settings import SIDE_FILE_SUFFIX, SideFile

ARM_RANGE_M = (0.3, 1.2)

_KINDS: Mapping[str, type] = {
    "stature_m": float,
    "move": str,
    "arm_length_m": float,
    "athlete": str,
    "level": str,
    "age_years": float,
    "stick_hand": str,
    "lens": str,
    "marks": str,
    "invented": bool,
    "note": str,
    "language": str,
    "units": str,
}
"""What a value must be; described in ``[clip_entries]`` of the catalogue."""

_CHECKS: Mapping[str, Callable[..., Any]] = {
    "stature_m": check_stature_m,
    "age_years": check_age_years,
    "move": check_move,
    "level": check_level,
    "athlete": check_athlete,
    "language": check_language,
    "units": check_units,
}
"""Further conditions on a value of the right kind."""


def read_side_file(clip_path: Path) -> SideFile:
    """Read `NAME.clip.toml` beside `NAME.mp4`; an empty `SideFile` when it is missing.

    Parameters
    ----------
    clip_path
        The film file.

    Raises
    ------
    SettingsError
        Not TOML, an unknown key, or a value that cannot be meant; names file, line and key.
    """
    path = clip_path.with_name(clip_path.stem + SIDE_FILE_SUFFIX)
    if not path.exists():
        return SideFile()
    file = read_toml(path)
    for key, value in file.table.items():
        _check_kind(file, key, value)
    table = file.table
    hand = table.get("stick_hand")
    if hand not in (None, "left", "right"):
        raise file.error("stick_hand", **error_text("no_side", value=hand))
    checked = {
        key: check(table[key], named=file.place_of(key))
        for key, check in _CHECKS.items()
        if key in table
    }
    arm_length_m = table.get("arm_length_m")
    if arm_length_m is not None and not ARM_RANGE_M[0] <= arm_length_m <= ARM_RANGE_M[1]:
        raise file.error("arm_length_m", **error_text("no_arm_length", value=arm_length_m))
    return SideFile(
        path=path,
        stature_m=table.get("stature_m"),
        move=table.get("move"),
        level=table.get("level"),
        athlete=checked.get("athlete"),
        age_years=table.get("age_years"),
        arm_length_m=arm_length_m,
        stick_hand=cast('Literal["left", "right"] | None', hand),
        lens_path=path.parent / table["lens"] if "lens" in table else None,
        marks_path=path.parent / table["marks"] if "marks" in table else None,
        invented=table.get("invented", False),
        note=table.get("note"),
        language=checked.get("language"),
        units=checked.get("units"),
    )


def _check_kind(file: TomlFile, key: str, value: object) -> None:
    """Raise `SettingsError` for an unknown key or a value of the wrong kind."""
    if key not in _KINDS:
        raise file.error(key, **error_text("unknown_clip_entry", nearest=nearest(key, _KINDS)))
    kind = _KINDS[key]
    # A whole number is a fine stature; true and false are whole numbers to Python and are not.
    fits = isinstance(value, (int, float) if kind is float else kind)
    if not fits or (isinstance(value, bool) and kind is not bool):
        must_be = message(f"clip_entries.{key}")
        raise file.error(
            key, **error_text("clip_entry_does_not_fit", value=repr(value), must_be=must_be)
        )
