"""Files that are whole or not there at all."""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path


def write_whole(path: Path, parts: Iterable[bytes]) -> None:
    """Write beside the place and move there, so that no half of a file is ever seen.

    Parameters
    ----------
    path
        Where it goes; replaced if it exists.
    parts
        The content, a piece at a time.

    Raises
    ------
    OSError
        It cannot be written there; what was there before is kept.
    """
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        with part.open("wb") as file:
            file.writelines(parts)
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)
