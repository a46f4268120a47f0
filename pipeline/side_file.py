"""The file beside a clip: what the person who filmed it wrote down about it."""

from __future__ import annotations

import difflib
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Literal, cast

from pipeline.errors import SettingsError
from pipeline.settings import SIDE_FILE_SUFFIX, SideFile, check_level, check_stature_m

if sys.version_info >= (3, 11):
    import tomllib
else:  # pragma: no cover - the same parser under its earlier name
    import tomli as tomllib

_SIDE_KEYS: Mapping[str, type] = {
    "stature_m": float,
    "move": str,
    "level": str,
    "stick_hand": str,
    "invented": bool,
    "note": str,
}
_KIND_WORDS: Mapping[type, str] = {
    float: "a number, e.g. 1.80",
    str: 'text in quotes, e.g. "adult"',
    bool: "true or false",
}


def read_side_file(clip_path: Path) -> SideFile:
    """Read `NAME.clip.toml` beside `NAME.mp4`; an empty `SideFile` when there is none.

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
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        return SideFile()
    except (OSError, UnicodeDecodeError) as error:
        raise SettingsError(
            f"{path.name}: cannot be read ({type(error).__name__}).",
            what_to_do="Save it as plain text (UTF-8), or remove it.",
        ) from error
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise SettingsError(
            f"{path.name}: {error}.",
            what_to_do='Write one `key = value` a line, text in quotes, e.g. level = "adult".',
        ) from error
    for key, value in table.items():
        _check_side_value(path, text, key, value)
    stature_m = table.get("stature_m")
    if stature_m is not None:
        stature_m = check_stature_m(stature_m, named=_place(path, text, "stature_m"))
    level = table.get("level")
    if level is not None:
        check_level(level, named=_place(path, text, "level"))
    hand = table.get("stick_hand")
    if hand is not None and hand not in ("left", "right"):
        raise SettingsError(
            f"{_place(path, text, 'stick_hand')}: '{hand}' is not a side.",
            what_to_do='Write "left" or "right", or leave it out.',
        )
    return SideFile(
        path=path,
        stature_m=stature_m,
        move=table.get("move"),
        level=level,
        stick_hand=cast('Literal["left", "right"] | None', hand),
        invented=table.get("invented", False),
        note=table.get("note"),
    )


def _check_side_value(path: Path, text: str, key: str, value: object) -> None:
    if key not in _SIDE_KEYS:
        near = difflib.get_close_matches(key, _SIDE_KEYS, n=1)
        meant = f"Did you mean {near[0]}? " if near else ""
        raise SettingsError(
            f"{_place(path, text, key)}: unknown key.",
            what_to_do=f"{meant}Keys: {', '.join(_SIDE_KEYS)}.",
        )
    kind = _SIDE_KEYS[key]
    # A whole number is a fine stature; true and false are whole numbers to Python and are not.
    fits = isinstance(value, (int, float) if kind is float else kind)
    if not fits or (isinstance(value, bool) and kind is not bool):
        raise SettingsError(
            f"{_place(path, text, key)}: {value!r} does not fit.",
            what_to_do=f"Write {_KIND_WORDS[kind]}.",
        )


def _place(path: Path, text: str, key: str) -> str:
    """File, line and key, for a message."""
    for number, line in enumerate(text.splitlines(), start=1):
        if line.split("=")[0].strip().strip("\"'[]") == key:
            return f"{path.name}, line {number}, {key}"
    return f"{path.name}, {key}"
