"""Sets a coach's ranges: checked before it is written, one writer at a time, with its history."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Literal

from pipeline.core.errors import OutputError, SettingsError, error_text
from pipeline.core.files import WAIT_S, locked, write_whole
from pipeline.core.toml_file import TomlFile, parse_toml, read_toml
from pipeline.targets.edit import entry_in, keys_in, with_entry
from pipeline.targets.entries import Scope, athlete_key
from pipeline.targets.file import check_targets_file
from pipeline.targets.history import Entry, Record, append_record, history_path, read_history
from pipeline.targets.load import digest_of, instant, targets_of

NewEntry = Callable[[Entry | None], Mapping[str, Any] | None]
"""From what stands there (None = nothing) to what is to stand there (None = nothing)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Signed:
    """Who makes a change, why, and when."""

    by: str
    why: str
    now: datetime


def set_range(
    path: Path,
    place: Scope,
    measure: str,
    new_entry: NewEntry,
    signed: Signed,
    *,
    wait_s: float = WAIT_S,
) -> Record:
    """Change one range in a coach's file, and write that into its history.

    The new text is checked as a whole, with what it inherits, before it replaces the old one. While
    one program is at it, another waits, and then sees what the first one wrote.

    Parameters
    ----------
    path
        The file; made if it is not there, its folder is not.
    place, measure
        Which range; the athlete's name as it is to be shown.
    new_entry
        Gives the new range from the present one.
    signed
        Who, why, when.
    wait_s
        How long to wait for another writer.

    Returns
    -------
    Record
        As it stands in the history.

    Raises
    ------
    SettingsError
        The file, or its new text, cannot be used.
    OutputError
        It cannot be written, or somebody else is changing it. The file is then as it was.
    """
    with locked(path, wait_s=wait_s):
        file = read_or_empty(path)
        old = entry_in(file, place, measure)
        return _replace(file, place, measure, old, new_entry(old), signed, "set")


def undo(path: Path, signed: Signed, *, wait_s: float = WAIT_S) -> Record:
    """Restore what the last change replaced; a second undo brings the change back.

    Raises
    ------
    SettingsError
        There is nothing to undo, or the range was changed by hand since.
    OutputError
        As for `set_range`.
    """
    with locked(path, wait_s=wait_s):
        file = read_or_empty(path)
        changes = [r for r in read_history(history_path(path)) if r.action != "found"]
        if not changes:
            raise SettingsError.of("no_range_change", file=path.name)
        last = changes[-1]
        present = entry_in(file, last.place, last.measure)
        if present != last.new:
            keys = keys_in(file, last.place, last.measure)
            raise file.error(*keys, **error_text("range_changed_by_hand"))
        return _replace(file, last.place, last.measure, present, last.old, signed, "undo")


def read_or_empty(path: Path) -> TomlFile:
    """Read the file; a missing one counts as empty."""
    return read_toml(path) if path.exists() else parse_toml(path, "")


def replayed(records: Sequence[Record]) -> dict[tuple[Scope, str], Entry]:
    """Ranges that the changes alone make, one after the other; athletes by `athlete_key`."""
    state: dict[tuple[Scope, str], Entry] = {}
    for record in records:
        if record.action == "found":
            continue
        where = record.place._replace(athlete=athlete_key(record.athlete)), record.measure
        state.pop(where, None)
        if record.new is not None:
            state[where] = record.new
    return state


def _replace(
    file: TomlFile,
    place: Scope,
    measure: str,
    old: Entry | None,
    new: Mapping[str, Any] | None,
    signed: Signed,
    action: Literal["set", "undo"],
) -> Record:
    text = with_entry(file, place, measure, new)
    try:
        targets_of(check_targets_file(parse_toml(file.path, text)))
    except SettingsError as error:
        raise SettingsError.of(
            "ranges_would_be_wrong", wrong=error.message, do=error.what_to_do
        ) from error
    record = Record(
        at=instant(signed.now),
        action=action,
        by=signed.by,
        why=signed.why,
        **place._asdict(),
        measure=measure,
        old=old,
        new=None if new is None else dict(new),
        text=text,
        digest=digest_of(text),
    )
    history = history_path(file.path)
    earlier = read_history(history)
    try:
        if file.text and (not earlier or earlier[-1].digest != digest_of(file.text)):
            append_record(history, _found(file.text, record.at))
        else:
            history.touch()  # if no history can be written, nothing else is
        if file.path.exists() and read_toml(file.path).text != file.text:
            raise OutputError.of("ranges_changed_just_now", file=file.path.name)
        write_whole(file.path, [text.encode("utf-8")])
        append_record(history, record)
    except OSError as error:
        raise OutputError.of(
            "ranges_not_written", path=str(file.path), why=error.strerror
        ) from error
    return record


def _found(text: str, at: str) -> Record:
    """Record a state of the file that was edited outside the program."""
    return Record(
        at=at, action="found", by="", why="", move="", level="", hand="", athlete="", measure="",
        old=None, new=None, text=text, digest=digest_of(text),
    )  # fmt: skip
