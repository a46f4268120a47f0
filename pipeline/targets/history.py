"""The history of a coach's ranges: who changed what, when and why, each a line of JSON."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Literal

from pipeline.core.errors import SettingsError
from pipeline.core.messages import message
from pipeline.targets.entries import Scope

Entry = Mapping[str, Any]
"""A range as in its table in the file, e.g. ``{"low_m": 0.5, "set_by": ..., "why": ...}``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """One line of the history.

    Attributes
    ----------
    at
        When, UTC, ISO 8601.
    action
        ``set``, ``undo``, or ``found``: the file was there already, or was changed by hand.
    by, why
        Who did it, and on what ground; empty for what was found.
    move, level, hand, athlete, measure
        What was changed and for whom; ``any`` and empty as in `Scope`; empty for what was found.
    old, new
        The range before and after; None = there was none.
    text
        Text of the whole file after it, so that any earlier state can be shown.
    digest
        Of that text (`pipeline.targets.load.digest_of`).
    """

    at: str
    action: Literal["set", "undo", "found"]
    by: str
    why: str
    move: str
    level: str
    hand: str
    athlete: str
    measure: str
    old: Entry | None
    new: Entry | None
    text: str
    digest: str

    @property
    def place(self) -> Scope:
        """For whom it was changed; the athlete's name as it is written in the file."""
        return Scope(self.move, self.level, self.hand, self.athlete)


_NAMES = tuple(Record.__annotations__)


def history_path(targets_path: Path) -> Path:
    """File of the history, beside the file of ranges: ``NAME.history.jsonl``."""
    return targets_path.with_name(f"{targets_path.stem}.history.jsonl")


def read_history(path: Path) -> list[Record]:
    """Read a history, oldest first; empty when it is missing.

    A last line that breaks off, because the machine stopped while it was written, is left out.

    Raises
    ------
    SettingsError
        It cannot be read, or a line is not a record of a history; names file and line.
    """
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        return []
    except (OSError, UnicodeDecodeError) as error:
        why = error.strerror if isinstance(error, OSError) else message("advice.no_plain_text")
        raise SettingsError.of("range_history_unreadable", file=path.name, why=why) from error
    lines = text.split("\n")[:-1]  # what follows the last line end is empty, or broke off
    return [_record(path, number, line) for number, line in enumerate(lines, 1)]


def append_record(path: Path, record: Record) -> None:
    """Add a line to the history, and have it on disk before returning; raises `OSError`."""
    line = json.dumps(asdict(record), ensure_ascii=False, allow_nan=False).encode("utf-8") + b"\n"
    with path.open("a+b") as file:
        _drop_broken_line(path, file.seek(0, os.SEEK_END))
        file.write(line)
        file.flush()
        os.fsync(file.fileno())


def record_of(records: Sequence[Record], version: str, *, path: Path) -> Record:
    """Find an earlier state by its digest, or the one that held at the end of a day or an instant.

    Parameters
    ----------
    records
        Oldest first.
    version
        Four or more digits of a digest, a day such as ``2026-03-01``, or an instant in UTC.
    path
        Of the history, for the message.

    Raises
    ------
    SettingsError
        It does not exist.
    """
    if "-" in version:
        end = f"{version}~"  # sorts after every instant that begins with it
        found = [record for record in records if record.at <= end]
    else:
        same = version.lower() if len(version) >= 4 else "-"
        found = [record for record in records if record.digest.startswith(same)]
    if not found:
        oldest = message("range_faults.no_version")
        if records:
            first = records[0]
            oldest = message("range_faults.version", at=first.at, digest=first.digest)
        raise SettingsError.of(
            "no_such_range_version", version=version, file=path.name, oldest=oldest
        )
    return found[-1]


def _record(path: Path, number: int, line: str) -> Record:
    try:
        table = json.loads(line)
    except ValueError as error:
        raise _not_in_history(path, number, str(error)) from error
    if not isinstance(table, dict) or set(table) != set(_NAMES):
        raise _not_in_history(path, number, message("range_faults.other_fields"))
    return Record(**table)


def _not_in_history(path: Path, number: int, why: str) -> SettingsError:
    return SettingsError.of("not_in_range_history", file=path.name, line=number, why=why)


def _drop_broken_line(path: Path, size: int) -> None:
    """Cut off a last line that broke off, which would spoil the next one."""
    if size == 0:
        return
    content = path.read_bytes()
    end = content.rfind(b"\n") + 1
    if end != size:
        os.truncate(path, end)
