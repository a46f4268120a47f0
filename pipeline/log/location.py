"""The address of the training log's database: found, checked, and shown without password."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.core.errors import LogError
from pipeline.core.files import data_folder

if TYPE_CHECKING:
    from sqlalchemy import URL

VARIABLE = "CROSSEMETRY_DATABASE"
"""Environment variable with the address of another database."""

FILE_NAME = "training_log.sqlite3"
DRIVERS = {"sqlite": "sqlite", "postgresql": "postgresql+psycopg", "postgres": "postgresql+psycopg"}


def log_path() -> Path:
    """Return the default file of the log; it may not exist yet."""
    return data_folder() / FILE_NAME


def log_url(named: str | None = None) -> URL:
    """Return the address of the database.

    Parameters
    ----------
    named
        Address as typed; None = the one in `VARIABLE`, else the file in the data folder.

    Raises
    ------
    LogError
        The address is invalid, or the log does not support that database.
    """
    from sqlalchemy import URL, make_url
    from sqlalchemy.exc import ArgumentError

    named = named or os.environ.get(VARIABLE) or None
    if named is None:
        return URL.create("sqlite", database=str(log_path()))
    try:
        url = make_url(named)
    except ArgumentError:
        url = None
    known = None if url is None else url.drivername.partition("+")[0]
    if url is None or known not in DRIVERS or not url.database:
        # The typed address may hold a password, so the message does not repeat it.
        raise LogError.of("no_database_address")
    if known == "sqlite" and url.database == ":memory:":
        raise LogError.of("log_in_memory")
    return url.set(drivername=DRIVERS[known])


def log_file(named: str | None = None) -> Path | None:
    """Return the file of the log; None for a database on a server.

    As `file_of` of `log_url`, which loads the database library even for the default file.

    Parameters
    ----------
    named
        As for `log_url`.

    Raises
    ------
    LogError
        As for `log_url`.
    """
    named = named or os.environ.get(VARIABLE) or None
    return log_path() if named is None else file_of(log_url(named))


def file_of(url: URL) -> Path | None:
    """Return the file of the database; None for a database on a server."""
    return Path(url.database) if url.drivername == "sqlite" and url.database else None


def shown(url: URL) -> str:
    """Return the address for display: the file, or the server's address without password."""
    path = file_of(url)
    return url.render_as_string(hide_password=True) if path is None else str(path)
