"""Target ranges as they are in a file: for whom, each bound as written, by whom and why."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple

from pipeline.core.messages import Message, message
from pipeline.core.toml_file import TomlFile

if TYPE_CHECKING:
    from pipeline.core.results import Side

Scale = Literal["unit", "of_stature", "of_arm"]
SIDES: tuple[Side, Side] = ("low", "high")
ANY = "any"
SHIPPED, COACH = "shipped", "coach"
OPEN, INHERIT = "open", "inherit"
"""Words in the place of a bound: without a limit, or as the range above has it."""
SCALES = ("stature", "arm")
"""Lengths of the athlete of which a bound may be a fraction."""


def athlete_key(name: str) -> str:
    """Form of an athlete's name in which two spellings of it are the same.

    Examples
    --------
    >>> athlete_key("  Player  SEVEN ") == athlete_key("player seven")
    True
    """
    return " ".join(unicodedata.normalize("NFC", name).casefold().split())


class Scope(NamedTuple):
    """For whom a range holds; ``any`` where it does not matter. The athlete by `athlete_key`."""

    move: str
    level: str = ANY
    hand: str = ANY
    athlete: str = ANY

    def words(self) -> Message:
        """Level, hand and athlete in words."""
        scope = message("range_place.any_level")
        if self.level != ANY:
            scope = message("range_place.level", level=f"levels.{self.level}")
        if self.hand != ANY:
            scope = message("range_place.hand", place=scope, hand=f"hand_names.{self.hand}")
        if self.athlete != ANY:
            scope = message("range_place.athlete", place=scope, athlete=self.athlete)
        return scope


@dataclass(frozen=True, slots=True, kw_only=True)
class Bound:
    """One bound as a coach wrote it: a number, or None for a side that is open on purpose."""

    value: float | None
    scale: Scale = "unit"


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetEntry:
    """A file's entry of one measure in one scope.

    Attributes
    ----------
    key
        Measure key.
    keys
        The nested keys in the file, for messages.
    low, high
        The bounds; None = not set here, so that a weaker scope decides.
    set_by, why
        Who set it and on what ground.
    no_range
        The coach wants this measure shown without a range.
    """

    key: str
    keys: tuple[str, ...]
    low: Bound | None
    high: Bound | None
    set_by: str
    why: str
    no_range: bool = False

    def bound(self, side: Side) -> Bound | None:
        """Return this entry's bound of one side."""
        if self.no_range:
            return Bound(value=None)
        return self.low if side == "low" else self.high


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """The ranges of one file.

    Attributes
    ----------
    name
        `SHIPPED` or `COACH`.
    entries
        By place and measure key.
    file
        For messages that name a line.
    """

    name: str
    entries: Mapping[tuple[Scope, str], TargetEntry]
    file: TomlFile
