"""The shipped catalogues of texts, one file for each language, and what a language is called."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal, get_args

if sys.version_info >= (3, 11):
    import tomllib
else:  # pragma: no cover - the same parser under its earlier name
    import tomli as tomllib

Language = Literal["en", "es"]
Units = Literal["metric", "feet"]

LANGUAGES: tuple[Language, ...] = get_args(Language)
UNITS: tuple[Units, ...] = get_args(Units)

ENGLISH: Language = "en"
METRIC: Units = "metric"

OF_NO_LANGUAGE = ("order", "weight", "look_from")
"""Sections that set the order of what is reported; the English file holds them for all."""


def shipped_path(language: Language) -> Path:
    """Path of the shipped texts of a language."""
    return Path(__file__).parent / "texts" / language / "words.toml"


def file_name(language: Language) -> str:
    """Name of a file of texts: that of a coach is called as the shipped one."""
    return "words.toml" if language == ENGLISH else f"words.{language}.toml"


@lru_cache(maxsize=len(LANGUAGES))
def shipped_texts(language: Language) -> Mapping[str, Any]:
    """All shipped texts of a language, by section and name.

    In `shipped_path` a coach talks to a player; in the files beside it the program reports on
    itself: what is wrong, and what a command does.
    """
    player = shipped_path(language)
    return _read(player, *(path for path in _beside("*", language) if path != player))


@lru_cache(maxsize=len(LANGUAGES))
def help_texts(language: Language) -> Mapping[str, Any]:
    """Texts of the section ``help``, by command and option: read alone, as help is to be quick."""
    section: Mapping[str, Any] = _read(*_beside("help*", language))["help"]
    return section


def _beside(names: str, language: Language) -> list[Path]:
    return sorted(shipped_path(language).parent.glob(f"{names}.toml"))


def _read(*paths: Path) -> dict[str, Any]:
    """Read files of texts into one table."""
    table: dict[str, Any] = {}
    for path in paths:
        table = merged(table, tomllib.loads(path.read_text(encoding="utf-8")))
    return table


def merged(base: Mapping[str, Any], over: Mapping[str, Any]) -> dict[str, Any]:
    """Lay a table over another: entries of both are those of the upper one."""
    both = dict(base)
    for name, value in over.items():
        below = both.get(name, {})
        both[name] = merged(below, value) if isinstance(value, dict) else value
    return both
