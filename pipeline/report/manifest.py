"""Writes result files, and records them in the folder's manifest.

The manifest is written before a file takes its final name. So a killed program never leaves a file
about a person that is not recorded.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

from pipeline.core.errors import OutputError
from pipeline.core.files import locked, write_whole
from pipeline.core.results import Analysis
from pipeline.film.container import file_digest

EARLIER_VERSION = "earlier_version"
EARLIER_NAMES = re.compile(
    r"report\.html|reps\.json|reps\.csv|rep_\d{2,}\.(jpg|png)|overlay\.mp4|joints\.c3d"
    r"|(reps|measures|keypoints|joints)\.parquet"
)
"""Names of files in a film's folder written by versions without a manifest."""

MANIFEST_NAME = "crossemetry-files.json"
SCHEMA_NAME = "crossemetry.files/1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Origin:
    """Origin of a file.

    Attributes
    ----------
    made_by
        Writer: report, overlay, export, compare, volume, athlete_export or earlier_version.
    films
        SHA-256 of each film that it shows.
    athletes
        Names of the athletes as given; empty if none was named.
    """

    made_by: str
    films: tuple[str, ...] = ()
    athletes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Stamp:
    """Size in bytes and SHA-256 of a file's content."""

    size_bytes: int
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """A file in the manifest.

    Attributes
    ----------
    origin
        Origin of the file.
    stamp
        Stamp of its content; None while a temporary file is being written.
    before
        Stamp of the content that is being replaced; None otherwise.
    """

    origin: Origin
    stamp: Stamp | None
    before: Stamp | None = None

    def is_unchanged(self, path: Path) -> bool:
        """Whether a file is unchanged since the program wrote it; a link never is.

        Raises
        ------
        OSError
            The file is unreadable.
        """
        if path.is_symlink() or not path.is_file():
            return False
        known = [stamp for stamp in (self.stamp, self.before) if stamp is not None]
        if self.stamp is None:
            return True  # the name contains the process number, so the program made it
        size_bytes = path.stat().st_size
        return any(stamp.size_bytes == size_bytes for stamp in known) and stamp_of(path) in known


