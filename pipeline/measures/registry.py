"""The registry of measures: a decorated function is a measure, with all that is known of it."""

from __future__ import annotations

import inspect
import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from pipeline.core.catalogue import ENGLISH, shipped_texts
from pipeline.core.messages import shipped
from pipeline.core.move_table import MOVE_INFO
from pipeline.measures.advice import NO_RULE, AdviceRule
from pipeline.measures.view import MeasureFunction

Unit = Literal["m", "s", "deg", "m/s", "deg/s", "1"]
UnitWord = Literal["m", "s", "deg", "mps", "dps", "ratio", "count"]

Ground = Literal["field", "own_foot", "none"]
"""What a measure needs of the ground: places on the field; the foot that one stands on, as heights
above it do; or nothing, as times between movements of the hands and angles between parts of the
body, which hold in any frame of reference."""

ReadFrom = Literal["body", "hands", "release", "run", "defender"]
"""What has to be seen well for a measure. The release is one of the hands, the room to a defender
one of the run."""

LineKind = Literal["height", "step", "ground"]
"""How its line is drawn: above the ground, as an arrow on it, or as a line between two places."""

ArmOf = Literal["athlete", "defender", "nobody"]
"""Whose arm a range in arm lengths means; nobody's: such a range makes no sense."""

BodyLine = tuple[tuple[str, ...], ...]
"""A line through points of the body, each half way between the joints that are named; ``{top}`` and
``{bottom}`` stand for the side of the top and of the bottom hand."""

MID_HIPS, MID_SHOULDERS = ("left_hip", "right_hip"), ("left_shoulder", "right_shoulder")
TRUNK: BodyLine = (MID_HIPS, MID_SHOULDERS)
HIPS: BodyLine = (("left_hip",), ("right_hip",))
SHOULDERS: BodyLine = (("left_shoulder",), ("right_shoulder",))

_UNITS: Mapping[UnitWord, tuple[Unit, int]] = {
    "m": ("m", 2),
    "s": ("s", 2),
    "deg": ("deg", 0),
    "mps": ("m/s", 1),
    "dps": ("deg/s", 0),
    "ratio": ("1", 2),
    "count": ("1", 0),
}
"""Unit symbol and decimals by the last word of a key; a key that ends with none is a count."""

