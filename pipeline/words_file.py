"""The file of words: the shipped one with a coach's own over it, and what may not stand in it."""

from __future__ import annotations

import string
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pipeline.measures.table import known_moves, measures_of
from pipeline.toml_file import TomlFile, nearest, read_toml

MOST_WEIGHT = 10.0
"""Greatest weight that a coach can give."""

_SENTENCE_NAMES = frozenset(
    {"said", "Said", "number", "range", "wrong", "try", "aim", "name", "reason"}
)
_PLACEHOLDERS: Mapping[str, frozenset[str]] = {
    "numbers": frozenset({"value", "half_width", "low", "high"}),
    "sentences": _SENTENCE_NAMES,
    "riders": frozenset(),
    "session": frozenset(
        {
            *("said", "range", "wrong", "try", "name", "inside", "out", "below", "above", "n"),
            *("count", "unseen"),
            *("least", "k", "early", "late", "smallest", "move", "sentence"),
        }
    ),
    "session_table": frozenset({"move", "n", "spread", "smallest", "count"}),
    "cautions": frozenset({"count", "reps", "list", "number", "name", "k", "early", "late", "and"}),
    "notes": frozenset(),
    "measure": frozenset({"number"}),
    "of_move": frozenset({"number"}),
    "sources": frozenset(),
    "log": frozenset(
        {
            *("number", "counted", "per", "day", "most", "by", "date", "why", "hand", "estimated"),
            *("sentence", "n", "hours", "age", "now", "n_now", "before", "n_before", "measure"),
            *("move", "early", "late", "least", "word", "first", "second", "n_early", "n_late"),
            *("name", "change", "acute", "chronic", "ratio", "reason", "left", "right", "unknown"),
        }
    ),
}


def read_words(shipped_path: Path, own_path: Path | None = None) -> dict[str, Any]:
    """Read the shipped words and lay a coach's own over them.

    Parameters
    ----------
    shipped_path
        A whole file of words.
    own_path
        A file with those that differ; None for none.

    Returns
    -------
    dict
        The table, each entry from the stronger file.

    Raises
    ------
    SettingsError
        A file cannot be read, has an entry nobody asks for, or names something in braces that is
        not there to be put in; with file and line.
    """
    shipped = read_toml(shipped_path)
    _check_placeholders(shipped)
    _check_weights(shipped)
    if own_path is None:
        return shipped.table
    own = read_toml(own_path)
    _check_weights(own)
    # Weights may be given where the shipped file has none; all else must be something it says.
    others = {name: value for name, value in own.table.items() if name != "weight"}
    _check_entries(own, others, shipped.table)
    _check_placeholders(own)
    return _merged(shipped.table, own.table)


def _check_entries(
    file: TomlFile, own: Mapping[str, Any], shipped: Mapping[str, Any], *place: str
) -> None:
    for name, value in own.items():
        if name not in shipped:
            raise file.error(
                *place, name, wrong="nothing is said there.", what_to_do=nearest(name, shipped)
            )
        if _kind(value) is not _kind(shipped[name]):
            kinds: dict[type, str] = {str: "text in quotes", list: "a list", float: "a number"}
            kind = kinds.get(_kind(shipped[name]), "a table")
            raise file.error(*place, name, wrong=f"must be {kind}.", what_to_do="Change it.")
        if isinstance(value, dict):
            _check_entries(file, value, shipped[name], *place, name)


def _kind(value: object) -> type:
    """Type of an entry; a whole number is a number like any other."""
    return float if type(value) is int else type(value)


def _check_weights(file: TomlFile) -> None:
    """Weights may be given to any measure of any move, whether it has one already or not."""
    for move, weights in file.table.get("weight", {}).items():
        if move not in known_moves() or not isinstance(weights, dict):
            what_to_do = nearest(move, known_moves())
            raise file.error("weight", move, wrong="there is no such move.", what_to_do=what_to_do)
        keys = [info.key for info in measures_of(move)]
        for key, weight in weights.items():
            if key not in keys:
                raise file.error(
                    *("weight", move, key),
                    wrong="it is not measured in this move.",
                    what_to_do=nearest(key, keys),
                )
            if _kind(weight) is not float or not 0.0 <= weight <= MOST_WEIGHT:
                raise file.error(
                    *("weight", move, key),
                    wrong=f"{weight!r} is no weight.",
                    what_to_do=f"Give a number from 0 (never told) to {MOST_WEIGHT:g}; 1 is usual.",
                )


def _check_placeholders(file: TomlFile) -> None:
    for section, allowed in _PLACEHOLDERS.items():
        for place, sentence in _sentences(file.table.get(section, {}), section):
            try:
                used = {name for _, name, _, _ in string.Formatter().parse(sentence) if name}
            except ValueError as error:
                raise file.error(
                    *place, wrong=f"{error}.", what_to_do="Close every { with a }."
                ) from error
            for name in sorted(used - allowed):
                raise file.error(
                    *place,
                    wrong=f"{{{name}}} cannot be put in.",
                    what_to_do=nearest(name, sorted(allowed)),
                )


def _sentences(node: Any, *place: str) -> list[tuple[tuple[str, ...], str]]:  # noqa: ANN401
    if isinstance(node, str):
        return [(place, node)]
    if isinstance(node, dict):
        return [found for name, below in node.items() for found in _sentences(below, *place, name)]
    return []


def _merged(base: Mapping[str, Any], over: Mapping[str, Any]) -> dict[str, Any]:
    merged = dict(base)
    for name, value in over.items():
        below = merged.get(name, {})
        merged[name] = _merged(below, value) if isinstance(value, dict) else value
    return merged
