"""Imports the optional libraries of some formats, with an error that says how to install them."""

from __future__ import annotations

import importlib
import importlib.util
import sys
from collections.abc import Sequence
from typing import Any

from pipeline.core.errors import OutputError

LIBRARIES = {"parquet": ("pyarrow", "Parquet"), "c3d": ("ezc3d", "C3D")}
"""Library and display name of each format; the format's key is also the name of the extra."""


def import_optional(module: str, *, extra: str) -> Any:  # noqa: ANN401 - a module
    """Import a module of an optional library.

    Parameters
    ----------
    module
        Full name of the module.
    extra
        Extra of this program that installs the library.

    Raises
    ------
    OutputError
        The library is not installed; the message names the command that installs it.
    """
    try:
        return importlib.import_module(module)
    except ImportError as error:
        raise _missing(extra) from error


def check_libraries(formats: Sequence[str]) -> None:
    """Raise `OutputError` if a format's library is not installed, without importing any."""
    for name in formats:
        if name in LIBRARIES and importlib.util.find_spec(LIBRARIES[name][0]) is None:
            raise _missing(name)


def _missing(extra: str) -> OutputError:
    library, name = LIBRARIES[extra]
    python = f'"{sys.executable}"' if " " in sys.executable else sys.executable
    return OutputError.of(
        "library_not_installed", format=extra, library=library, name=name, python=python
    )
