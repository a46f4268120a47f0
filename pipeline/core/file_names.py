"""Refuses names of films that no folder of results may have."""

from __future__ import annotations

from pathlib import Path, PurePosixPath

from pipeline.core.errors import OutputError

PORTS = frozenset(f"{port}{sign}" for port in ("com", "lpt") for sign in "0123456789¹²³")
RESERVED = PORTS | {"con", "prn", "aux", "nul", "conin$", "conout$"}
"""Names of devices on Windows, whatever ending follows them."""

OWN_NAMES = frozenset((".cache", "crossemetry-files.json"))
"""What the program itself keeps in a folder of results."""


def checked_stem(film: Path | PurePosixPath) -> str:
    r"""Return the name of a film without its ending, as results are named after it.

    A name is refused on every system, so that a folder of results can be moved to any other.

    Parameters
    ----------
    film
        The film; only its last part counts.

    Raises
    ------
    OutputError
        The name would lead out of the folder, is empty, or a system or the program reserves it.

    Examples
    --------
    >>> checked_stem(Path("film/evening practice 3.mp4"))
    'evening practice 3'
    """
    # Not `stem`: newer versions of Python take the dots of "...mp4" for part of the name.
    name, dot, _ = film.name.rpartition(".")
    stem = name if dot and name else film.name
    first = stem.partition(".")[0].rstrip(" ").casefold()
    is_reserved = first in RESERVED or stem.casefold() in OWN_NAMES
    if is_reserved or not stem or stem != stem.rstrip(". ") or not _is_plain(stem):
        shown = (text.encode("utf-8", "replace").decode("utf-8") for text in (film.name, stem))
        raise OutputError.of("film_name_reserved", file=next(shown), name=next(shown))
    return stem


def _is_plain(name: str) -> bool:
    """Whether a name holds no control sign and nothing that is no text."""
    try:
        return all(sign > 31 for sign in name.encode("utf-8"))
    except UnicodeEncodeError:
        return False
