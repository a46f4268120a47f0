"""The file of words: the shipped one with a coach's own over it, and what may not stand in it."""

from __future__ import annotations

import string
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pipeline.core.catalogue import (
    ENGLISH,
    OF_NO_LANGUAGE,
    Language,
    merged,
    shipped_path,
    shipped_texts,
)
from pipeline.core.errors import error_text
from pipeline.core.messages import message
from pipeline.core.move_table import known_moves
from pipeline.core.toml_file import TomlFile, nearest, read_toml
from pipeline.measures import measures_of

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
    "report": frozenset(
        {
            *("clip", "found", "length", "n", "index", "count", "reason", "number", "measure"),
            *("range", "low", "high", "reps", "event", "events", "percent", "move", "drawn"),
            *("start", "stop", "hand", "side", "width", "height", "rate", "changed", "version"),
            *("digest", "level", "set_by", "why", "grade", "list", "name", "first", "last", "try"),
            *("contacts", "seconds", "verdict", "unit", "way", "sure"),
        }
    ),
    "cautions": frozenset({"count", "reps", "list", "number", "name", "k", "early", "late", "and"}),
    "notes": frozenset(),
    "measure": frozenset({"number"}),
    "of_move": frozenset({"number"}),
    "sources": frozenset(),
    "overlay": frozenset({"number", "move", "slower", "time", "clip", "inside", "judged", "path"}),
    "terminal": frozenset(
        {
            *("number", "count", "name", "time", "start", "stop", "move", "percent", "reason"),
            *("said", "path", "sure"),
        }
    ),
    "log": frozenset(
        {
            *("number", "counted", "per", "day", "most", "by", "date", "why", "hand", "estimated"),
            *("sentence", "n", "hours", "age", "now", "n_now", "before", "n_before", "measure"),
            *("move", "early", "late", "least", "word", "first", "second", "n_early", "n_late"),
            *("name", "change", "acute", "chronic", "ratio", "reason", "left", "right", "unknown"),
        }
    ),
}


def read_words(
    language: Language, own_path: Path | None = None, english_path: Path | None = None
) -> dict[str, Any]:
    """Read the shipped words of a language and lay a coach's own over them.

    What comes first, and how much it helps, is the same in all languages: it is that of the
    English files, unless the coach's file of this language overrides it.

    Parameters
    ----------
    language
        Which shipped file.
    own_path
        A coach's file of that language with what differs; None for none.
    english_path
        A coach's file of English words; None for none. Not looked at for English.

    Returns
    -------
    dict
        The table, each entry from the strongest file.

    Raises
    ------
    SettingsError
        A file cannot be read, has an unknown entry, or names something in braces that is
        not there to be put in; with file and line.
    """
    english_file, english = read_toml(shipped_path(ENGLISH)), shipped_texts(ENGLISH)
    _check_placeholders(english_file, english)
    _check_weights(english_file)
    if language == ENGLISH:
        return _with_own(english, own_path, english)
    base = _with_own(english, english_path, english)
    _check_placeholders(read_toml(shipped_path(language)), english)
    ranked = {section: base[section] for section in OF_NO_LANGUAGE}
    return _with_own({**shipped_texts(language), **ranked}, own_path, english)


def _with_own(
    shipped: Mapping[str, Any], own_path: Path | None, english: Mapping[str, Any]
) -> dict[str, Any]:
    if own_path is None:
        return dict(shipped)
    own = read_toml(own_path)
    _check_weights(own)
    # Weights may be given where the shipped file has none; all else must be an entry of it.
    others = {name: value for name, value in own.table.items() if name != "weight"}
    _check_entries(own, others, shipped)
    _check_placeholders(own, english)
    return merged(shipped, own.table)


def _check_entries(
    file: TomlFile, own: Mapping[str, Any], shipped: Mapping[str, Any], *place: str
) -> None:
    for name, value in own.items():
        if name not in shipped:
            raise file.error(
                *place, name, **error_text("no_such_text", nearest=nearest(name, shipped))
            )
        if _kind(value) is not _kind(shipped[name]):
            kinds: dict[type, str] = {str: "text", list: "list", float: "number"}
            kind = kinds.get(_kind(shipped[name]), "table")
            raise file.error(
                *place, name, **error_text("wrong_kind", kind=message(f"kinds.{kind}"))
            )
        if isinstance(value, dict):
            _check_entries(file, value, shipped[name], *place, name)


def _kind(value: object) -> type:
    """Type of an entry; a whole number is a number like any other."""
    return float if type(value) is int else type(value)


def _check_weights(file: TomlFile) -> None:
    """Weights may be given to any measure of any move, whether it has one already or not."""
    for move, weights in file.table.get("weight", {}).items():
        if move not in known_moves() or not isinstance(weights, dict):
            near = nearest(move, known_moves())
            raise file.error("weight", move, **error_text("no_such_move", nearest=near))
        keys = [info.key for info in measures_of(move)]
        for key, weight in weights.items():
            if key not in keys:
                near = nearest(key, keys)
                raise file.error(
                    "weight", move, key, **error_text("not_in_this_move", nearest=near)
                )
            if _kind(weight) is not float or not 0.0 <= weight <= MOST_WEIGHT:
                wrong = error_text("no_weight", weight=repr(weight), most=f"{MOST_WEIGHT:g}")
                raise file.error("weight", move, key, **wrong)


def _check_placeholders(file: TomlFile, english: Mapping[str, Any]) -> None:
    for section in file.table:
        # Those of a message are what its own English text names; those of a sentence may differ.
        shipped = dict(_sentences(english.get(section, {}), section))
        for place, sentence in _sentences(file.table[section], section):
            try:
                used = _named(sentence)
            except ValueError as error:
                raise file.error(*place, **error_text("open_brace", why=str(error))) from error
            allowed = _PLACEHOLDERS.get(section)
            if allowed is None:
                allowed = frozenset(_named(shipped.get(place, "")))
            for name in sorted(used - allowed):
                near = nearest(name, sorted(allowed))
                raise file.error(
                    *place, **error_text("no_such_brace", name=f"{{{name}}}", nearest=near)
                )


def _named(sentence: str) -> set[str]:
    """Give what a sentence names in braces."""
    return {name for _, name, _, _ in string.Formatter().parse(sentence) if name}


def _sentences(node: Any, *place: str) -> list[tuple[tuple[str, ...], str]]:  # noqa: ANN401
    if isinstance(node, str):
        return [(place, node)]
    if isinstance(node, dict):
        return [found for name, below in node.items() for found in _sentences(below, *place, name)]
    return []
