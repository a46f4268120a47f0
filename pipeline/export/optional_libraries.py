"""Libraries that only some formats need: imported when asked for, or said how to install."""

from __future__ import annotations

import importlib
import importlib.util
import sys
from collections.abc import Sequence
from typing import Any

from pipeline.core.errors import OutputError

LIBRARIES = {"parquet": ("pyarrow", "Parquet"), "c3d": ("ezc3d", "C3D")}
"""By format, which is also the name of the extra: library, and name of the format."""


def needed(module: str, *, extra: str) -> Any:  # noqa: ANN401 - a module
    """Import a library, or a module of it, of an optional extra.

    Parameters
    ----------
    module
        Full name.
    extra
        Extra of this program that brings it.

    Raises
    ------
    OutputError
        It is not installed; names the line that installs it.
    """
    try:
        return importlib.import_module(module)
    except ImportError as error:
        raise _missing(extra) from error


def check_libraries(formats: Sequence[str]) -> None:
    """Raise `OutputError` if a format needs what is not installed; loads nothing."""
    for name in formats:
        if name in LIBRARIES and importlib.util.find_spec(LIBRARIES[name][0]) is None:
            raise _missing(name)


def _missing(extra: str) -> OutputError:
    library, name = LIBRARIES[extra]
    python = f'"{sys.executable}"' if " " in sys.executable else sys.executable
    return OutputError.of(
        "library_not_installed", format=extra, library=library, name=name, python=python
    )
