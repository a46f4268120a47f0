"""Finds all data of a person, in the log and in folders, and plans their erasure."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, select

from pipeline.core.files import data_folder
from pipeline.log import athlete_files
from pipeline.log.athlete_files import added_film
from pipeline.log.athletes import Athlete, known_athlete
from pipeline.log.erasure_plan import (
    ErasurePlan,
    FoundFiles,
    KeptFile,
    SharedChoice,
    SharedFilm,
    Subject,
    UnreachedFolder,
    search_cache,
    search_results,
    seen_file,
    why_unreached,
    with_named_films,
)
from pipeline.log.queries import everything_of
from pipeline.log.record_analysis import FolderKind
from pipeline.log.schema import ATHLETES, CLIPS, FILM_FOLDERS
from pipeline.report.manifest import manifest_path
from pipeline.targets.entries import athlete_key

if TYPE_CHECKING:
    from pipeline.log.store import TrainingLog

SHORTEST_SEARCHED = 4
"""Shortest name to search for: shorter names occur in many files by chance."""

FolderAddress = tuple[FolderKind, Path]


@dataclass(frozen=True, slots=True, kw_only=True)
class _KnownTraces:
    """Data of the log: rows of the person, folders of the person, and folders of everybody."""

    athlete: Athlete | None
    tables: Mapping[str, Sequence[Mapping[str, Any]]]
    person: Subject
    own: frozenset[FolderAddress]
    all: frozenset[FolderAddress]
    film_of_others: frozenset[str]


def plan_erasure(store: TrainingLog, name: str, shared: SharedChoice = "keep") -> ErasurePlan:
    """Plan the erasure of an athlete's data, without changing anything.

    Parameters
    ----------
    store
        The open log.
    name
        Name of the athlete. If it is not in the log, files are searched by name, so that an
        interrupted erasure or one with an unreachable folder can be completed.
    shared
        Treatment of files that concern other athletes too.

    Raises
    ------
    CrossemetryError
        The log, the ranges, the corrections or a drill cannot be read.
    """
    with store.reading() as connection:
        noted = _noted(connection, name)
    unreached = {}
    for kind, folder in sorted(noted.own, key=str):
        why = why_unreached(folder)
        if why is not None:
            unreached[folder] = UnreachedFolder(folder, kind, why)
    results = [folder for folder in _result_folders(noted) if why_unreached(folder) is None]
    person = noted.person
    person = replace(person, digests=frozenset(with_named_films(person, results)))
    unshared = frozenset(d for d in person.digests if not person.owners.get(d))
    cleared = unshared if shared == "keep" else person.digests
    needles = search_needles(person)
    noted_paths = {folder for _, folder in noted.own}
    by_folder = {
        folder: search_results(folder, person, shared, needles, is_noted=folder in noted_paths)
        for folder in results
    }
    found = [*by_folder.values(), *_searched_caches(noted, person, shared, unreached)]
    added = [
        seen_file(path)
        for path in added_film([*noted.tables.get("clips", ()), *noted.tables.get("jobs", ())])
        if str(path) not in noted.film_of_others
    ]
    kept = [one for each in found for one in each.kept]
    kept += _earlier_comparisons(noted, results, {one.path for one in kept})
    return ErasurePlan(
        person=person,
        athlete_id=None if noted.athlete is None else noted.athlete.id,
        shared_choice=shared,
        cleared=cleared,
        files=tuple(one for each in found for one in each.files) + tuple(added),
        folders=tuple(
            folder for folder, each in by_folder.items() if each.files or each.is_left_over
        ),
        kept=tuple(kept),
        kept_folders=tuple(each.kept_folder for each in found if each.kept_folder is not None),
        unreached=tuple(unreached.values()),
        shared=_shared_films(noted.tables.get("clips", ()), person),
        rows={table: len(rows) for table, rows in noted.tables.items() if rows},
        n_ranges=len(athlete_files.own_ranges(person.name)),
        n_corrections=len(athlete_files.own_corrections(set(cleared))),
        drills=tuple(athlete_files.drills_with(set(cleared))),
    )


def search_needles(person: Subject) -> list[bytes]:
    """Return bytes that identify a person in a file: the name, and digests of unshared films."""
    found = [digest.encode() for digest in person.digests if not person.owners.get(digest)]
    if len(person.name) >= SHORTEST_SEARCHED:
        found += [person.name.encode("utf-8"), json.dumps(person.name)[1:-1].encode("ascii")]
    return found


def _noted(connection: Connection, name: str) -> _KnownTraces:
    athlete = known_athlete(connection, name)
    number = None if athlete is None else athlete.id
    query = select(CLIPS, ATHLETES.c.name.label("athlete")).join(ATHLETES)
    clips = connection.execute(query).mappings().all()
    noted = connection.execute(select(FILM_FOLDERS)).mappings().all()
    places = [(row, place) for row in clips for place in _places_of(row)]
    digests = {place.digest for row, place in places if row["athlete_id"] == number}
    digests |= {row["file_digest"] for row in noted if _is_of(row, number) and row["file_digest"]}
    owners: dict[str, set[str]] = {}
    for row, place in places:
        if row["athlete_id"] != number:
            owners.setdefault(place.digest, set()).add(row["athlete"])
    own: set[FolderAddress] = set()
    others: set[FolderAddress] = set()
    for row, place in places:
        (own if row["athlete_id"] == number else others).update(place.folders)
    for row in noted:
        is_own = _is_of(row, number) or row["file_digest"] in digests
        (own if is_own else others).add((row["kind"], Path(row["path"])))
    names = select(ATHLETES.c.name).where(ATHLETES.c.id.is_distinct_from(number))
    return _KnownTraces(
        athlete=athlete,
        tables={} if athlete is None else everything_of(connection, athlete),
        person=Subject(
            name=name if athlete is None else athlete.name,
            digests=frozenset(digests),
            owners={digest: tuple(sorted(whose)) for digest, whose in owners.items()},
            others={athlete_key(other): other for other in connection.execute(names).scalars()},
        ),
        own=frozenset(own),
        all=frozenset(own | others),
        film_of_others=frozenset(
            row["film_path"] for row in clips if row["athlete_id"] != number and row["film_path"]
        ),
    )


def _is_of(row: Mapping[Any, Any], number: int | None) -> bool:
    """Whether a recorded folder belongs to an athlete.

    A folder without film and athlete was unreachable when its athlete was erased. It may belong to
    any name that is not in the log.
    """
    if row["athlete_id"] is None and row["file_digest"] is None:
        return number is None
    return number is not None and row["athlete_id"] == number


@dataclass(frozen=True, slots=True)
class _Place:
    """Digest of a film and the folders of one analysis of it."""

    digest: str
    folders: tuple[FolderAddress, ...]


def _places_of(row: Mapping[Any, Any]) -> list[_Place]:
    """List the digest and the folders of each analysis of a film, from its row in the log."""
    known = [[row["file_digest"], row["results_path"], row["cache_path"]]]
    known += json.loads(row["earlier"] or "[]")
    kinds: tuple[FolderKind, FolderKind] = ("results", "cache")
    return [
        _Place(
            digest,
            tuple(
                (kind, Path(folder))
                for kind, folder in zip(kinds, folders, strict=True)
                if folder is not None
            ),
        )
        for digest, *folders in known
    ]


def _result_folders(noted: _KnownTraces) -> list[Path]:
    """List all known folders of results, and the parents and siblings of the person's folders."""
    found = {folder: None for kind, folder in sorted(noted.all, key=str) if kind == "results"}
    for kind, folder in sorted(noted.own, key=str):
        if kind != "results" or why_unreached(folder.parent) is not None:
            continue
        found[folder.parent] = None
        for beside in sorted(folder.parent.iterdir()):
            is_ours = manifest_path(beside).is_file() or (beside / "reps.json").is_file()
            if is_ours and not beside.is_symlink():
                found[beside] = None
    return list(found)


