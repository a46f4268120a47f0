"""The one folder in which the program keeps what a coach taught it: ranges, drills, corrections."""

from __future__ import annotations

import os
from pathlib import Path

from pipeline.core.errors import OutputError

VARIABLE = "CROSSEMETRY_DATA"
"""Environment variable that names another folder."""


def data_folder() -> Path:
    """Return the folder; it may not be there yet.

    Returns
    -------
    pathlib.Path
        The folder that `VARIABLE` names, else the usual place for a program's data.
    """
    named = os.environ.get(VARIABLE)
    if named:
        return Path(named).expanduser()
    import platformdirs

    return Path(platformdirs.user_data_dir("crossemetry", appauthor=False))


def made_folder(name: str = "") -> Path:
    """Make the folder, or one in it, and return it.

    Parameters
    ----------
    name
        Of the folder in it; empty for itself.

    Raises
    ------
    OutputError
        It cannot be made.
    """
    folder = data_folder() / name
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError.of(
            "no_data_folder", folder=str(folder), why=error.strerror, variable=VARIABLE
        ) from error
    return folder
