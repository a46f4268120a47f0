"""Names of moves that may be asked for: the built-in ones, and the drills that a coach taught."""

from __future__ import annotations

import re
from pathlib import Path

from pipeline.core.data_folder import data_folder
from pipeline.core.errors import DrillError
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
    """Names of all moves that can be asked for: built-in ones first, then drills."""
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
        There is none of that name.
    """
    check_drill_name(name)
    names = drill_names()
    for known in names:
        if known.casefold() == name.casefold():
            return known
    if not names:
        raise DrillError.of("no_drill_yet", name=name)
    raise DrillError.of("no_such_drill", name=name, nearest=nearest(name, names))
