"""Where the training log is: the address of its database, checked and made safe to show."""

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
    """File of the log where no other database is named; it may not be there yet."""
    return data_folder() / FILE_NAME


def log_url(named: str | None = None) -> URL:
    """Return the address of the database.

    Parameters
    ----------
    named
        As typed; None for `VARIABLE`, and without that for the file in the data folder.

    Raises
    ------
    LogError
        It is no address of a database that the log can be in.
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
        # What was typed may hold a password, so it is not repeated.
        raise LogError.of("no_database_address")
    if known == "sqlite" and url.database == ":memory:":
        raise LogError.of("log_in_memory")
    return url.set(drivername=DRIVERS[known])


def file_of(url: URL) -> Path | None:
    """File of the database; None for one that a server keeps."""
    return Path(url.database) if url.drivername == "sqlite" and url.database else None


def shown(url: URL) -> str:
    """Address as it may be shown: a file as such, a server without a password."""
    path = file_of(url)
    return url.render_as_string(hide_password=True) if path is None else str(path)
