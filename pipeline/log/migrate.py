"""Migrates a training log to the newest schema, after a backup."""

from __future__ import annotations

import contextlib
import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timezone
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import URL, Connection, Engine, MetaData, create_engine, func, inspect, select, text
from sqlalchemy.pool import NullPool

from pipeline.core.errors import LogError, NewerLog, OutputError
from pipeline.core.files import made_folder
from pipeline.log.location import file_of, shown
from pipeline.log.schema import HEAD

if TYPE_CHECKING:
    from alembic.config import Config

ROWS_AT_ONCE = 5_000


def copy_database(engine: Engine, url: URL, target: Path) -> dict[str, int]:
    """Copy a whole database into one SQLite file while it stays in use.

    A database on a server is copied into a SQLite file too, which can serve as a training log.

    Parameters
    ----------
    engine, url
        Of the database.
    target
        The file; it must not exist yet.

    Returns
    -------
    dict
        Number of copied rows by table.

    Raises
    ------
    OutputError
        The file exists or cannot be written, or the copy is incomplete.
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
        old.execute("BEGIN")  # rows are counted and copied in one state
        expected = _counts(old)
        old.backup(new)
        new.execute("PRAGMA journal_mode = DELETE").close()  # no files beside the copy
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
    """Check the integrity of the copy and count its rows by table."""
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


SCRIPTS = Path(__file__).parent / "migrations"
LOCK_NUMBER = 7_120_318
"""Number of the server's advisory lock for migrations; the value is arbitrary."""


def to_newest(engine: Engine, url: URL) -> Path | None:
    """Create the tables, or migrate an older log to the newest schema.

    All steps are one transaction: a program killed midway leaves the log unchanged.

    Parameters
    ----------
    engine, url
        Of the database.

    Returns
    -------
    pathlib.Path or None
        The backup made before the migration; None if none was needed.

    Raises
    ------
    NewerLog
        A newer version of the program wrote the log; nothing is changed.
    LogError
        The database has tables that are not of a training log.
    OutputError
        The backup cannot be written.
    """
    with engine.connect() as connection:
        found = schema_version(connection, url)
    if found == HEAD:
        return None
    _refuse_newer(found, url)
    backup = None if found is None else _backup(engine, url, found)
    with engine.execution_options(immediate=True).begin() as connection:
        if connection.dialect.name == "postgresql":
            connection.execute(text("SELECT pg_advisory_xact_lock(:n)"), {"n": LOCK_NUMBER})
        # Another program may have migrated the log in the meantime.
        if schema_version(connection, url) == found:
            migrate(connection)
    return backup


def migrate(connection: Connection, to: str = "head") -> None:
    """Run the missing migrations within the connection's transaction."""
    from alembic import command

    with _config(connection) as config:
        command.upgrade(config, to)


def schema_version(connection: Connection, url: URL) -> str | None:
    """Return the newest migration applied to a database; None for an empty database.

    Raises
    ------
    LogError
        The database has tables that are not of a training log.
    """
    tables = set(inspect(connection).get_table_names())
    if "alembic_version" not in tables:
        if tables:
            raise LogError.of("not_a_training_log", place=shown(url))
        return None
    found = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    return None if found is None else str(found)


def _refuse_newer(found: str | None, url: URL) -> None:
    from alembic.script import ScriptDirectory

    known = {script.revision for script in ScriptDirectory(str(SCRIPTS)).walk_revisions()}
    if found is not None and found not in known:
        raise NewerLog.of("newer_log", place=shown(url), form=found, known=HEAD)


def _backup(engine: Engine, url: URL, found: str) -> Path:
    path = file_of(url)
    now = datetime.now(tz=timezone.utc).strftime("%Y%m%dT%H%M%SZ")
    folder = made_folder() if path is None else path.parent
    stem = "training_log" if path is None else path.stem
    target = folder / f"{stem}.form{found}.{now}.backup.sqlite3"
    copy_database(engine, url, target)
    return target


@contextmanager
def _config(connection: Connection) -> Iterator[Config]:
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(SCRIPTS).replace("%", "%%"))
    config.attributes["connection"] = connection
    yield config
