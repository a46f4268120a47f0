"""The list of files that the program wrote into a folder: read, checked, written whole."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pipeline.core.errors import OutputError
from pipeline.core.files import locked, write_whole
from pipeline.film.container import file_digest

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
