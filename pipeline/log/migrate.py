"""Brings a training log of an older version into the newest form, after a backup."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timezone
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import Connection, Engine, inspect, text

from pipeline.core.data_folder import made_folder
from pipeline.core.errors import LogError, NewerLog
from pipeline.log.copy_database import copy_database
from pipeline.log.location import file_of, shown
from pipeline.log.schema import HEAD

if TYPE_CHECKING:
    from alembic.config import Config
    from sqlalchemy import URL

SCRIPTS = Path(__file__).parent / "migrations"
LOCK_NUMBER = 7_120_318
"""Of the lock under which a server lets one program at a time migrate; any number would do."""


def to_newest(engine: Engine, url: URL) -> Path | None:
    """Make the tables, or bring those of an older version into the newest form.

    All steps are one transaction: a program that is killed on the way leaves the log as it was.

    Parameters
    ----------
    engine, url
        Of the database.

    Returns
    -------
    pathlib.Path or None
        The backup that was made first; None where none was needed.

    Raises
    ------
    NewerLog
        A newer version of the program made it. Nothing is changed then.
    LogError
        There are tables in the database which are not of a training log.
    OutputError
        The backup cannot be written.
    """
    with engine.connect() as connection:
        found = form_of(connection, url)
    if found == HEAD:
        return None
    _refuse_newer(found, url)
    backup = None if found is None else _backup(engine, url, found)
    with engine.execution_options(immediate=True).begin() as connection:
        if connection.dialect.name == "postgresql":
            connection.execute(text("SELECT pg_advisory_xact_lock(:n)"), {"n": LOCK_NUMBER})
        # Another program may have done it in the meantime.
        if form_of(connection, url) == found:
            migrate(connection)
    return backup


def migrate(connection: Connection, to: str = "head") -> None:
    """Run the migrations that are missing, within the connection's transaction."""
    from alembic import command

    with _config(connection) as config:
        command.upgrade(config, to)


def form_of(connection: Connection, url: URL) -> str | None:
    """Name of the newest migration that a database has had; None for an empty database.

    Raises
    ------
    LogError
        There are tables in it, and they are not of a training log.
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