@dataclass(frozen=True, slots=True)
class Finished:
    """A whole analysis: its results are in the folder, and what belongs into the log is there.

    Attributes
    ----------
    film, work
        SHA-256 of the film, and of all else that decides the results.
    program
        Version of the program.
    row
        Row of the clip in an index, as plain values; not compared.
    """

    film: str
    work: str
    program: str
    row: Mapping[str, Any] = field(default_factory=dict, compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Manifest:
    """All files that the program wrote into one folder.

    Attributes
    ----------
    entries
        Entries by plain file name.
    made_folder
        Whether the program created the folder, and so may delete it once empty.
    finished
        The analysis whose results are whole in the folder; None while they are written.
    """

    entries: Mapping[str, Entry] = field(default_factory=dict)
    made_folder: bool = False
    finished: Finished | None = None


def stamp_of(path: Path) -> Stamp:
    """Return size and digest of a file."""
    return Stamp(path.stat().st_size, file_digest(path))


def manifest_path(folder: Path) -> Path:
    """Return the path of a folder's manifest."""
    return folder / MANIFEST_NAME


def read_manifest(folder: Path) -> Manifest | None:
    """Read the manifest of a folder; None if the folder has none.

    Raises
    ------
    OutputError
        The manifest cannot be read or is invalid.
    """
    path = manifest_path(folder)
    try:
        text = path.read_text(encoding="utf-8")
    except (FileNotFoundError, NotADirectoryError):
        return None
    except (OSError, UnicodeDecodeError) as error:
        raise OutputError.of("manifest_unreadable", file=path, why=str(error)) from error
    try:
        document = json.loads(text)
        if document["schema"] != SCHEMA_NAME:
            raise ValueError(document["schema"])
        entries = {_plain_name(name): _entry(entry) for name, entry in document["files"].items()}
        finished = document.get("finished")
        return Manifest(
            entries=entries,
            made_folder=bool(document["made_folder"]),
            finished=None if finished is None else Finished(**finished),
        )
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise OutputError.of("manifest_unreadable", file=path, why=repr(error)) from error


def save_manifest(folder: Path, manifest: Manifest) -> None:
    """Write the manifest of a folder atomically, or delete it if it has no entries.

    Raises
    ------
    OSError
        The folder cannot be written to.
    """
    path = manifest_path(folder)
    if not manifest.entries:
        path.unlink(missing_ok=True)
        return
    document: dict[str, Any] = {
        "schema": SCHEMA_NAME,
        "made_folder": manifest.made_folder,
        "files": {name: _document(entry) for name, entry in sorted(manifest.entries.items())},
    }
    if manifest.finished is not None:
        document["finished"] = asdict(manifest.finished)
    text = json.dumps(document, indent=1, ensure_ascii=False) + "\n"
    write_whole(path, [text.encode("utf-8")])


@contextmanager
def changing_manifest(folder: Path) -> Iterator[None]:
    """Hold the lock on a folder's manifest; the lock file is deleted afterwards.

    Raises
    ------
    OutputError
        Another program holds the lock, or the folder cannot be written to.
    """
    with locked(manifest_path(folder), keep=False):
        yield


def mark_finished(folder: Path, finished: Finished | None) -> None:
    """Note in a folder's manifest that an analysis is whole, or that it is not any more.

    Raises
    ------
    OSError, OutputError
        The manifest cannot be written to.
    """
    if not manifest_path(folder).exists():
        return
    with changing_manifest(folder):
        known = read_manifest(folder)
        if known is not None and known.finished is not finished:
            save_manifest(folder, replace(known, finished=finished))


def finished_row(folder: Path, wanted: Finished) -> Mapping[str, Any] | None:
    """Return the row of a whole analysis in a folder; None if it must be computed.

    Each file of the analysis must be there in its recorded size.
    """
    try:
        known = read_manifest(folder)
        if known is None or known.finished != wanted:
            return None
        for name, entry in known.entries.items():
            if wanted.film not in entry.origin.films or entry.stamp is None:
                continue
            if (folder / name).stat().st_size != entry.stamp.size_bytes:
                return None
    except (OSError, OutputError):
        return None
    return known.finished.row


def _entry(document: Mapping[str, Any]) -> Entry:
    origin = Origin(
        made_by=str(document["made_by"]),
        films=tuple(map(str, document["films"])),
        athletes=tuple(map(str, document["athletes"])),
    )
    stamp, before = _stamp(document["content"]), _stamp(document.get("before"))
    return Entry(origin=origin, stamp=stamp, before=before)


def _stamp(document: Mapping[str, Any] | None) -> Stamp | None:
    if document is None:
        return None
    return Stamp(int(document["size_bytes"]), str(document["sha256"]))


def _document(entry: Entry) -> dict[str, Any]:
    def stamp(one: Stamp | None) -> dict[str, Any] | None:
        return None if one is None else {"size_bytes": one.size_bytes, "sha256": one.sha256}

    document: dict[str, Any] = {
        "made_by": entry.origin.made_by,
        "films": list(entry.origin.films),
        "athletes": list(entry.origin.athletes),
        "content": stamp(entry.stamp),
    }
    if entry.before is not None:
        document["before"] = stamp(entry.before)
    return document


def _plain_name(name: str) -> str:
    if name in ("", ".", "..") or "/" in name or "\\" in name or "\0" in name:
        raise ValueError(name)
    return name


def make_folder(folder: Path) -> bool:
    """Create a folder and its parents; returns whether the folder is new.

    Raises
    ------
    OSError
        The folder cannot be created.
    """
    with suppress(FileExistsError):
        folder.parent.mkdir(parents=True, exist_ok=True)
        folder.mkdir()
        return True
    folder.mkdir(exist_ok=True)  # an error where a file is in the way
    return False


def origin_of(made_by: str, *analyses: Analysis) -> Origin:
    """Return the origin of a file that shows these analyses, each film and name once."""
    return Origin(
        made_by=made_by,
        films=tuple(dict.fromkeys(one.clip.digest for one in analyses)),
        athletes=tuple(dict.fromkeys(one.athlete for one in analyses if one.athlete is not None)),
    )


def write_recorded(
    folder: Path,
    contents: Mapping[str, Iterable[bytes]],
    origin: Origin,
    *,
    obsolete: Callable[[str], bool] = lambda name: False,
) -> list[Path]:
    """Write files into a folder, each atomically, and record them in its manifest.

    Parameters
    ----------
    folder
        Created if needed.
    contents
        Pieces of content by file name.
    origin
        Origin of the files.
    obsolete
        Whether a recorded file is replaced by these and deleted, unless it was changed since.

    Returns
    -------
    list of Path
        The files, in the same order.

    Raises
    ------
    OSError, OutputError
        The folder or its manifest cannot be written to.
    """
    with _recorded_parts(folder, tuple(contents), origin, obsolete) as parts:
        for name, pieces in contents.items():
            with parts[name].open("wb") as file:
                file.writelines(pieces)
    return [folder / name for name in contents]


@contextmanager
def recorded_file(path: Path, origin: Origin) -> Iterator[Path]:
    """Yield a temporary path for one file, which gets its final name without an error.

    Parameters
    ----------
    path
        Final path; its folder is created if needed.
    origin
        Origin of the file.

    Yields
    ------
    Path
        Temporary path to write to. It is deleted afterwards in any case.

    Raises
    ------
    OSError, OutputError
        The folder or its manifest cannot be written to.
    """
    with _recorded_parts(path.parent, (path.name,), origin, lambda name: False) as parts:
        yield parts[path.name]


def earlier_origin(folder: Path) -> Origin | None:
    """Return the origin of results without a manifest, from ``reps.json``; None if unknown."""
    try:
        clip = json.loads((folder / "reps.json").read_text(encoding="utf-8"))["clip"]
        athlete = clip.get("athlete")
        return Origin(
            made_by=EARLIER_VERSION,
            films=(str(clip["digest"]),),
            athletes=() if athlete is None else (str(athlete),),
        )
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return None


def earlier_files(folder: Path) -> list[Path]:
    """List the plain files of a folder with names from versions without a manifest."""
    return [
        path
        for path in sorted(folder.iterdir())
        if EARLIER_NAMES.fullmatch(path.name) and path.is_file() and not path.is_symlink()
    ]


@contextmanager
def _recorded_parts(
    folder: Path, names: Sequence[str], origin: Origin, obsolete: Callable[[str], bool]
) -> Iterator[Mapping[str, Path]]:
    made = make_folder(folder)
    parts = {name: folder / f".{name}.{os.getpid()}.part" for name in names}
    unfinished = {part.name: Entry(origin=origin, stamp=None) for part in parts.values()}
    with changing_manifest(folder):
        known = read_manifest(folder) or _adopted(folder, origin, made=made)
        save_manifest(folder, replace(known, entries={**known.entries, **unfinished}))
    try:
        yield parts
        with changing_manifest(folder):
            _put_in_place(folder, parts, origin, obsolete)
    finally:
        for part in parts.values():
            part.unlink(missing_ok=True)
        with changing_manifest(folder):
            known = read_manifest(folder) or Manifest()
            finished = {name: one for name, one in known.entries.items() if name not in unfinished}
            save_manifest(folder, replace(known, entries=finished))
        if made and not finished:
            with suppress(OSError):  # the folder holds foreign files
                folder.rmdir()


def _put_in_place(
    folder: Path, parts: Mapping[str, Path], origin: Origin, obsolete: Callable[[str], bool]
) -> None:
    known = read_manifest(folder) or Manifest()
    entries = dict(known.entries)
    for name, part in parts.items():
        old, path = entries.get(name), folder / name
        before = stamp_of(path) if old is not None and old.is_unchanged(path) else None
        entries[name] = Entry(origin=origin, stamp=stamp_of(part), before=before)
    save_manifest(folder, replace(known, entries=entries))
    for name, part in parts.items():
        part.replace(folder / name)
        entries[name] = replace(entries[name], before=None)
    for name in [name for name in entries if name not in parts and obsolete(name)]:
        if entries[name].is_unchanged(folder / name):
            (folder / name).unlink()
        del entries[name]
    save_manifest(folder, replace(known, entries=entries))


def _adopted(folder: Path, origin: Origin, *, made: bool) -> Manifest:
    """Return a new manifest that adopts an earlier version's files on the same film."""
    found = earlier_origin(folder)
    if made or found is None or not set(found.films) & set(origin.films):
        return Manifest(made_folder=made)
    entries = {
        path.name: Entry(origin=found, stamp=stamp_of(path)) for path in earlier_files(folder)
    }
    return Manifest(entries=entries, made_folder=True)
