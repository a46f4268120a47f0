"""Settings files in TOML: read one, and report the line of a mistake in it."""

from __future__ import annotations

import difflib
import re
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pipeline.core.errors import SettingsError
from pipeline.core.messages import Message, message

if sys.version_info >= (3, 11):
    import tomllib
else:  # pragma: no cover - the same parser under its earlier name
    import tomli as tomllib


@dataclass(frozen=True, slots=True, kw_only=True)
class TomlFile:
    """A parsed file with its text, so that a mistake in it can be shown by line.

    Attributes
    ----------
    path
        The file.
    text
        Its text.
    table
        The parsed content.
    """

    path: Path
    text: str
    table: dict[str, Any]

    def line_of(self, *keys: str) -> int:
        """Line (from 1) on which the entry of these nested keys, or its nearest parent, stands."""
        best_line, best_depth = 1, 0
        header: tuple[str, ...] = ()
        for number, line in enumerate(self.text.splitlines(), start=1):
            stripped = line.strip()
            if stripped.startswith("["):
                place = header = _dotted_keys(stripped.split("#", 1)[0])
            elif "=" in stripped and not stripped.startswith("#"):
                place = header + _dotted_keys(stripped.partition("=")[0] + "= 0")
            else:
                continue
            depth = _n_shared(place, keys)
            if depth > best_depth:
                best_line, best_depth = number, depth
        return best_line

    def error(self, *keys: str, wrong: str, what_to_do: str) -> SettingsError:
        """Make the error for the entry of these keys: file, line, entry, what is wrong."""
        return SettingsError.of("at", place=self.place_of(*keys), wrong=wrong, do=what_to_do)

    def place_of(self, *keys: str) -> str:
        """File, line and entry of these keys, for a message."""
        line = self.line_of(*keys)
        return message("advice.place", file=self.path.name, line=line, entry=".".join(keys))


def read_toml(path: Path) -> TomlFile:
    """Read a TOML file.

    Parameters
    ----------
    path
        The file.

    Returns
    -------
    TomlFile
        Its text and its content.

    Raises
    ------
    SettingsError
        It cannot be read, or it is not TOML; with the line where there is one.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        why = error.strerror if isinstance(error, OSError) else message("advice.no_plain_text")
        raise SettingsError.of("unreadable_text", file=path.name, why=why) from error
    return parse_toml(path, text)


def parse_toml(path: Path, text: str) -> TomlFile:
    """Parse the text of a file; raises `SettingsError` with the line if it is not TOML.

    Parameters
    ----------
    path
        The file, for the message.
    text
        Its text.
    """
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        found = re.search(r"line (\d+)", str(error))
        # "At end of document" has no number: it is the last line.
        line = int(found.group(1)) if found else len(text.splitlines())
        raise SettingsError.of("not_toml", file=path.name, line=line, why=str(error)) from error
    return TomlFile(path=path, text=text, table=table)


def nearest(wrong: str, right: Iterable[str]) -> Message:
    """Say what was probably meant, or else what is allowed.

    Parameters
    ----------
    wrong
        What was written.
    right
        What could have been written.

    Returns
    -------
    Message
        A sentence.

    Examples
    --------
    >>> nearest("hand_dorp_m", ["hand_drop_m", "step_back_m"])
    'Did you mean hand_drop_m?'
    >>> nearest("zzz", ["any", "youth"])
    'Allowed: any, youth.'
    """
    allowed = list(right)
    near = difflib.get_close_matches(wrong, allowed, n=1, cutoff=0.6)
    if near:
        return message("advice.did_you_mean", name=near[0])
    return message("advice.allowed", names=", ".join(allowed))


def _dotted_keys(line: str) -> tuple[str, ...]:
    """Nested keys that one header or one assignment opens; empty if the line is neither."""
    try:
        node: Any = tomllib.loads(line)
    except tomllib.TOMLDecodeError:
        return ()
    keys = []
    while isinstance(node, dict) and len(node) == 1:
        key, node = next(iter(node.items()))
        keys.append(key)
        if isinstance(node, list):
            node = node[0]
    return tuple(keys)


def _n_shared(place: tuple[str, ...], keys: tuple[str, ...]) -> int:
    """How many leading keys are the same, if `place` holds nothing that `keys` does not."""
    if place[: len(keys)] != keys[: len(place)]:
        return 0
    return min(len(place), len(keys))