def _searched_caches(
    noted: _KnownTraces,
    person: Subject,
    shared: SharedChoice,
    unreached: dict[Path, UnreachedFolder],
) -> list[FoundFiles]:
    """Search the known cache folders, and those at the default places."""
    folders = {folder: None for kind, folder in sorted(noted.all, key=str) if kind == "cache"}
    for kind, folder in sorted(noted.own, key=str):
        if kind == "results":
            folders.update({folder / ".cache": None, folder.parent / ".cache": None})
    folders[data_folder() / "review" / "cache"] = None  # copies of films for a browser
    found = []
    for folder in folders:
        if folder not in unreached and why_unreached(folder) is None:
            found.append(search_cache(folder, person, shared))
    return found


def _earlier_comparisons(
    noted: _KnownTraces, results: Sequence[Path], listed: set[Path]
) -> list[KeptFile]:
    """List comparison films in folders without a manifest: only their names identify the films."""
    stems = {Path(row["file_name"]).stem for row in noted.tables.get("clips", ())}
    names = "|".join(re.escape(stem) for stem in sorted(stems) if stem)
    if not names:
        return []
    side = rf"(({names})_rep_\d+_and_.+|.+_and_({names}))_rep_\d+\.(mp4|jpg)"
    found = []
    for folder in results:
        if manifest_path(folder).is_file():
            continue
        for path in sorted(folder.iterdir()):
            if re.fullmatch(side, path.name) and path.is_file() and path not in listed:
                found.append(KeptFile(path, "other_film"))
    return found


def _shared_films(rows: Iterable[Mapping[str, Any]], person: Subject) -> tuple[SharedFilm, ...]:
    found = []
    for row in rows:
        digests = [place.digest for place in _places_of(row)]
        names = sorted({name for d in digests for name in person.owners.get(d, ())})
        if names:
            found.append(SharedFilm(row["file_name"], tuple(names)))
    return tuple(found)
