"""Copies a training log into a file of its own, and makes sure that the copy is whole."""

from __future__ import annotations

import contextlib
import os
import sqlite3
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import URL, Engine, MetaData, create_engine, func, select
from sqlalchemy.pool import NullPool

from pipeline.core.errors import OutputError
from pipeline.log.location import file_of

if TYPE_CHECKING:
    from sqlalchemy import Connection

ROWS_AT_ONCE = 5_000


def copy_database(engine: Engine, url: URL, target: Path) -> dict[str, int]:
    """Copy a whole database into one SQLite file, while others may go on using it.

    Of a database that a server keeps the copy is a SQLite file all the same, so that it can be
    opened anywhere, and named as a training log itself.

    Parameters
    ----------
    engine, url
        Of the database.
    target
        The file; it must not be there yet.

    Returns
    -------
    dict
        Rows in the copy by table, the same as in the database when the copy was made.

    Raises
    ------
    OutputError
        The file is there, cannot be written, or the copy was found not to be whole.
    """
    if target.exists():
        raise OutputError.of("backup_there_already", file=target)
    part = target.with_name(f".{target.name}.{os.getpid()}.part")
    try:
        os.close(os.open(part, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600))
        expected = _copied(engine, file_of(url), part)
        found = _verified(part)
        if found != expected:
            raise OutputError.of("backup_not_whole", file=target)
        part.replace(target)
    except (OSError, sqlite3.Error) as error:
        raise OutputError.of("backup_not_made", file=target, why=str(error)) from error
    finally:
        for leftover in (part, part.with_name(f"{part.name}-journal")):
            with contextlib.suppress(OSError):
                leftover.unlink(missing_ok=True)
    return found


def _copied(engine: Engine, source: Path | None, part: Path) -> dict[str, int]:
    if source is None:
        return _copied_from_server(engine, part)
    with (
        contextlib.closing(sqlite3.connect(source)) as old,
        contextlib.closing(sqlite3.connect(part)) as new,
    ):
        old.execute("BEGIN")  # counted and copied from one state
        expected = _counts(old)
        old.backup(new)
        new.execute("PRAGMA journal_mode = DELETE").close()  # one file, and no more
    return expected


def _copied_from_server(engine: Engine, part: Path) -> dict[str, int]:
    copy = create_engine(URL.create("sqlite", database=str(part)), poolclass=NullPool)
    isolated = engine.execution_options(isolation_level="REPEATABLE READ")
    expected = {}
    with isolated.begin() as source, copy.begin() as destination:
        metadata = MetaData()
        metadata.reflect(source)
        for table in metadata.sorted_tables:
            for column in table.columns:
                column.type = column.type.as_generic()
                column.server_default = None
        metadata.create_all(destination)
        for table in metadata.sorted_tables:
            expected[table.name] = source.execute(
                select(func.count()).select_from(table)
            ).scalar_one()
            _copy_rows(source, destination, metadata, table.name)
    copy.dispose()
    return expected


def _copy_rows(source: Connection, destination: Connection, metadata: MetaData, name: str) -> None:
    table = metadata.tables[name]
    rows = source.execution_options(yield_per=ROWS_AT_ONCE).execute(select(table))
    for piece in rows.mappings().partitions():
        destination.execute(table.insert(), [dict(row) for row in piece])


def _verified(part: Path) -> dict[str, int]:
    """Read the copy from one end to the other."""
    with contextlib.closing(sqlite3.connect(part)) as copy:
        found = copy.execute("PRAGMA integrity_check(1)").fetchone()[0]
        if found != "ok":
            raise sqlite3.DatabaseError(found)
        return _counts(copy)


def _counts(connection: sqlite3.Connection) -> dict[str, int]:
    names = connection.execute(
        "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'"
    ).fetchall()
    return {
        name: connection.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0]
        for (name,) in names
    }
