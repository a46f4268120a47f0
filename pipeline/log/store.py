"""Opens the training log: checks it, migrates it, and gives read and write transactions."""

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
"""Time that a writer waits for another writer."""

CHECKED_BELOW_BYTES = 64 * 2**20
"""Size up to which a file is checked on every opening, in under a second. A larger file is checked
after a crash (its ``-wal`` file is left) and by each backup."""


@dataclass(frozen=True, slots=True)
class TrainingLog:
    """An open training log.

    Attributes
    ----------
    engine
        Engine of the connections.
    url
        Address of the database.
    """

    engine: Engine
    url: URL

    @property
    def path(self) -> Path | None:
        """File of the database; None for a database on a server."""
        return file_of(self.url)

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Open a transaction that reads one consistent state of the log.

        Raises
        ------
        LogError
            The database cannot be read.
        """
        with _translated_errors(self.url), self.engine.begin() as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Open a write transaction: committed at the end of the block, rolled back on an error.

        Raises
        ------
        LogBusy
            Another program is writing for longer than `BUSY_S`.
        LogError
            The database cannot be written to.
        """
        writer = self.engine.execution_options(immediate=True)
        with _translated_errors(self.url), writer.begin() as connection:
            yield connection


@contextmanager
def opened_log(named: str | None = None) -> Iterator[TrainingLog]:
    """Open the training log; creates it if it does not exist.

    Parameters
    ----------
    named
        Address of the database as typed; see `pipeline.log.location.log_url`.

    Raises
    ------
    LogError
        It cannot be opened, is damaged, or a newer version of the program wrote it.
    OutputError
        Its folder cannot be created.
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
        with _translated_errors(url):
            if path is not None and (left_open or path.stat().st_size <= CHECKED_BELOW_BYTES):
                with engine.connect() as connection:
                    check(connection, path)
            to_newest(engine, url)
        yield log
    finally:
        engine.dispose()


def engine_for(url: URL) -> Engine:
    """Return an engine whose connections have the settings that the log needs.

    Raises
    ------
    LogError
        The driver of that kind of database is not installed.
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
    """Raise `LogError` if SQLite reports its file as damaged."""
    found = connection.exec_driver_sql("PRAGMA quick_check(1)").scalar()
    if found != "ok":
        raise _damaged(path, None)


def _make_file(path: Path) -> None:
    """Create an empty file that only its owner may read, because it holds data of minors."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        os.close(os.open(path, os.O_RDWR | os.O_CREAT, 0o600))
    except OSError as error:
        raise OutputError.of(
            "log_not_kept_there", file=path, why=error.strerror, variable=VARIABLE
        ) from error


def _set_up(connection: Any, _: object) -> None:  # noqa: ANN401 - as the driver gives it
    # The driver begins no transaction before tables are changed, so a migration would not be
    # atomic. Its own transactions are switched off, and `_begin` begins them.
    connection.isolation_level = None
    for pragma in (
        "journal_mode=WAL",  # readers do not wait for a writer
        "synchronous=FULL",  # committed data survive a power failure
        "foreign_keys=ON",
        "secure_delete=ON",  # deleted data are overwritten in the file
    ):
        connection.execute(f"PRAGMA {pragma}").close()


def _begin(connection: Connection) -> None:
    # A writer takes the lock before it reads, or it fails when its data are stale at the write.
    now = connection.get_execution_options().get("immediate", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if now else "BEGIN")


@contextmanager
def _translated_errors(url: URL) -> Iterator[None]:
    """Translate errors of the database into errors that a user can act on."""
    try:
        yield
    except DBAPIError as error:
        path, reported = file_of(url), str(error.orig).strip()
        if path is None and isinstance(error, IntegrityError):
            # A server allows several writers, and two inserted the same row.
            raise LogBusy.of("log_written_twice", place=shown(url)) from error
        if path is None:
            if not isinstance(error, OperationalError):
                raise  # an error in this program
            why = (reported.splitlines() or [message("log_parts.no_reason")])[0]
            raise LogError.of("database_silent", place=shown(url), why=why) from error
        if "locked" in reported or "busy" in reported:
            raise LogBusy.of("log_busy", file=path) from error
        if "malformed" in reported or "not a database" in reported:
            raise _damaged(path, error) from error
        if isinstance(error, OperationalError) and _is_disk_error(reported):
            raise OutputError.of("log_not_written", file=path, why=reported) from error
        raise


def _is_disk_error(reported: str) -> bool:
    return any(word in reported for word in ("full", "readonly", "disk I/O", "open database"))


def _damaged(path: Path, error: DBAPIError | None) -> LogError:
    if error is None:
        return LogError.of("log_damaged", file=path)
    return LogError.of("log_damaged_so", file=path, why=str(error.orig).strip())
