"""The list of files that the program wrote into a folder, and the one way in which it writes them.

The list is written before a file takes its place, so that a program that is killed at any moment
leaves no file about a person that is not in it.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace
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
"""Names that versions without a list gave to the files in a film's folder."""

MANIFEST_NAME = "crossemetry-files.json"
SCHEMA_NAME = "crossemetry.files/1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Origin:
    """What a file was made from.

    Attributes
    ----------
    made_by
        What wrote it: report, overlay, export, compare, volume, athlete_export or earlier_version.
    films
        SHA-256 of each film that it shows.
    athletes
        Names of the athletes as they were given; empty where none was named.
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
    """A file in the list.

    Attributes
    ----------
    origin
        What it was made from.
    stamp
        Its content; None for one that is being written and is not whole.
    before
        The content that is being replaced, while it is.
    """

    origin: Origin
    stamp: Stamp | None
    before: Stamp | None = None

    def is_unchanged(self, path: Path) -> bool:
        """Whether a file is still what the program wrote; raises ``OSError`` if it is unreadable.

        A link is never what the program wrote.
        """
        if path.is_symlink() or not path.is_file():
            return False
        known = [stamp for stamp in (self.stamp, self.before) if stamp is not None]
        if self.stamp is None:
            return True  # its name holds the number of the process: nobody else made it
        size_bytes = path.stat().st_size
        return any(stamp.size_bytes == size_bytes for stamp in known) and stamp_of(path) in known


@dataclass(frozen=True, slots=True, kw_only=True)
class Manifest:
    """All files that the program wrote into one folder.

    Attributes
    ----------
    entries
        By name; no name leads out of the folder.
    made_folder
        Whether the program made the folder, so that it may take it away when it is empty.
    """

    entries: Mapping[str, Entry] = field(default_factory=dict)
    made_folder: bool = False


def stamp_of(path: Path) -> Stamp:
    """Return size and digest of a file."""
    return Stamp(path.stat().st_size, file_digest(path))


def manifest_path(folder: Path) -> Path:
    """Where the list of a folder lies."""
    return folder / MANIFEST_NAME


def read_manifest(folder: Path) -> Manifest | None:
    """Read the list of a folder; None where it is missing.

    Raises
    ------
    OutputError
        It cannot be read, or is not such a list.
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
        entries = {_plain_name(name): _entry(kept) for name, kept in document["files"].items()}
        return Manifest(entries=entries, made_folder=bool(document["made_folder"]))
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise OutputError.of("manifest_unreadable", file=path, why=repr(error)) from error


def save_manifest(folder: Path, manifest: Manifest) -> None:
    """Write the list of a folder whole, or take it away where nothing is in it.

    Raises
    ------
    OSError
        The folder cannot be written to.
    """
    path = manifest_path(folder)
    if not manifest.entries:
        path.unlink(missing_ok=True)
        return
    document = {
        "schema": SCHEMA_NAME,
        "made_folder": manifest.made_folder,
        "files": {name: _document(entry) for name, entry in sorted(manifest.entries.items())},
    }
    text = json.dumps(document, indent=1, ensure_ascii=False) + "\n"
    write_whole(path, [text.encode("utf-8")])


@contextmanager
def changing_manifest(folder: Path) -> Iterator[None]:
    """Hold the lock under which the list of a folder is read and written; nothing of it stays.

    Raises
    ------
    OutputError
        Another program holds it, or the folder cannot be written to.
    """
    with locked(manifest_path(folder), keep=False):
        yield


def _entry(kept: Mapping[str, Any]) -> Entry:
    origin = Origin(
        made_by=str(kept["made_by"]),
        films=tuple(map(str, kept["films"])),
        athletes=tuple(map(str, kept["athletes"])),
    )
    return Entry(origin=origin, stamp=_stamp(kept["content"]), before=_stamp(kept.get("before")))


def _stamp(kept: Mapping[str, Any] | None) -> Stamp | None:
    return None if kept is None else Stamp(int(kept["size_bytes"]), str(kept["sha256"]))


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
    """Make a folder with those above it; whether it was not there before.

    Raises
    ------
    OSError
        It cannot be made.
    """
    with suppress(FileExistsError):
        folder.parent.mkdir(parents=True, exist_ok=True)
        folder.mkdir()
        return True
    folder.mkdir(exist_ok=True)  # an error where a file is in the way
    return False


def origin_of(made_by: str, *analyses: Analysis) -> Origin:
    """Say what a file is made from that shows these analyses; each film and name once."""
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
    """Write files into a folder, each whole or not at all, and note them in its list.

    Parameters
    ----------
    folder
        Made if it is not there.
    contents
        The content of each file by its name, a piece at a time.
    origin
        What they were made from.
    obsolete
        Whether a file in the list is to go because this writing replaces it. One that somebody
        changed stays.

    Returns
    -------
    list of Path
        The files, in the same order.

    Raises
    ------
    OSError, OutputError
        The folder or its list cannot be written to.
    """
    with _recorded_parts(folder, tuple(contents), origin, obsolete) as parts:
        for name, pieces in contents.items():
            with parts[name].open("wb") as file:
                file.writelines(pieces)
    return [folder / name for name in contents]


@contextmanager
def recorded_file(path: Path, origin: Origin) -> Iterator[Path]:
    """Give a place to write one file to; it takes its own place if all went well.

    Parameters
    ----------
    path
        Where it goes in the end; its folder is made if it is not there.
    origin
        What it is made from.

    Yields
    ------
    Path
        Where to write. It is gone afterwards, whether all went well or not.

    Raises
    ------
    OSError, OutputError
        The folder or its list cannot be written to.
    """
    with _recorded_parts(path.parent, (path.name,), origin, lambda name: False) as parts:
        yield parts[path.name]


def earlier_origin(folder: Path) -> Origin | None:
    """Say of which film a folder's results without a list are; None where it does not say so."""
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
    """List the plain files of a folder with names that versions without a list gave."""
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
            kept = {name: one for name, one in known.entries.items() if name not in unfinished}
            save_manifest(folder, replace(known, entries=kept))
        if made and not kept:
            with suppress(OSError):  # somebody else put something into it
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
    """Begin a list with what an earlier version of the program wrote on the same film."""
    found = earlier_origin(folder)
    if made or found is None or not set(found.films) & set(origin.films):
        return Manifest(made_folder=made)
    entries = {
        path.name: Entry(origin=found, stamp=stamp_of(path)) for path in earlier_files(folder)
    }
    return Manifest(entries=entries, made_folder=True)
