"""One writer at a time: a lock on a file that the system lifts when its holder ends, however."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from pipeline.errors import OutputError

WAIT_S = 5.0


@contextmanager
def locked(path: Path, *, wait_s: float = WAIT_S) -> Iterator[None]:
    """Hold the lock that belongs to a file.

    The lock is a small file beside it, ``.NAME.lock``, which stays; who holds it is known to the
    system alone, so that a program that was killed leaves nothing to be cleared away.

    Parameters
    ----------
    path
        The file that is to be changed.
    wait_s
        How long to wait for another writer.

    Raises
    ------
    OutputError
        Another writer did not end in that time, or the folder cannot be written to.
    """
    lock_path = path.with_name(f".{path.name}.lock")
    try:
        file = lock_path.open("a+b")
    except OSError as error:
        why = error.strerror
        raise OutputError.of("cannot_be_changed_there", path=str(path), why=why) from error
    with file:
        stop_s = time.monotonic() + wait_s
        while not _taken(file):
            if time.monotonic() > stop_s:
                raise OutputError.of("changed_by_another_program", file=path.name)
            time.sleep(0.02)
        try:
            yield
        finally:
            _give_back(file)


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
