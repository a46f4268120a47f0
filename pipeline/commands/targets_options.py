"""Options that the commands on target ranges share, and their checks."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from pipeline.commands.help import option
from pipeline.commands.installation import complete_level
from pipeline.core.errors import SettingsError
from pipeline.core.files import made_folder
from pipeline.core.toml_file import nearest
from pipeline.settings.checks import (
    DEFAULT_LEVEL,
    LEVELS,
    check_athlete,
    check_level,
    check_move,
    known_move_names,
)

if TYPE_CHECKING:
    from pipeline.measures import MeasureInfo

HANDS = (DEFAULT_LEVEL, "left", "right")
LONGEST_TEXT = 500

_Command = TypeVar("_Command", bound=Callable[..., Any])


@dataclass(frozen=True, slots=True, kw_only=True)
class Who:
    """For whom a range applies; None = any."""

    level: str
    hand: str | None
    athlete: str | None


file_option = option(
    "--file", "file_path", metavar="FILE", type=click.Path(path_type=Path),
    help="targets.options.file",
)  # fmt: skip


def who_options(command: _Command) -> _Command:
    """Add ``--level``, ``--hand`` and ``--athlete``."""
    for add in (
        option("--athlete", metavar="NAME", help="targets.options.athlete"),
        option(
            "--hand",
            metavar="HAND",
            help="targets.options.hand",
            placeholders={"hands": ", ".join(HANDS)},
        ),
        option(
            "--level",
            metavar="LEVEL",
            shell_complete=complete_level,
            help="options.level",
            placeholders={"levels": ", ".join(LEVELS)},
        ),
    ):
        command = add(command)
    return command


def sign_options(command: _Command) -> _Command:
    """Add ``--by``, ``--why`` and ``--file``."""
    for add in (
        file_option,
        option("--why", required=True, metavar="TEXT", help="targets.options.why"),
        option("--by", required=True, metavar="WHO", help="targets.options.by"),
    ):
        command = add(command)
    return command


def checked_who(level: str | None, hand: str | None, athlete: str | None) -> Who:
    """Check for whom a range applies; raises `SettingsError`."""
    if hand is not None and hand not in HANDS:
        raise SettingsError.of("no_such_hand", hand=hand, nearest=nearest(hand, HANDS))
    anyone = athlete is None or athlete.strip().lower() == DEFAULT_LEVEL
    return Who(
        level=DEFAULT_LEVEL if level is None else check_level(level, named="--level"),
        hand=None if hand == DEFAULT_LEVEL else hand,
        athlete=None if athlete is None or anyone else check_athlete(athlete, named="--athlete"),
    )


def checked_moves(move: str | None) -> tuple[str, ...]:
    """Give the requested move, or all; raises `SettingsError`."""
    return known_move_names() if move is None else (check_move(move, named="--move"),)


def checked_measure(move: str, measure: str) -> MeasureInfo:
    """Give the description of a measure of a move; raises `SettingsError` with the nearest key."""
    from pipeline.measures import measures_with_range

    infos = {info.key: info for info in measures_with_range(check_move(move, named="MOVE"))}
    if measure not in infos:
        near = nearest(measure, infos)
        raise SettingsError.of("no_measure_of_move", measure=measure, move=move, nearest=near)
    return infos[measure]


def checked_text(text: str, *, named: str) -> str:
    """Strip a text; raises `SettingsError` if it is empty, too long or not printable."""
    stripped = text.strip()
    if not 0 < len(stripped) <= LONGEST_TEXT or not stripped.isprintable():
        raise SettingsError.of("no_words_for_range", named=named)
    return stripped


def file_to_write(named: Path | None) -> Path:
    """Give the named file, or the coach's file in the data folder, which is made."""
    from pipeline.targets.load import COACH_FILE

    if named is None:
        return made_folder() / COACH_FILE
    if not named.parent.is_dir():
        raise SettingsError.of("no_folder_for_ranges", file=str(named))
    return named
