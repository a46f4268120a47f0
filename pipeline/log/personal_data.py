"""Exports all data of an athlete into a folder, or erases them by a plan.

Erasing takes files first and rows last, so that a second run finishes what was interrupted.
"""

from __future__ import annotations

import csv
import io
import json
import os
import shutil
import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from contextlib import closing, suppress
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, delete, or_, select, text

from pipeline.core.errors import CrossemetryError, LogError, OutputError
from pipeline.core.files import data_folder
from pipeline.log import athlete_files
from pipeline.log.athlete_files import TRACKS
from pipeline.log.athletes import find_athlete
from pipeline.log.erasure_plan import TAKEN_ALONG, ErasurePlan, FileToErase, SharedChoice, Subject
from pipeline.log.erasure_search import plan_erasure, search_needles
from pipeline.log.queries import everything_of
from pipeline.log.record_analysis import FolderKind, note_folders
from pipeline.log.rep_edits import REP_CHANGES
from pipeline.log.schema import (
    ATHLETES,
    BY_ATHLETE,
    CLIPS,
    FILM_FOLDERS,
    FLAGS,
    JOBS,
    MEASURES,
    REVIEW_MARKS,
    TARGET_VERSIONS,
)
from pipeline.report.manifest import (
    Origin,
    changing_manifest,
    manifest_path,
    read_manifest,
    recorded_file,
    save_manifest,
    write_recorded,
)

if TYPE_CHECKING:
    from pipeline.log.store import TrainingLog

SCHEMA_NAME = "crossemetry.athlete/1"


def export_athlete(store: TrainingLog, name: str, folder: Path) -> Path:
    """Write all data of an athlete into a folder, in open formats.

    ``athlete.json`` holds the data of the log. Beside it are a CSV per table, the reports of the
    athlete's films, and the cached landmarks (NumPy).

    Parameters
    ----------
    store
        The open log.
    name
        Name of the athlete.
    folder
        Created if needed; an existing folder must be empty.

    Returns
    -------
    pathlib.Path
        ``athlete.json``.

    Raises
    ------
    LogError
        There is no such athlete.
    OutputError
        The folder cannot be written to, or is not empty.
    """
    with store.reading() as connection:
        athlete = find_athlete(connection, name)
        tables = everything_of(connection, athlete)
    plan = plan_erasure(store, name)
    digests = set(plan.person.digests)
    document = {
        "schema": SCHEMA_NAME,
        "name": athlete.name,
        "log": tables,
        "ranges": athlete_files.own_ranges(athlete.name),
        "corrections": athlete_files.own_corrections(digests),
        "drills_with_examples": athlete_files.drills_with(digests),
    }
    whole = json.dumps(document, indent=2, ensure_ascii=False, default=_plain_value)
    contents = {f"{table}.csv": [_csv(rows)] for table, rows in tables.items() if rows}
    contents["athlete.json"] = [whole.encode("utf-8")]
    origin = Origin(made_by=TAKEN_ALONG, athletes=(athlete.name,))
    try:
        if folder.exists() and any(folder.iterdir()):
            raise OutputError.of("folder_not_empty", folder=folder)
        with store.writing() as connection:
            note_folders(connection, {"results": folder}, file_digest=None, athlete=athlete.name)
        for source in plan.files:
            if source.path.parent in plan.folders:
                _copy(source.path, folder / "results" / source.path.parent.name, origin)
        for source in plan_erasure(store, name, "erase").files:
            if source.path.name.endswith(TRACKS):
                _copy(source.path, folder / "landmarks", origin)
        write_recorded(folder, contents, origin)
    except OSError as error:
        why = error.strerror or str(error)
        raise OutputError.of("athletes_data_not_written", folder=folder, why=why) from error
    return folder / "athlete.json"


