"""One writer at a time: a lock on a file that the system lifts when its holder ends, however."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

from pipeline.core.errors import OutputError

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