GREATEST: Mapping[UnitWord, float] = {"mps": 12.5, "dps": 1500.0}
"""What no athlete exceeds, by unit word; a value beyond it is an error of the landmarks.

The fastest sprint measured reached 12.3 m/s (R. Graubner and E. Nixdorf, *New Studies in Athletics*
26, 2011); the trunk of professional pitchers turns at up to about 1,200 degrees a second (G. S.
Fleisig et al., *Journal of Biomechanics* 32, 1999). Both from memory."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureInfo:
    """One measure: its function, and what is fixed about it.

    Attributes
    ----------
    key
        Name of the measure; its last word is the unit, except for counts.
    function
        Reads it from a rep.
    unit_word
        The unit as the last word of a name.
    decimals
        Decimals that are shown to people.
    moves
        Keys of the moves it is measured in.
    ground, read_from
        What it needs of the ground, and what has to be seen well.
    depends_on_time
        Whether it depends on the instants of the frames.
    line, line_at
        How it is drawn in a picture, None for not at all; the event that the picture has to show
        for it, None for any.
    body_lines
        Lines between joints that show it.
    arm_of
        Whose arm a range in arm lengths means.
    once_per_clip
        Whether it is a fact of the clip: the same in each rep, so that a spread means nothing.
    greatest
        What no athlete exceeds; a greater value is refused.
    falls_when_tired, may_fall_in
        Whether it comes down as an arm tires, and the moves in which a fall has other causes.
    prompt
        Name of the prompt to look that it raises; None for none.
    low, high
        What holds for the advice on each side of its range.
    """

    key: str
    function: MeasureFunction
    unit_word: UnitWord
    decimals: int
    moves: tuple[str, ...]
    ground: Ground
    read_from: ReadFrom
    depends_on_time: bool
    line: LineKind | None
    line_at: str | None
    body_lines: tuple[BodyLine, ...]
    arm_of: ArmOf
    once_per_clip: bool
    greatest: float
    falls_when_tired: bool
    may_fall_in: tuple[str, ...]
    prompt: str | None
    low: AdviceRule
    high: AdviceRule

    @property
    def unit(self) -> Unit:
        """Unit symbol: m, s, deg, m/s, deg/s or 1."""
        return _UNITS[self.unit_word][0]

    @property
    def is_count(self) -> bool:
        """Whether the value is a whole number of things."""
        return self.unit_word == "count"

    @property
    def title(self) -> str:
        """Name in plain English, as a row heading; it stands in the catalogue of texts."""
        return shipped().title(self.key)

    @property
    def definition(self) -> str:
        """What is measured: the first paragraph of the docstring of its function."""
        return " ".join((inspect.getdoc(self.function) or "").split("\n\n")[0].split())


class MeasureTable(Mapping[str, MeasureInfo]):
    """Every measure by its key, in the order of their blocks in the English texts."""

    def __init__(self) -> None:
        self._infos: dict[str, MeasureInfo] = {}

    def __getitem__(self, key: str) -> MeasureInfo:
        return self._infos[key]

    def __iter__(self) -> Iterator[str]:
        place = {key: number for number, key in enumerate(shipped_texts(ENGLISH)["measure"])}
        return iter(sorted(self._infos, key=lambda key: place.get(key, len(place))))

    def __len__(self) -> int:
        return len(self._infos)

    def add(self, info: MeasureInfo) -> None:
        """Add a measure.

        Raises
        ------
        ValueError
            There is one of that key, or it names a move that there is not.
        """
        unknown = {*info.moves, *info.may_fall_in} - set(MOVE_INFO)
        if info.key in self._infos or unknown:
            raise ValueError(f"{info.key}: registered already, or unknown moves {sorted(unknown)}")
        self._infos[info.key] = info


MEASURES = MeasureTable()
"""All measures; complete once `pipeline.measures` is imported."""


def measure(
    key: str,
    *,
    moves: tuple[str, ...],
    decimals: int | None = None,
    ground: Ground = "field",
    read_from: ReadFrom = "body",
    depends_on_time: bool | None = None,
    line: LineKind | None = None,
    line_at: str | None = None,
    body_lines: tuple[BodyLine, ...] = (),
    arm_of: ArmOf = "athlete",
    once_per_clip: bool = False,
    greatest: float | None = None,
    falls_when_tired: bool = False,
    may_fall_in: tuple[str, ...] = (),
    prompt: str | None = None,
    low: AdviceRule = NO_RULE,
    high: AdviceRule = NO_RULE,
) -> Callable[[MeasureFunction], MeasureFunction]:
    """Make a function a measure.

    Its words are the block of its key in the catalogues of texts.

    Parameters
    ----------
    key
        Ends with its unit: ``_m``, ``_s``, ``_deg``, ``_mps``, ``_dps`` or ``_ratio``; any other
        key is that of a count.
    moves
        Keys of the moves it is measured in; `pipeline.core.move_table.moves_of` gives those of a
        kind.
    decimals
        As is usual for the unit, unless given.
    depends_on_time
        As follows from the unit and from `read_from`, unless given.
    ground, read_from, line, line_at, body_lines, arm_of, once_per_clip
        As in `MeasureInfo`.
    greatest
        As is usual for the unit, unless given.
    falls_when_tired, may_fall_in, prompt, low, high
        As in `MeasureInfo`.

    Returns
    -------
    Callable
        A decorator that registers the function and gives it back as it is.

    Raises
    ------
    ValueError
        The key is taken, or a move is unknown.
    """
    word = unit_word_in(key)
    timed = _UNITS[word][0] in ("s", "m/s", "deg/s") or read_from == "release"

    def register(function: MeasureFunction) -> MeasureFunction:
        MEASURES.add(
            MeasureInfo(
                key=key,
                function=function,
                unit_word=word,
                decimals=_UNITS[word][1] if decimals is None else decimals,
                moves=moves,
                ground=ground,
                read_from=read_from,
                depends_on_time=timed if depends_on_time is None else depends_on_time,
                line=line,
                line_at=line_at,
                body_lines=body_lines,
                arm_of=arm_of,
                once_per_clip=once_per_clip,
                greatest=GREATEST.get(word, math.inf) if greatest is None else greatest,
                falls_when_tired=falls_when_tired,
                may_fall_in=may_fall_in,
                prompt=prompt,
                low=low,
                high=high,
            )
        )
        return function

    return register


def unit_word_in(key: str) -> UnitWord:
    """Give the unit word that a key ends with; that of a count where it ends with none.

    Examples
    --------
    >>> unit_word_in("top_hand_speed_mps")
    'mps'
    >>> unit_word_in("steps_back")
    'count'
    """
    last = key.rpartition("_")[2]
    return next((word for word in _UNITS if word == last), "count")


def unit_word_of(key: str) -> UnitWord:
    """Give the unit word of a measure; of one not in the table, the last word of its key."""
    if key in MEASURES:
        return MEASURES[key].unit_word
    word = unit_word_in(key)
    return "ratio" if word == "count" else word


def measures_of(move: str) -> tuple[MeasureInfo, ...]:
    """Measures of one move, in the order in which they are shown; empty for an unknown move.

    Parameters
    ----------
    move
        Key of a move, such as ``throwback_pass``.

    Returns
    -------
    tuple of MeasureInfo
        Of the table.
    """
    return tuple(info for info in MEASURES.values() if move in info.moves)


def measures_with_range(move: str) -> tuple[MeasureInfo, ...]:
    """Measures that a range may be set for: those of a move; any of all, for a taught drill."""
    return measures_of(move) or tuple(MEASURES.values())
