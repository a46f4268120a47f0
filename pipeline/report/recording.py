"""The one way in which files about people are written: whole, and noted in the folder's list.

The list is written before a file takes its place, so that a program that is killed at any moment
leaves no file about a person that is not in it.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import replace
from pathlib import Path

from pipeline.core.results import Analysis
from pipeline.report.manifest import (
    Entry,
    Manifest,
    Origin,
    changing_manifest,
    make_folder,
    read_manifest,
    save_manifest,
    stamp_of,
)

EARLIER_VERSION = "earlier_version"
EARLIER_NAMES = re.compile(
    r"report\.html|reps\.json|reps\.csv|rep_\d{2,}\.(jpg|png)|overlay\.mp4|joints\.c3d"
    r"|(reps|measures|keypoints|joints)\.parquet"
)
"""Names that versions without a list gave to the files in a film's folder."""


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
    """Find the film of a folder's results without a list; None where they do not name it."""
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
