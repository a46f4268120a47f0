"""A file of target ranges: for whom each stands, read with every name in it checked."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pipeline.core.errors import SettingsError, told
from pipeline.core.messages import Message, message
from pipeline.core.toml_file import TomlFile, nearest, read_toml
from pipeline.measures import measures_with_range
from pipeline.settings.checks import LEVELS, check_athlete
from pipeline.settings.move_names import known_move_names
from pipeline.targets.entries import ANY, Place, TargetEntry, athlete_key
from pipeline.targets.file_form import Head, checked, read_entry

HANDS = ("left", "right")
ATHLETE = "athlete"
"""Name of the table that holds what is for one athlete, by name."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetsFile:
    """One checked file.

    Attributes
    ----------
    verdict_levels
        ``inside_level`` and ``outside_level`` where the file sets them.
    entries
        By place and measure key.
    file
        The file itself.
    """

    verdict_levels: Mapping[str, float]
    entries: Mapping[tuple[Place, str], TargetEntry]
    file: TomlFile


def read_targets_file(path: Path) -> TargetsFile:
    """Read and check one file of ranges.

    Parameters
    ----------
    path
        The TOML file.

    Returns
    -------
    TargetsFile
        Its ranges.

    Raises
    ------
    SettingsError
        An unknown key, a unit that is not the measure's, a reversed range, a value of the wrong
        kind, or a range nobody stands for; names file, line, entry and the nearest valid key.
    """
    return check_targets_file(read_toml(path))


def check_targets_file(file: TomlFile) -> TargetsFile:
    """Check what a file of ranges says; as `read_targets_file`, for text that was read already."""
    known = (*known_move_names(), ATHLETE)
    above = {name: value for name, value in file.table.items() if name not in known}
    head = checked(file, (), above, Head, also=known)
    if (head.inside_level or 0.95) <= (head.outside_level or 0.05):
        level = "inside_level" if head.inside_level is not None else "outside_level"
        raise file.error(level, **told("verdict_levels_reversed"))
    moves = {name: value for name, value in file.table.items() if name in known_move_names()}
    entries = _entries(file, (), moves, ANY, head)
    names: dict[str, str] = {}
    for name, table in _tables(file, (ATHLETE,), file.table.get(ATHLETE, {})):
        _check_name(file, name, names)
        entries |= _entries(file, (ATHLETE, name), table, athlete_key(name), head)
    levels = {"inside_level": head.inside_level, "outside_level": head.outside_level}
    return TargetsFile(
        verdict_levels={name: level for name, level in levels.items() if level is not None},
        entries=entries,
        file=file,
    )


def keys_of(place: Place, key: str, *, athlete: str | None = None) -> tuple[str, ...]:
    """Nested keys of an entry in a file, with the athlete's name as it is written there."""
    person = () if place.athlete == ANY else (ATHLETE, athlete or place.athlete)
    hand = () if place.hand == ANY else (place.hand,)
    return (*person, place.move, place.level, *hand, key)


def _entries(
    file: TomlFile, above: tuple[str, ...], table: dict[str, Any], athlete: str, head: Head
) -> dict[tuple[Place, str], TargetEntry]:
    """All ranges for anyone, or those for one athlete."""
    found = {}
    no_move, no_level = message("range_faults.no_move"), message("range_faults.no_level")
    for move, levels in _tables(file, above, table, known_move_names(), no_move):
        infos = {info.key: info for info in measures_with_range(move)}
        unknown = message("range_faults.no_measure", move=move)
        for level, ranges in _tables(file, (*above, move), levels, LEVELS, no_level):
            keys = (*above, move, level)
            for name, below in _tables(file, keys, ranges, (*infos, *HANDS), unknown):
                inside = [(name, below)]
                if name in HANDS:
                    inside = _tables(file, (*keys, name), below, infos, unknown)
                hand, place = (name, (*keys, name)) if name in HANDS else (ANY, keys)
                for key, written in inside:
                    entry = read_entry(file, (*place, key), written, infos[key], head)
                    found[Place(move, level, hand, athlete), key] = entry
    return found


def _tables(
    file: TomlFile,
    place: tuple[str, ...],
    table: object,
    allowed: Collection[str] | None = None,
    unknown: Message | None = None,
) -> list[tuple[str, dict[str, Any]]]:
    """Sub-tables of a table, each name being one of the allowed ones if there is a list of them."""
    if not isinstance(table, dict):
        raise file.error(*place, **told("not_a_range_table"))
    for name, below in table.items():
        if allowed is not None and name not in allowed:
            near = nearest(name, allowed)
            raise file.error(*place, name, **told("no_such_range_key", what=unknown, nearest=near))
        if not isinstance(below, dict):
            raise file.error(*place, name, **told("not_a_range_table"))
    return list(table.items())


def _check_name(file: TomlFile, name: str, names: dict[str, str]) -> None:
    """Raise `SettingsError` for a name that is none, or that stands there in another spelling."""
    try:
        check_athlete(name, named=name)
    except SettingsError as error:  # only now its line, which takes a look at the whole file
        said = told("not_an_athlete", do=error.what_to_do)
        raise file.error(ATHLETE, name, **said) from error
    other = names.setdefault(athlete_key(name), name)
    if other != name:
        raise file.error(ATHLETE, name, **told("same_athlete", other=other))
