"""Opens the training log: checked, in its newest form, one transaction for each change."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.exc import DBAPIError, IntegrityError, NoSuchModuleError, OperationalError
from sqlalchemy.pool import NullPool

from pipeline.core.errors import LogBusy, LogError, OutputError
from pipeline.core.messages import message
from pipeline.log.location import VARIABLE, file_of, log_url, shown
from pipeline.log.migrate import to_newest

if TYPE_CHECKING:
    from sqlalchemy import URL

BUSY_S = 10.0
"""How long a writer waits for another one."""

CHECKED_BELOW_BYTES = 64 * 2**20
"""A file up to this size is checked whenever it is opened, which takes a part of a second. A larger
one is checked when a program did not close it (its ``-wal`` file is left), and by each backup."""


@dataclass(frozen=True, slots=True)
class TrainingLog:
    """An open training log.

    Attributes
    ----------
    engine
        For reading.
    url
        Where it is.
    """

    engine: Engine
    url: URL

    @property
    def path(self) -> Path | None:
        """File of the database; None for one that a server keeps."""
        return file_of(self.url)

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Read, all from one state of the log.

        Raises
        ------
        LogError
            The database cannot be read.
        """
        with _told(self.url), self.engine.begin() as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Change the log: all of it when the block ends, nothing of it if it breaks off.

        Raises
        ------
        LogBusy
            Another program is writing and does not end.
        LogError
            The database cannot be written to.
        """
        writer = self.engine.execution_options(immediate=True)
        with _told(self.url), writer.begin() as connection:
            yield connection


@contextmanager
def opened_log(named: str | None = None) -> Iterator[TrainingLog]:
    """Open the training log, making it if there is none.

    Parameters
    ----------
    named
        Address of the database as typed; see `pipeline.log.location.log_url`.

    Raises
    ------
    LogError
        It cannot be opened, is damaged, or a newer version of the program made it.
    OutputError
        Its folder cannot be made.
    """
    url = log_url(named)
    path = file_of(url)
    left_open = False
    if path is not None:
        left_open = path.with_name(f"{path.name}-wal").exists()
        _make_file(path)
    engine = engine_for(url)
    log = TrainingLog(engine, url)
    try:
        with _told(url):
            if path is not None and (left_open or path.stat().st_size <= CHECKED_BELOW_BYTES):
                with engine.connect() as connection:
                    check(connection, path)
            to_newest(engine, url)
        yield log
    finally:
        engine.dispose()


def engine_for(url: URL) -> Engine:
    """Return an engine whose connections have the settings that the log relies on.

    Raises
    ------
    LogError
        What is needed for that kind of database is not installed.
    """
    try:
        if file_of(url) is None:
            return create_engine(url, poolclass=NullPool)
        engine = create_engine(url, poolclass=NullPool, connect_args={"timeout": BUSY_S})
    except (ImportError, NoSuchModuleError) as error:
        raise LogError.of("database_not_spoken_to", place=shown(url)) from error
    event.listen(engine, "connect", _set_up)
    event.listen(engine, "begin", _begin)
    return engine


def check(connection: Connection, path: Path) -> None:
    """Raise `LogError` if SQLite finds its file damaged."""
    found = connection.exec_driver_sql("PRAGMA quick_check(1)").scalar()
    if found != "ok":
        raise _damaged(path, None)


def _make_file(path: Path) -> None:
    """Make an empty file that nobody else on this machine may read: it is about minors."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        os.close(os.open(path, os.O_RDWR | os.O_CREAT, 0o600))
    except OSError as error:
        raise OutputError.of(
            "log_not_kept_there", file=path, why=error.strerror, variable=VARIABLE
        ) from error


def _set_up(connection: Any, _: object) -> None:  # noqa: ANN401 - as the driver gives it
    # The driver begins transactions by itself, but not before tables are changed, so that a
    # migration would not be one. It is told not to, and `_begin` does.
    connection.isolation_level = None
    for pragma in (
        "journal_mode=WAL",  # readers do not wait for a writer
        "synchronous=FULL",  # what was reported as written stays, also if the power fails
        "foreign_keys=ON",
        "secure_delete=ON",  # what is taken out is not left in the file
    ):
        connection.execute(f"PRAGMA {pragma}").close()


def _begin(connection: Connection) -> None:
    # A writer waits for the other before it reads, or it would find afterwards that it read
    # what is no longer so, and fail.
    now = connection.get_execution_options().get("immediate", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if now else "BEGIN")


@contextmanager
def _told(url: URL) -> Iterator[None]:
    """Turn what a database says into what a person can use."""
    try:
        yield
    except DBAPIError as error:
        path, said = file_of(url), str(error.orig).strip()
        if path is None and isinstance(error, IntegrityError):
            # A server lets several write at once, and two wrote the same.
            raise LogBusy.of("log_written_twice", place=shown(url)) from error
        if path is None:
            if not isinstance(error, OperationalError):
                raise  # a mistake of the program
            why = (said.splitlines() or [message("log_parts.no_reason")])[0]
            raise LogError.of("database_silent", place=shown(url), why=why) from error
        if "locked" in said or "busy" in said:
            raise LogBusy.of("log_busy", file=path) from error
        if "malformed" in said or "not a database" in said:
            raise _damaged(path, error) from error
        if isinstance(error, OperationalError) and _of_the_disk(said):
            raise OutputError.of("log_not_written", file=path, why=said) from error
        raise


def _of_the_disk(said: str) -> bool:
    return any(word in said for word in ("full", "readonly", "disk I/O", "open database"))


def _damaged(path: Path, error: DBAPIError | None) -> LogError:
    if error is None:
        return LogError.of("log_damaged", file=path)
    return LogError.of("log_damaged_so", file=path, why=str(error.orig).strip())
