"""An athlete's own: everything that is known of them, to take along or to be forgotten."""

from __future__ import annotations

import csv
import io
import json
import shutil
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, delete, select, text

from pipeline.core.errors import LogError, OutputError
from pipeline.core.files import write_whole
from pipeline.log import athlete_files
from pipeline.log.athlete_files import added_film
from pipeline.log.athletes import Athlete, find_athlete
from pipeline.log.rep_edits import REP_CHANGES
from pipeline.log.schema import (
    ATHLETES,
    BY_ATHLETE,
    CLIPS,
    FILM_FOLDERS,
    FLAGS,
    JOBS,
    MEASURES,
    REPS,
    REVIEW_MARKS,
    TARGET_VERSIONS,
)

if TYPE_CHECKING:
    from pipeline.log.store import TrainingLog

SCHEMA_NAME = "crossemetry.athlete/1"
SHORTEST_SEARCHED = 4
"""Names shorter than this stand in many files by chance, so that a search for them says nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Erased:
    """What was taken out.

    Attributes
    ----------
    rows
        Rows of the log by table.
    n_files
        Kept landmarks, pictures and reports.
    n_ranges, n_corrections
        Entries of the ranges with their history, and corrections.
    drills_shortened, drills_forgotten
        Drills that lost examples, and those that had too few left.
    backups
        Backups in the data folder from which the athlete was taken out too.
    left
        Files of the data folder in which the name or a film's digest is still found.
    """

    rows: Mapping[str, int]
    n_files: int
    n_ranges: int
    n_corrections: int
    drills_shortened: Sequence[str]
    drills_forgotten: Sequence[str]
    backups: Sequence[Path]
    left: Sequence[Path]


def everything_of(connection: Connection, athlete: Athlete) -> dict[str, list[dict[str, Any]]]:
    """Give all rows of an athlete, by table."""
    own = select(ATHLETES).where(ATHLETES.c.id == athlete.id)
    reps = select(REPS.c.id).where(REPS.c.athlete_id == athlete.id)
    clips = select(CLIPS.c.id).where(CLIPS.c.athlete_id == athlete.id)
    versions = select(CLIPS.c.targets).where(CLIPS.c.athlete_id == athlete.id)
    queries = {
        "athletes": own,
        **{t.name: select(t).where(t.c.athlete_id == athlete.id).order_by(t.c.id)
           for t in (*BY_ATHLETE, FILM_FOLDERS, JOBS)},
        "measures": select(MEASURES).where(MEASURES.c.rep_id.in_(reps)),
        "review_marks": select(REVIEW_MARKS).where(REVIEW_MARKS.c.clip_id.in_(clips)),
        "rep_changes": select(REP_CHANGES).where(REP_CHANGES.c.clip_id.in_(clips)),
        "target_versions": select(TARGET_VERSIONS).where(TARGET_VERSIONS.c.digest.in_(versions)),
    }  # fmt: skip
    return {
        name: [dict(row) for row in connection.execute(query).mappings()]
        for name, query in queries.items()
    }


def export_athlete(store: TrainingLog, name: str, folder: Path) -> Path:
    """Write everything that is known of an athlete into a folder, in open formats.

    ``athlete.json`` holds all of it; beside it there is a CSV for each table, the reports of their
    films, and the landmarks that were kept (NumPy).

    Parameters
    ----------
    store
        The open log.
    name
        Of the athlete.
    folder
        Made; if it is there it must be empty.

    Returns
    -------
    pathlib.Path
        ``athlete.json``.

    Raises
    ------
    LogError
        There is no such athlete.
    OutputError
        The folder cannot be written to, or there is something in it.
    """
    with store.reading() as connection:
        athlete = find_athlete(connection, name)
        tables = everything_of(connection, athlete)
    places = [place for row in tables["clips"] for place in athlete_files.places_of(row)]
    digests = {place.digest for place in places}
    document = {
        "schema": SCHEMA_NAME,
        "name": athlete.name,
        "log": tables,
        "ranges": athlete_files.own_ranges(athlete.name),
        "corrections": athlete_files.own_corrections(digests),
        "drills_with_examples": athlete_files.drills_with(digests),
    }
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if any(folder.iterdir()):
            raise OutputError.of("folder_not_empty", folder=folder)
        for table, rows in tables.items():
            if rows:
                write_whole(folder / f"{table}.csv", [_csv(rows)])
        for source in athlete_files.kept_results(places):
            shutil.copytree(source, folder / "results" / source.name, dirs_exist_ok=True)
        landmarks = [
            p for p in athlete_files.kept_landmarks(places) if p.name.endswith(".tracks.npz")
        ]
        for source in landmarks:
            (folder / "landmarks").mkdir(exist_ok=True)
            shutil.copy2(source, folder / "landmarks")
        path = folder / "athlete.json"
        whole = json.dumps(document, indent=2, ensure_ascii=False, default=_plain_value)
        write_whole(path, [whole.encode("utf-8")])
    except OSError as error:
        why = error.strerror or str(error)
        raise OutputError.of("athletes_data_not_written", folder=folder, why=why) from error
    return path


def erase_athlete(store: TrainingLog, name: str) -> Erased:
    """Forget an athlete: rows, kept landmarks, reports, ranges, corrections, examples, backups.

    Files go first and rows last, so that whoever is interrupted can run it again.

    Parameters
    ----------
    store
        The open log.
    name
        Of the athlete.

    Raises
    ------
    LogError
        There is no such athlete.
    CrossemetryError
        Something cannot be taken out; the rows are then still there.
    """
    with store.reading() as connection:
        athlete = find_athlete(connection, name)
        tables = everything_of(connection, athlete)
        others = select(CLIPS.c.file_digest).where(CLIPS.c.athlete_id != athlete.id)
        shared = set(connection.execute(others).scalars())
    places = [place for row in tables["clips"] for place in athlete_files.places_of(row)]
    # A film of two athletes stays what it is for the other one.
    places = [place for place in places if place.digest not in shared]
    digests = {place.digest for place in places}
    n_files = 0
    try:
        for path in athlete_files.kept_landmarks(places):
            path.unlink()
            n_files += 1
        for folder in athlete_files.kept_results(places):
            n_files += athlete_files.remove_results(folder, digests)
        for path in added_film([*tables["clips"], *tables["jobs"]]):
            path.unlink()
            n_files += 1
    except OSError as error:
        raise LogError.of("not_taken_away", file=error.filename, why=error.strerror) from error
    n_ranges = athlete_files.remove_ranges(athlete.name)
    n_corrections = athlete_files.remove_corrections(digests)
    shortened, forgotten = athlete_files.remove_examples(digests)
    backups = _erase_in_backups(store, athlete.name)
    with store.writing() as connection:
        connection.execute(delete(ATHLETES).where(ATHLETES.c.id == athlete.id))
        used = select(CLIPS.c.targets).where(CLIPS.c.targets.is_not(None))
        connection.execute(delete(TARGET_VERSIONS).where(TARGET_VERSIONS.c.digest.not_in(used)))
    _rewrite(store)
    left = athlete_files.files_that_hold(_needles(athlete.name, digests))
    return Erased(
        rows={table: len(rows) for table, rows in tables.items() if rows},
        n_files=n_files,
        n_ranges=n_ranges,
        n_corrections=n_corrections,
        drills_shortened=shortened,
        drills_forgotten=forgotten,
        backups=backups,
        left=left,
    )


def _rewrite(store: TrainingLog) -> None:
    """Write the whole database anew, so that nothing of what was deleted is left in its files."""
    if store.path is None:
        rewritten = (ATHLETES, *BY_ATHLETE, FILM_FOLDERS, JOBS, FLAGS, MEASURES, REVIEW_MARKS,
                     REP_CHANGES)  # fmt: skip
        with store.engine.connect() as connection:
            alone = connection.execution_options(isolation_level="AUTOCOMMIT")
            for table in rewritten:
                alone.execute(text(f'VACUUM FULL "{table.name}"'))
        return
    plain = store.engine.raw_connection()  # the library would begin a transaction
    try:
        cursor = plain.cursor()
        for statement in ("VACUUM", "PRAGMA wal_checkpoint(TRUNCATE)"):
            cursor.execute(statement)
        cursor.close()
    finally:
        plain.close()


def _erase_in_backups(store: TrainingLog, name: str) -> list[Path]:
    """Take the athlete out of backups that were made before migrations."""
    import contextlib
    import sqlite3

    from pipeline.core.files import data_folder
    from pipeline.targets.entries import athlete_key

    folders = {data_folder(), *([] if store.path is None else [store.path.parent])}
    found = []
    for path in sorted(p for folder in folders for p in folder.glob("*.backup.sqlite3")):
        with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as backup:
            backup.execute("PRAGMA foreign_keys = ON")
            backup.execute("PRAGMA secure_delete = ON")
            gone = backup.execute("DELETE FROM athletes WHERE name_key = ?", (athlete_key(name),))
            if gone.rowcount:
                backup.execute("VACUUM")
                found.append(path)
    return found


def _needles(name: str, digests: set[str]) -> list[bytes]:
    """Give what a file that still knows the athlete would hold."""
    found = [digest.encode() for digest in digests]
    if len(name) >= SHORTEST_SEARCHED:
        found += [name.encode("utf-8"), json.dumps(name)[1:-1].encode("ascii")]
    return found


def _csv(rows: Sequence[Mapping[str, Any]]) -> bytes:
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, fieldnames=list(rows[0]), lineterminator="\n")
    writer.writeheader()
    for row in rows:
        writer.writerow({key: _cell(value) for key, value in row.items()})
    return out.getvalue().encode("utf-8")


def _cell(value: object) -> object:
    if isinstance(value, (date, datetime)):
        return value.isoformat()
    return json.dumps(value, ensure_ascii=False) if isinstance(value, dict) else value


def _plain_value(value: object) -> str:
    if isinstance(value, (date, datetime)):
        return value.isoformat()
    raise TypeError(type(value).__name__)
