"""Files that are whole or not there at all."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
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
    with written_whole(path) as part, part.open("wb") as file:
        file.writelines(parts)


@contextmanager
def written_whole(path: Path) -> Iterator[Path]:
    """Give a place beside a file to write to; moved to the file's own place if all went well.

    Parameters
    ----------
    path
        Where it goes in the end; replaced if it exists.

    Yields
    ------
    Path
        Where to write. It is gone afterwards, whether all went well or not.

    Raises
    ------
    OSError
        It cannot be moved there; what was there before is kept.
    """
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        yield part
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)
