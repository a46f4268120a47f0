"""Finds everything that is known of a person, in the log and in folders, before it is erased."""

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
"""Names shorter than this stand in many files by chance, so that a search for them says nothing."""

FolderAddress = tuple[FolderKind, Path]


@dataclass(frozen=True, slots=True, kw_only=True)
class _KnownTraces:
    """What the log says: rows of the person, and folders of theirs and of everybody."""

    athlete: Athlete | None
    tables: Mapping[str, Sequence[Mapping[str, Any]]]
    person: Subject
    own: frozenset[FolderAddress]
    all: frozenset[FolderAddress]
    film_of_others: frozenset[str]


def plan_erasure(store: TrainingLog, name: str, shared: SharedChoice = "keep") -> ErasurePlan:
    """Find what erasing an athlete would take away and leave; nothing is changed.

    Parameters
    ----------
    store
        The open log.
    name
        Of the athlete. One who is not in the log is searched for by name, so that an erasure that
        was broken off, or a folder that could not be reached, can be finished.
    shared
        What is to be done with files that are of other athletes too.

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
    """Give what a file that still knows a person would hold: the name, films of theirs alone."""
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
    """Whether a noted folder is an athlete's own.

    One without film and athlete could not be reached when its athlete was erased; it is of anybody
    who is not in the log any more.
    """
    if row["athlete_id"] is None and row["file_digest"] is None:
        return number is None
    return number is not None and row["athlete_id"] == number


@dataclass(frozen=True, slots=True)
class _Place:
    """Where one analysis of a film left what it made."""

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
    """List all folders of results that are known, with what lies above and beside the person's."""
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
    """Search the folders of landmarks that are known, and those in their usual place."""
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
    """List comparisons without a list of files: only their names say which films they show."""
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
