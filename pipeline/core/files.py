"""Files: names allowed, written whole or not at all, locks between processes, the data folder."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path, PurePosixPath
from typing import BinaryIO

from pipeline.core.errors import OutputError


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
def writing_results(folder: Path) -> Iterator[None]:
    """Report a failure to write into a folder of results as an error that names the folder.

    Raises
    ------
    OutputError
        The folder cannot be made or written to.
    """
    try:
        yield
    except OSError as error:
        why = error.strerror or str(error)
        raise OutputError.of("results_not_written", path=str(folder), why=why) from error


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


WAIT_S = 5.0


@contextmanager
def locked(path: Path, *, wait_s: float = WAIT_S, keep: bool = True) -> Iterator[None]:
    """Hold the lock that belongs to a file.

    The lock is a small file beside it, ``.NAME.lock``; who holds it is known to the system alone,
    so that a program that was killed leaves nothing to be cleared away.

    Parameters
    ----------
    path
        The file that is to be changed.
    wait_s
        How long to wait for another writer.
    keep
        Whether the small file stays afterwards.

    Raises
    ------
    OutputError
        Another writer did not end in that time, or the folder cannot be written to.
    """
    lock_path = path.with_name(f".{path.name}.lock")
    file = _held(lock_path, path, wait_s)
    try:
        yield
    finally:
        if not keep:
            with suppress(OSError):  # Windows takes away no file that is open
                lock_path.unlink()
        _give_back(file)
        file.close()
        if not keep and sys.platform == "win32":
            with suppress(OSError):
                lock_path.unlink()


def _held(lock_path: Path, path: Path, wait_s: float) -> BinaryIO:
    """Wait until the lock is ours, on the very file that lies there now."""
    stop_s = time.monotonic() + wait_s
    while True:
        try:
            file = lock_path.open("a+b")
        except OSError as error:
            if sys.platform == "win32" and isinstance(error, PermissionError):
                if time.monotonic() <= stop_s:  # its holder is taking it away
                    time.sleep(0.02)
                    continue
            why = error.strerror
            raise OutputError.of("cannot_be_changed_there", path=str(path), why=why) from error
        if _taken(file):
            if _is_the_one_there(file, lock_path):
                return file
            _give_back(file)
        file.close()
        if time.monotonic() > stop_s:
            raise OutputError.of("changed_by_another_program", file=path.name)
        time.sleep(0.02)


def _is_the_one_there(file: BinaryIO, lock_path: Path) -> bool:
    """Whether an open file was not taken away by the one who held it before."""
    try:
        return os.path.samestat(os.fstat(file.fileno()), lock_path.stat())
    except OSError:
        return False


if sys.platform == "win32":
    import msvcrt

    def _taken(file: BinaryIO) -> bool:
        try:
            file.seek(0)
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

    def _give_back(file: BinaryIO) -> None:
        file.seek(0)
        msvcrt.locking(file.fileno(), msvcrt.LK_UNLCK, 1)

else:
    import fcntl

    def _taken(file: BinaryIO) -> bool:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            return False
        return True

    def _give_back(file: BinaryIO) -> None:
        fcntl.flock(file, fcntl.LOCK_UN)


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


PORTS = frozenset(f"{port}{sign}" for port in ("com", "lpt") for sign in "0123456789¹²³")
RESERVED = PORTS | {"con", "prn", "aux", "nul", "conin$", "conout$"}
"""Names of devices on Windows, whatever ending follows them."""

OWN_NAMES = frozenset((".cache", "crossemetry-files.json", "index.html", "summary.json"))
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
