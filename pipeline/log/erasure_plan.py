"""The plan of an erasure: what is deleted, what stays and why, as plain data."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal

from pipeline.core.errors import OutputError
from pipeline.log.athlete_files import cached_files, holds
from pipeline.log.record_analysis import FolderKind
from pipeline.report.manifest import (
    MANIFEST_NAME,
    Manifest,
    Origin,
    earlier_files,
    earlier_origin,
    manifest_path,
    read_manifest,
)
from pipeline.targets.entries import athlete_key

KeepReason = Literal["changed", "shared", "other_film", "unreadable", "taken_along", "holds_name"]
"""Why a file stays: it was changed after writing, it concerns another athlete too, its film is
unknown, it is unreadable, it was exported for the athlete, or the program did not write it although
it contains the athlete's name or film."""

UnreachedReason = Literal["gone", "no_disk", "unreadable"]
"""Why a folder was not searched: it is gone, its parent folder is gone too, or it is unreadable."""

SharedChoice = Literal["keep", "erase"]


TAKEN_ALONG = "athlete_export"
LARGEST_SEARCHED_BYTES = 64 * 2**20
"""Greatest size of a foreign file that is searched for a name."""

_OWN_PARTS = re.compile(rf"\.{re.escape(MANIFEST_NAME)}\.(lock|\d+\.part)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """The person whose data are erased, and the owners of the films.

    Attributes
    ----------
    name
        Name in the log, or as given.
    digests
        SHA-256 of each film of this person.
    owners
        By film, names of the other athletes for whom it is in the log.
    others
        Names of the other athletes in the log, by `athlete_key`.
    """

    name: str
    digests: frozenset[str] = frozenset()
    owners: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    others: Mapping[str, str] = field(default_factory=dict)

    @property
    def key(self) -> str:
        """The name, normalised for comparison."""
        return athlete_key(self.name)

    def is_named(self, origin: Origin) -> bool:
        """Whether a file was written for this person by name."""
        return any(athlete_key(name) == self.key for name in origin.athletes)

    def concerns(self, origin: Origin) -> bool:
        """Whether a file concerns this person: by name, or by one of their films."""
        return self.is_named(origin) or not self.digests.isdisjoint(origin.films)

    def shared_with(self, origin: Origin) -> tuple[str, ...]:
        """Return the names of the other athletes whom a file concerns too.

        For a file of a single film, a name that is not in the log counts as another spelling of
        this person's name.
        """
        keys = {athlete_key(name): name for name in origin.athletes}
        keys.pop(self.key, None)
        several = len(origin.films) != 1
        found = {key: name for key, name in keys.items() if several or key in self.others}
        if not self.is_named(origin):
            for digest in origin.films:
                found.update((athlete_key(name), name) for name in self.owners.get(digest, ()))
        return tuple(sorted(found.values()))


@dataclass(frozen=True, slots=True)
class FileToErase:
    """A file to delete if it is unchanged since planning.

    Attributes
    ----------
    path
        The file.
    size_bytes, changed_ns
        Its size and modification time at planning.
    """

    path: Path
    size_bytes: int
    changed_ns: int

    def is_as_seen(self) -> bool:
        """Whether the file exists unchanged since planning; links are not followed."""
        try:
            now = self.path.lstat()
        except FileNotFoundError:
            return False
        return (now.st_size, now.st_mtime_ns) == (self.size_bytes, self.changed_ns)


def seen_file(path: Path) -> FileToErase:
    """Record a file's current size and time; raises ``OSError`` if that fails."""
    now = path.lstat()
    return FileToErase(path, now.st_size, now.st_mtime_ns)


@dataclass(frozen=True, slots=True)
class KeptFile:
    """A file that stays, the reason, and the other athletes whom it concerns."""

    path: Path
    reason: KeepReason
    athletes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class KeptFolder:
    """A folder of results that stays, because it holds files that the program did not write."""

    path: Path
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class UnreachedFolder:
    """A folder recorded in the log that could not be searched."""

    path: Path
    kind: FolderKind
    reason: UnreachedReason


@dataclass(frozen=True, slots=True)
class SharedFilm:
    """A film that other athletes have in the log too."""

    file_name: str
    athletes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ErasurePlan:
    """Plan of an erasure.

    Attributes
    ----------
    person
        The person whose data are erased.
    athlete_id
        Their number in the log; None if the rows are deleted already.
    shared_choice
        Treatment of files that concern other athletes too.
    cleared
        Films whose corrections, examples and recorded folders are deleted: unshared ones, or all.
    files
        Files to delete.
    folders
        Folders of results with files to delete; those that the program made go once empty.
    kept, kept_folders, unreached
        Files and folders that stay, and folders that were not searched.
    shared
        Films that other athletes have in the log too.
    rows
        Number of rows of the log by table.
    n_ranges, n_corrections
        Number of entries of the ranges and their history, and of corrections.
    drills
        Names of the drills with examples from these films.
    """

    person: Subject
    athlete_id: int | None
    shared_choice: SharedChoice = "keep"
    cleared: frozenset[str] = frozenset()
    files: tuple[FileToErase, ...] = ()
    folders: tuple[Path, ...] = ()
    kept: tuple[KeptFile, ...] = ()
    kept_folders: tuple[KeptFolder, ...] = ()
    unreached: tuple[UnreachedFolder, ...] = ()
    shared: tuple[SharedFilm, ...] = ()
    rows: Mapping[str, int] = field(default_factory=dict)
    n_ranges: int = 0
    n_corrections: int = 0
    drills: tuple[str, ...] = ()

    @property
    def is_empty(self) -> bool:
        """Whether no data of the person were found."""
        return self.athlete_id is None and not (self.files or self.kept)

    @property
    def leaves_something(self) -> bool:
        """Whether data of the person may remain after the erasure."""
        return bool(self.kept) or any(one.reason != "gone" for one in self.unreached)


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundFiles:
    """Files of a folder to delete, files that stay, and the folder if it holds foreign files.

    ``is_left_over`` is true if a killed process left an empty folder, a lock, or entries of missing
    files in the manifest.
    """

    files: tuple[FileToErase, ...] = ()
    is_left_over: bool = False
    kept: tuple[KeptFile, ...] = ()
    kept_folder: KeptFolder | None = None


def why_unreached(folder: Path) -> UnreachedReason | None:
    """Return the reason why a folder cannot be searched; None if it can."""
    try:
        next(folder.iterdir(), None)
    except (FileNotFoundError, NotADirectoryError):
        return "gone" if folder.parent.is_dir() else "no_disk"
    except OSError:
        return "unreadable"
    return None


def with_named_films(person: Subject, folders: Iterable[Path]) -> set[str]:
    """Return the films of a person, including those that a manifest names for them alone.

    Parameters
    ----------
    person
        The person as in the log.
    folders
        Folders of results.
    """
    found = set(person.digests)
    for folder in folders:
        for origin in _origins(folder):
            if person.is_named(origin) and len(origin.films) == len(origin.athletes) == 1:
                found.update(origin.films)
    return found


def search_results(
    folder: Path,
    person: Subject,
    shared: SharedChoice,
    needles: Sequence[bytes],
    *,
    is_noted: bool = False,
) -> FoundFiles:
    """Search a folder of results.

    Parameters
    ----------
    folder
        A readable folder (`why_unreached`).
    person
        The person whose files are searched.
    shared
        Treatment of files that concern other athletes too.
    needles
        Bytes that identify the person in a foreign file.
    is_noted
        Whether the log records that files of this person were written there.
    """
    try:
        manifest = read_manifest(folder)
    except OutputError:
        return FoundFiles(kept=(KeptFile(manifest_path(folder), "unreadable"),))
    if manifest is None:
        found = _search_earlier(folder, person, shared, is_noted=is_noted)
        known = {one.path.name for one in found.files} | {one.path.name for one in found.kept}
    else:
        found = _search_listed(folder, manifest, person, shared)
        known = set(manifest.entries)
    strange = [path for path in sorted(folder.iterdir()) if _is_strange(path, known)]
    parts = _own_parts(folder)
    if parts or (manifest is None and is_noted and not strange and not known):
        found = replace(found, is_left_over=True)
    if not (found.files or found.kept or found.is_left_over):
        return found
    unfinished = tuple(seen_file(path) for path in parts if path.suffix == ".part")
    found = replace(found, files=found.files + unfinished)
    if not strange:
        return found
    return replace(
        found,
        kept=found.kept + tuple(_that_know(strange, found, needles)),
        kept_folder=KeptFolder(folder, tuple(path.name for path in strange)),
    )


def search_cache(folder: Path, person: Subject, shared: SharedChoice) -> FoundFiles:
    """Search a folder of kept landmarks and pictures; raises ``OSError`` if it cannot be read."""
    files, kept = [], []
    for path, digest in cached_files(folder, person.digests):
        names = person.owners.get(digest, ()) if digest else ()
        if digest is None:
            kept.append(KeptFile(path, "unreadable"))
        elif names and shared == "keep":
            kept.append(KeptFile(path, "shared", names))
        else:
            files.append(seen_file(path))
    return FoundFiles(files=tuple(files), kept=tuple(kept))


def _origins(folder: Path) -> Iterator[Origin]:
    try:
        manifest = read_manifest(folder)
    except OutputError:
        return
    if manifest is not None:
        for entry in manifest.entries.values():
            yield entry.origin
    else:
        earlier = earlier_origin(folder)
        if earlier is not None:
            yield earlier


def _search_listed(
    folder: Path, manifest: Manifest, person: Subject, shared: SharedChoice
) -> FoundFiles:
    files, kept, is_left_over = [], [], False
    for name, entry in manifest.entries.items():
        path = folder / name
        if not person.concerns(entry.origin):
            continue
        if not os.path.lexists(path):
            is_left_over = True
            continue
        names = person.shared_with(entry.origin)
        if entry.origin.made_by == TAKEN_ALONG:
            kept.append(KeptFile(path, "taken_along"))
        elif names and shared == "keep":
            kept.append(KeptFile(path, "shared", names))
        else:
            try:
                if entry.is_unchanged(path):
                    files.append(seen_file(path))
                else:
                    kept.append(KeptFile(path, "changed"))
            except OSError:
                kept.append(KeptFile(path, "unreadable"))
    return FoundFiles(files=tuple(files), kept=tuple(kept), is_left_over=is_left_over)


def _search_earlier(
    folder: Path, person: Subject, shared: SharedChoice, *, is_noted: bool
) -> FoundFiles:
    """Search a folder without a manifest, among files with names that the program gives."""
    origin = earlier_origin(folder)
    paths = earlier_files(folder)
    if origin is not None and person.concerns(origin):
        names = person.shared_with(origin)
        if names and shared == "keep":
            return FoundFiles(kept=tuple(KeptFile(path, "shared", names) for path in paths))
        return FoundFiles(files=tuple(map(seen_file, paths)))
    # reps.json may have been replaced since, so each file is searched for the film's digest.
    films = {
        digest.encode(): person.shared_with(Origin(made_by="", films=(digest,)))
        for digest in person.digests
    }
    files, kept = [], []
    for path in paths:
        named = [film for film in films if _holds(path, [film])]
        others = tuple(sorted({name for film in named for name in films[film]}))
        if named and others and shared == "keep":
            kept.append(KeptFile(path, "shared", others))
        elif named:
            files.append(seen_file(path))
        elif is_noted and origin is None:
            kept.append(KeptFile(path, "other_film"))
    return FoundFiles(files=tuple(files), kept=tuple(kept))


def _own_parts(folder: Path) -> list[Path]:
    """List temporary files and locks of the manifest that a killed process left."""
    return [path for path in sorted(folder.iterdir()) if _OWN_PARTS.fullmatch(path.name)]


def _is_strange(path: Path, known: set[str]) -> bool:
    """Whether the program wrote neither this file nor this folder."""
    is_own = path.name in (MANIFEST_NAME, ".cache") or _OWN_PARTS.fullmatch(path.name)
    return not is_own and path.name not in known and not manifest_path(path).is_file()


def _that_know(
    paths: Sequence[Path], found: FoundFiles, needles: Sequence[bytes]
) -> Iterator[KeptFile]:
    listed = {one.path for one in found.kept}
    for path in paths:
        is_plain = path.is_file() and not path.is_symlink()
        if is_plain and path not in listed and _holds(path, needles):
            yield KeptFile(path, "holds_name")


def _holds(path: Path, needles: Sequence[bytes]) -> bool:
    """Whether a readable file of limited size contains any of the needles."""
    try:
        if path.stat().st_size > LARGEST_SEARCHED_BYTES:
            return False
        return holds(path.read_bytes(), path, needles)
    except OSError:
        return False
