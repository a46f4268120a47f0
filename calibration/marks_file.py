"""Marks on the field as a file: a TOML table, read with every entry checked, and written."""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from calibration.marks import Mark
from calibration.toml_text import listed, quoted
from pipeline.core.errors import MarksError
from pipeline.core.messages import Message, message

if sys.version_info >= (3, 11):
    import tomllib
else:  # pragma: no cover - the same parser under its earlier name
    import tomli as tomllib

SCHEMA = "crossemetry.marks/1"


def read_marks(path: Path) -> tuple[Mark, ...]:
    """Read the marks of one place of the phone.

    Parameters
    ----------
    path
        A TOML file: `schema`, and under each ``[[marks]]`` the entries of `Mark`.

    Returns
    -------
    tuple of Mark
        In the order of the file; the image points as seen on the film.

    Raises
    ------
    MarksError
        The file cannot be read or is not TOML, a key is unknown or missing, a value cannot be
        meant, or a name stands twice; names file and key.
    """
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        raise MarksError.of("unreadable_marks", file=path.name, why=error.strerror) from error
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise MarksError.of("not_a_file_of_marks", file=path.name, why=str(error)) from error
    return marks_of_table(path.name, table)


def marks_of_table(place: str, table: Mapping[str, Any]) -> tuple[Mark, ...]:
    """Turn the content of a file into marks.

    Parameters
    ----------
    place
        What errors call it, such as the name of the file.
    table
        `schema` and `marks`, as in the file.

    Returns
    -------
    tuple of Mark

    Raises
    ------
    MarksError
        As `read_marks`.
    """
    _check_entries(place, table, _FILE_CHECKS, needed=("schema", "marks"))
    marks = tuple(
        _mark(place, f"marks[{number}].", entry)
        for number, entry in enumerate(table["marks"], start=1)
    )
    names = [mark.name for mark in marks]
    for number, name in enumerate(names, start=1):
        if name in names[: number - 1]:
            entry = f"marks[{number}].name"
            raise MarksError.of("mark_stands_twice", place=place, entry=entry, name=name)
    return marks


def marks_text(marks: Sequence[Mark]) -> str:
    """Give marks as the text of their file; `read_marks` gives the very same marks back."""
    lines = [
        "# Marks on the first frame: field_m in metres, image_px in pixels from left and top.",
        "# uncertainty_px and uncertainty_m are standard uncertainties of a click and a place.",
        f"schema = {quoted(SCHEMA)}",
    ]
    for mark in marks:
        lines += [
            "",
            "[[marks]]",
            f"name = {quoted(mark.name)}",
            f"field_m = {listed(mark.field_m)}",
            f"image_px = {listed(mark.image_px)}",
            f"uncertainty_px = {float(mark.uncertainty_px)!r}",
            f"uncertainty_m = {float(mark.uncertainty_m)!r}",
        ]
    return "\n".join(lines) + "\n"


def _is_number(value: object) -> bool:
    # True and false are whole numbers to Python; a whole number may be too long to be a float.
    if isinstance(value, int):
        return not isinstance(value, bool)
    return isinstance(value, float) and math.isfinite(value)


def _numbers(count: int, greatest: float) -> Callable[[Any], bool]:
    """Make a check for a list of so many numbers, none further from nought than the greatest."""
    return lambda value: (
        isinstance(value, list)
        and len(value) == count
        and all(_is_number(number) and abs(number) <= greatest for number in value)
    )


_Checks = Mapping[str, Callable[[Any], bool]]
"""What a value must be, by its key; described in ``[mark_entries]`` of the catalogue."""

_FILE_CHECKS: _Checks = {
    "schema": lambda value: value == SCHEMA,
    "marks": lambda value: (
        isinstance(value, list) and all(isinstance(each, dict) for each in value)
    ),
}

_MARK_CHECKS: _Checks = {
    "name": lambda value: isinstance(value, str) and value.strip() != "",
    "field_m": _numbers(3, 1000.0),
    "image_px": _numbers(2, 1e5),
    "uncertainty_px": lambda value: _is_number(value) and 0 < value <= 1000,
    "uncertainty_m": lambda value: _is_number(value) and 0 <= value <= 10,
}

_NEEDED = ("name", "field_m", "image_px")


def _mark(place: str, within: str, entry: Mapping[str, Any]) -> Mark:
    """Turn a table into a mark, or report which entry of it is wrong."""
    _check_entries(place, entry, _MARK_CHECKS, needed=_NEEDED, within=within)
    x_m, y_m, z_m = (float(number) for number in entry["field_m"])
    x_px, y_px = (float(number) for number in entry["image_px"])
    stated = {key: float(entry[key]) for key in ("uncertainty_px", "uncertainty_m") if key in entry}
    return Mark(name=entry["name"], field_m=(x_m, y_m, z_m), image_px=(x_px, y_px), **stated)


def _check_entries(
    place: str,
    table: Mapping[str, Any],
    checks: _Checks,
    *,
    needed: tuple[str, ...],
    within: str = "",
) -> None:
    """Raise `MarksError` for an entry that is missing, unknown, or of the wrong kind."""
    for key in needed:
        if key not in table:
            raise MarksError.of(
                "mark_entry_missing", place=place, entry=within + key, must_be=_must_be(key)
            )
    for key, value in table.items():
        if key not in checks:
            known = ", ".join(checks)
            raise MarksError.of("unknown_mark_entry", place=place, entry=within + key, known=known)
        if not checks[key](value):
            raise MarksError.of(
                "mark_entry_does_not_fit",
                place=place,
                entry=within + key,
                value=repr(value),
                must_be=_must_be(key),
            )


def _must_be(key: str) -> Message:
    return message(f"mark_entries.{key}", schema=SCHEMA)
