"""Data of an athlete outside the log: target ranges, corrections, drill examples, added films.

Each function lists or removes the data that belong to films with given digests or to a name.
"""

from __future__ import annotations

import contextlib
import json
import re
import zipfile
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import numpy as np

from pipeline.core.errors import OutputError
from pipeline.core.files import data_folder
from pipeline.people.cache import CLIP_DIGEST
from pipeline.targets.entries import athlete_key

TRACKS = ".tracks.npz"
"""Ending of the names of kept landmarks."""

_OF_FILM = re.compile(
    r"(?P<film>[0-9a-f]{32})\.(frame\d{6}\.jpg|proxy\.mp4(\.\d+\.part)?|\w+\.unfinished)"
)
_SAMPLES = re.compile(r"[0-9a-f]{32}\.film\.npz")


def own_ranges(name: str) -> list[dict[str, Any]]:
    """List an athlete's target ranges: those in force, and those in the history."""
    from pipeline.targets.history import history_path, read_history
    from pipeline.targets.load import coach_targets_path, load_targets

    path = coach_targets_path()
    if path is None:
        return []
    key = athlete_key(name)
    found: list[dict[str, Any]] = []
    for (place, measure), entry in load_targets(path).layers[-1].entries.items():
        if place.athlete == key:
            bounds = {
                side: None if bound is None else bound.value
                for side, bound in (("low", entry.low), ("high", entry.high))
            }
            found.append(
                {"in_force": True, **place._asdict(), "measure": measure, **bounds,
                 "set_by": entry.set_by, "why": entry.why}
            )  # fmt: skip
    for record in read_history(history_path(path)):
        if athlete_key(record.athlete) == key:
            found.append({"in_force": False, **_without_text(asdict(record))})
    return found


def remove_ranges(name: str) -> int:
    """Remove an athlete's ranges from the coach's file and its history; returns their number.

    Raises
    ------
    SettingsError
        The layout of the file does not allow it without changing other ranges.
    OutputError
        The files cannot be written.
    """
    from pipeline.core.files import locked, write_whole
    from pipeline.core.toml_file import parse_toml, read_toml
    from pipeline.targets.history import history_path, read_history
    from pipeline.targets.load import coach_targets_path, digest_of

    path = coach_targets_path()
    if path is None:
        return 0
    with locked(path):
        text, n = _text_without(read_toml(path), name)
        history = history_path(path)
        records = []
        for record in read_history(history):
            if athlete_key(record.athlete) == athlete_key(name):
                n += 1
                continue
            cleaned, _ = _text_without(parse_toml(path, record.text), name)
            records.append(replace(record, text=cleaned, digest=digest_of(cleaned)))
        if n == 0:
            return 0
        lines = [json.dumps(asdict(record), ensure_ascii=False) + "\n" for record in records]
        try:
            write_whole(path, [text.encode("utf-8")])
            if history.exists():
                write_whole(history, [line.encode("utf-8") for line in lines])
        except OSError as error:
            why = error.strerror
            raise OutputError.of("ranges_not_taken_out", file=path, why=why) from error
    return n


def own_corrections(digests: set[str]) -> list[dict[str, Any]]:
    """List the corrections of reps in films with these digests."""
    from pipeline.teaching.corrections_store import load_corrections

    return [
        {"kind": one.kind, "was": one.was, "label": one.label, "windows_s": one.windows_s,
         "clip": one.clip, "by": one.by, "at": one.at}
        for one in load_corrections().made
        if one.clip in digests
    ]  # fmt: skip


def remove_corrections(digests: set[str]) -> int:
    """Remove corrections and anchors of films with these digests; returns the number removed."""
    from pipeline.teaching.corrections_store import Corrections, load_corrections, save_corrections

    before = load_corrections()
    made = tuple(one for one in before.made if one.clip not in digests)
    anchors = {clip: stored for clip, stored in before.anchors.items() if clip not in digests}
    if len(made) < len(before.made) or len(anchors) < len(before.anchors):
        save_corrections(Corrections(made=made, anchors=anchors))
    return len(before.made) - len(made)


def drills_with(digests: set[str]) -> list[str]:
    """Return the names of drills with an example from films with these digests."""
    from pipeline.settings.checks import drill_names
    from pipeline.teaching.drill_store import load_drill

    return [
        name
        for name in drill_names()
        if any(example.digest in digests for example in load_drill(name).examples)
    ]


def remove_examples(digests: set[str]) -> tuple[list[str], list[str]]:
    """Remove examples from films with these digests from the drills.

    Returns
    -------
    shortened, deleted
        Names of drills with enough examples left, and of drills deleted for lack of examples.
    """
    from pipeline.teaching.drill_examples import FEWEST_EXAMPLES
    from pipeline.teaching.drill_store import forget_drill, load_drill, save_drill

    shortened, deleted = [], []
    for name in drills_with(digests):
        drill = load_drill(name)
        examples = tuple(one for one in drill.examples if one.digest not in digests)
        if len(examples) < FEWEST_EXAMPLES:
            deleted.append(forget_drill(name))
        else:
            save_drill(replace(drill, examples=examples))
            shortened.append(name)
    return shortened, deleted