def _copy(source: Path, folder: Path, origin: Origin) -> None:
    with recorded_file(folder / source.name, origin) as part:
        shutil.copy2(source, part)


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Erased:
    """Result of an erasure.

    Attributes
    ----------
    plan
        The plan, which lists what stayed and why.
    n_files
        Number of deleted files.
    n_ranges, n_corrections
        Number of removed entries of the ranges and their history, and of corrections.
    drills_shortened, drills_forgotten
        Drills that lost examples, and drills deleted for lack of examples.
    backups
        Backups from which the athlete was removed too.
    left
        Files of the data folder that still contain the name or a film's digest.
    """

    plan: ErasurePlan
    n_files: int
    n_ranges: int
    n_corrections: int
    drills_shortened: Sequence[str]
    drills_forgotten: Sequence[str]
    backups: Sequence[Path]
    left: Sequence[Path]

    @property
    def leaves_something(self) -> bool:
        """Whether data of the athlete may remain."""
        return self.plan.leaves_something or bool(self.left)


def erase_athlete(store: TrainingLog, name: str, shared: SharedChoice = "keep") -> Erased:
    """Erase an athlete's data: `plan_erasure`, then `erase`.

    Raises
    ------
    LogError
        The athlete is unknown.
    CrossemetryError
        Something cannot be removed; the rows of the log then remain.
    """
    return erase(store, plan_erasure(store, name, shared))


def erase(store: TrainingLog, plan: ErasurePlan) -> Erased:
    """Carry out a plan: files, ranges, corrections, examples, backups, and last the rows.

    A file that was changed after planning stays. An interrupted erasure is resumed with a new plan.

    Parameters
    ----------
    store
        The open log.
    plan
        A recent plan.

    Raises
    ------
    LogError
        The athlete is unknown, or a file cannot be deleted.
    CrossemetryError
        Something else cannot be removed. The rows of the log remain in both cases.
    """
    if plan.is_empty:
        # An earlier run may have been killed after deleting the rows, before this rewrite.
        _rewrite(store)
        refuse_unknown(store, plan)
    n_files = _erase_files(plan)
    name, cleared = plan.person.name, set(plan.cleared)
    n_ranges = athlete_files.remove_ranges(name)
    n_corrections = athlete_files.remove_corrections(cleared)
    shortened, forgotten = athlete_files.remove_examples(cleared)
    backups = _erase_in_backups(store, plan)
    with store.writing() as connection:
        unreached = {one.path: one.kind for one in plan.unreached if one.reason != "gone"}
        _forget_folders(connection, plan.athlete_id, cleared, unreached)
        connection.execute(delete(ATHLETES).where(ATHLETES.c.id == plan.athlete_id))
        used = select(CLIPS.c.targets).where(CLIPS.c.targets.is_not(None))
        connection.execute(delete(TARGET_VERSIONS).where(TARGET_VERSIONS.c.digest.not_in(used)))
    _rewrite(store)
    return Erased(
        plan=plan,
        n_files=n_files,
        n_ranges=n_ranges,
        n_corrections=n_corrections,
        drills_shortened=shortened,
        drills_forgotten=forgotten,
        backups=backups,
        left=athlete_files.files_that_hold(search_needles(plan.person)),
    )


def refuse_unknown(store: TrainingLog, plan: ErasurePlan) -> None:
    """Raise `LogError` with the nearest known name if nothing of a person was found."""
    if plan.is_empty:
        with store.reading() as connection:
            find_athlete(connection, plan.person.name)


def _erase_files(plan: ErasurePlan) -> int:
    """Delete all files of a plan, those of a folder with a manifest under its lock.

    Returns the number of files. The first error is raised after all other files are deleted.
    """
    rest = {one.path: one for one in plan.files}
    problems: list[CrossemetryError] = []
    n_files = 0
    for folder in plan.folders:
        own = [rest.pop(path) for path in list(rest) if path.parent == folder]
        n_files += _erase_in_folder(folder, own, plan.person, problems)
    n_files += _unlinked(rest.values(), problems)
    if problems:
        raise problems[0]
    return n_files


