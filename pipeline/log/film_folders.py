"""Folders with files about films that the program wrote, other than those in a row of `CLIPS`."""

from __future__ import annotations

from sqlalchemy import Column, Index, String, Table, Text

from pipeline.log.schema import METADATA, column_of, id_column

FILM_FOLDERS = Table(
    "film_folders",
    METADATA,
    id_column(),
    column_of("athletes", nullable=True),
    Column("file_digest", String(64)),
    Column("kind", String(10), nullable=False),
    Column("path", Text, nullable=False),
    Index("ix_film_folders_athlete_id", "athlete_id"),
    Index("ix_film_folders_file_digest", "file_digest"),
)
"""Folders in which the program wrote files about a film, other than those of `CLIPS`. ``kind`` is
results or cache. No athlete = none was named; no digest = a folder that could not be reached when
its athlete was forgotten."""