def files_that_hold(needles: Sequence[bytes]) -> list[Path]:
    """List the files of the data folder that contain given bytes, ignoring case."""
    folder = data_folder()
    paths = sorted(folder.rglob("*")) if folder.is_dir() else []
    return [
        path
        for path in paths
        if path.is_file() and not path.is_symlink() and holds(path.read_bytes(), path, needles)
    ]


def holds(content: bytes, path: Path, needles: Sequence[bytes]) -> bool:
    """Whether a file's content contains any of the needles, ignoring case."""
    content = content.lower()
    if path.suffix == ".npz":
        content += _unpacked(path).lower()
    return any(needle.lower() in content for needle in needles)


def _unpacked(path: Path) -> bytes:
    """Return the unpacked content of an archive, which a search of its bytes would miss."""
    with contextlib.suppress(OSError, zipfile.BadZipFile), zipfile.ZipFile(path) as packed:
        return b"".join(packed.read(name) for name in packed.namelist())
    return b""


def _text_without(file: Any, name: str) -> tuple[str, int]:  # noqa: ANN401 - a file of ranges
    """Return the text of a file of ranges without an athlete's entries, and their number."""
    from pipeline.core.toml_file import parse_toml
    from pipeline.targets.edit import with_entry
    from pipeline.targets.entries import Scope as RangePlace
    from pipeline.targets.file import check_targets_file

    entries = check_targets_file(file).entries if file.text else {}
    mine = [(place, key) for place, key in entries if place.athlete == athlete_key(name)]
    for place, key in mine:
        assert isinstance(place, RangePlace)
        file = parse_toml(file.path, with_entry(file, place, key, None))
    return file.text, len(mine)


def _without_text(record: dict[str, Any]) -> dict[str, Any]:
    """Drop the text of the whole file, which concerns other athletes too."""
    return {name: value for name, value in record.items() if name not in ("text", "digest")}


FOLDER = "review/film"
MARKS_ENDING = ".marks.toml"


def marks_beside(film: Path) -> Path:
    """Return the path of a film's file of field marks; the file may not exist."""
    return film.with_name(f"{film.stem}{MARKS_ENDING}")


def added_film(rows: Iterable[Mapping[str, Any]]) -> list[Path]:
    """List the films of rows (``film_path``) in the review page's folder, with their marks.

    A film in any other folder belongs to the user and is never listed.
    """
    folder = (data_folder() / FOLDER).resolve()
    found: dict[Path, None] = {}
    for row in rows:
        if row.get("film_path") is None:
            continue
        film = Path(row["film_path"])
        for path in (film, marks_beside(film)):
            if path.resolve().parent == folder and path.is_file():
                found[path] = None
    return list(found)


def cached_files(folder: Path, digests: Collection[str]) -> Iterator[tuple[Path, str | None]]:
    """Find files of films in a folder of landmarks; raises ``OSError`` if it cannot be read.

    What a version before kept of the film check does not name its film, and is found anew in
    seconds: it is given whatever its film.

    Parameters
    ----------
    folder
        To search, not what is in folders inside it.
    digests
        SHA-256 of the films.

    Yields
    ------
    path, digest
        The file and its film; an empty digest where the file names none, None where landmarks
        cannot be read.
    """
    short = {digest[:32]: digest for digest in digests}
    for path in sorted(folder.iterdir()):
        if path.is_symlink() or not path.is_file():
            continue
        of_film = _OF_FILM.fullmatch(path.name)
        if of_film is not None:
            if of_film["film"] in short:
                yield path, short[of_film["film"]]
        elif path.name.endswith(TRACKS):
            digest = _film_of_tracks(path)
            if digest is None or digest in digests:
                yield path, digest
        elif _SAMPLES.fullmatch(path.name):
            digest = _film_of_samples(path)
            if digest is not None and (digest == "" or digest in digests):
                yield path, digest


def _film_of_tracks(path: Path) -> str | None:
    """Digest of the film of kept landmarks; None where the file does not say it."""
    try:
        with np.load(path, allow_pickle=False) as kept:
            return str(json.loads(str(kept["facts"]))["digest"])
    except (OSError, ValueError, KeyError, TypeError, EOFError, zipfile.BadZipFile):
        return None


def _film_of_samples(path: Path) -> str | None:
    """Digest of the film of a kept look; empty where a version before kept it; None = no look."""
    try:
        with np.load(path, allow_pickle=False) as kept:
            if CLIP_DIGEST in kept.files:
                return str(kept[CLIP_DIGEST])
            return "" if {"facts", "clock_s", "looks_s"} <= set(kept.files) else None
    except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile):
        return None