def _erase_in_folder(
    folder: Path,
    files: Sequence[FileToErase],
    person: Subject,
    problems: list[CrossemetryError],
) -> int:
    n_files = 0
    try:
        with changing_manifest(folder):
            manifest = read_manifest(folder)
            n_files = _unlinked(files, problems)
            if manifest is not None:
                entries = {
                    name: entry
                    for name, entry in manifest.entries.items()
                    if not person.concerns(entry.origin) or os.path.lexists(folder / name)
                }
                # The note on a finished analysis holds the name and what the report advised.
                save_manifest(folder, replace(manifest, entries=entries, finished=None))
    except OSError as error:
        problems.append(_not_taken_away(error))
    except OutputError as error:
        problems.append(error)
    else:
        if manifest is None or manifest.made_folder:
            with suppress(OSError):  # the folder is not empty
                folder.rmdir()
    return n_files


def _unlinked(files: Iterable[FileToErase], problems: list[CrossemetryError]) -> int:
    n_files = 0
    for one in files:
        try:
            if one.is_as_seen():
                one.path.unlink()
                n_files += 1
        except OSError as error:
            problems.append(_not_taken_away(error))
    return n_files


def _not_taken_away(error: OSError) -> LogError:
    return LogError.of("not_taken_away", file=error.filename, why=error.strerror)


def _rewrite(store: TrainingLog) -> None:
    """Rewrite the whole database, so that its files contain no deleted data."""
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


def _forget_folders(
    connection: Connection,
    athlete_id: int | None,
    digests: Iterable[str],
    unreached: Mapping[Path, FolderKind],
) -> None:
    """Delete the recorded folders of an athlete and of films, except unreachable ones.

    The path of an unreachable folder stays without a name, so that a later erasure searches it. It
    is deleted once nothing of the program is left in that folder.
    """
    of_films = FILM_FOLDERS.c.file_digest.in_(list(digests))
    of_athlete = FILM_FOLDERS.c.athlete_id == athlete_id
    about = of_films if athlete_id is None else or_(of_films, of_athlete)
    connection.execute(delete(FILM_FOLDERS).where(about))
    alone = (FILM_FOLDERS.c.file_digest.is_(None), FILM_FOLDERS.c.athlete_id.is_(None))
    query = select(FILM_FOLDERS.c.id, FILM_FOLDERS.c.path).where(*alone)
    for number, path in connection.execute(query).all():
        folder = Path(path)
        if (
            folder not in unreached
            and folder.parent.is_dir()
            and not manifest_path(folder).exists()
        ):
            connection.execute(delete(FILM_FOLDERS).where(FILM_FOLDERS.c.id == number))
    for folder, kind in unreached.items():
        note_folders(connection, {kind: folder}, file_digest=None, athlete=None)


def _erase_in_backups(store: TrainingLog, plan: ErasurePlan) -> list[Path]:
    """Delete the athlete from the backups made before migrations; returns the changed backups."""
    folders = {data_folder(), *([] if store.path is None else [store.path.parent])}
    found = []
    for path in sorted(p for folder in folders for p in folder.glob("*.backup.sqlite3")):
        with closing(sqlite3.connect(path, isolation_level=None)) as backup:
            backup.execute("PRAGMA foreign_keys = ON")
            backup.execute("PRAGMA secure_delete = ON")
            gone = backup.execute("DELETE FROM athletes WHERE name_key = ?", (plan.person.key,))
            n_gone = gone.rowcount
            query = "SELECT count(*) FROM sqlite_master WHERE name = 'film_folders'"
            if backup.execute(query).fetchone()[0]:
                for digest in plan.cleared:
                    n_gone += backup.execute(
                        "DELETE FROM film_folders WHERE file_digest = ?", (digest,)
                    ).rowcount
            if n_gone:
                backup.execute("VACUUM")
                found.append(path)
    return found
