"""The words: load the file of sentences, and say numbers with their uncertainty and ranges."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

from pipeline.data_folder import data_folder
from pipeline.measures.table import MEASURES
from pipeline.result_types import FieldSide, Measurement, TargetRange
from pipeline.types import Rep
from pipeline.words_file import read_words

COACHS_WORDS = "words.toml"
SHIPPED_WORDS = Path(__file__).parent / "data" / "words.toml"

COVERAGE_FACTOR = 1.96
"""Standard uncertainties in half of a 95 % interval of a normal distribution."""

LATER_WEIGHT = 0.8
"""How much less the next measure in the order of a move helps than the one before it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """All sentences, by section and name.

    Attributes
    ----------
    units
        Word behind a number, by unit word (m, s, deg, mps, ratio, count).
    numbers
        How a number and a range are said.
    moves
        Per move: its name, and what one and many of them are counted as.
    order
        Per move: measures in the order in which they are talked about.
    weight
        Per move and measure: how much it helps to hear of it, where it is not left to the order.
    look_from
        Per measure: from where on it is a prompt to look.
    sentences, riders, session, session_table, cautions, notes, grades
        Sentences by name.
    measure
        Per measure: its name and the phrases for each side of a range.
    of_move
        Per move and measure: phrases that differ from those of the measure.
    sources
        Per source of uncertainty: that it is the greatest, and what to do about it.
    overlay
        Words on film, and the names of key events.
    """

    units: Mapping[str, str]
    numbers: Mapping[str, str]
    moves: Mapping[str, Mapping[str, str]]
    order: Mapping[str, tuple[str, ...]]
    weight: Mapping[str, Mapping[str, float]]
    look_from: Mapping[str, float]
    sentences: Mapping[str, str]
    riders: Mapping[str, str]
    session: Mapping[str, str]
    session_table: Mapping[str, str]
    measure: Mapping[str, Mapping[str, str]]
    of_move: Mapping[str, Mapping[str, Mapping[str, str]]]
    cautions: Mapping[str, str]
    notes: Mapping[str, str]
    grades: Mapping[str, str]
    sources: Mapping[str, str]
    overlay: Mapping[str, str]

    def move_name(self, move: str) -> str:
        """Name of a move in plain words; its key with spaces if it has none."""
        return self.moves.get(move, {}).get("name", move.replace("_", " "))

    def say_found(self, told: str | None, moves: Sequence[str]) -> str:
        """Say how many reps of which moves were found.

        Parameters
        ----------
        told
            The move that was asked for; None = the program named each rep.
        moves
            Move of each rep.

        Returns
        -------
        str
            Such as ``3 reps of throwback pass`` or ``5 reps (split dodge 3, unknown move 2)``.
        """
        count = f"{len(moves) or 'no'} {'rep' if len(moves) == 1 else 'reps'}"
        if told is not None:
            return f"{count} of {self.move_name(told)}"
        if not moves:
            return count
        parts = (f"{self.move_name(move)} {moves.count(move)}" for move in dict.fromkeys(moves))
        return f"{count} ({', '.join(parts)})"

    def weight_of(self, move: str, key: str) -> float:
        """How much it helps a player of this move to hear of a measure: 1 most, 0 never told.

        What has no weight of its own follows from its place in the order of the move: 1, then
        `LATER_WEIGHT` of the one before; what is not in the order comes after all that is.
        """
        own = self.weight.get(move, {}).get(key)
        if own is not None:
            return own
        order = self.order.get(move, ())
        return LATER_WEIGHT ** (order.index(key) if key in order else len(order))

    def for_move(self, move: str) -> Words:
        """Give the words with the phrases of each measure as they are in this move."""
        differ = self.of_move.get(move, {})
        if not differ:
            return self
        own = {key: {**self.measure.get(key, {}), **phrases} for key, phrases in differ.items()}
        return replace(self, measure={**self.measure, **own})


def load_words(path: Path | None = None) -> Words:
    """Read the shipped sentences and, over them, a coach's own.

    Parameters
    ----------
    path
        A file with the sentences that differ; None for ``words.toml`` in the data folder, if there
        is one.

    Returns
    -------
    Words
        All sentences.

    Raises
    ------
    SettingsError
        A file cannot be read, has an entry nobody asks for, or names something in braces that is
        not there to be put in; with file and line.
    """
    own = data_folder() / COACHS_WORDS if path is None else path
    return _read(own if path is not None or own.exists() else None)


@lru_cache(maxsize=4)
def _read(path: Path | None) -> Words:
    table = read_words(SHIPPED_WORDS, path)
    order = {move: tuple(keys) for move, keys in table["order"].items()}
    return Words(**{**table, "order": order})


def give_or_take(measurement: Measurement) -> float | None:
    """Half of the 95 % interval, which is what "give or take" means here; None if unknown.

    Two standard uncertainties and not one: a reader takes "1.71 m, give or take 0.04 m" to mean
    that the true value is nearly always in there, and verdicts then agree with what is read.
    """
    if measurement.interval95 is not None:
        low, high = measurement.interval95
        return 0.5 * (high - low)
    return None if measurement.u is None else COVERAGE_FACTOR * measurement.u


def say_number(words: Words, measurement: Measurement) -> str:
    """Say a measured value with its uncertainty: ``1.71 m, give or take 0.04 m``.

    The give or take is rounded up, so that what is shown never promises more than is known.

    Raises
    ------
    ValueError
        The measurement has no value.
    """
    if measurement.value is None:
        raise ValueError(f"{measurement.key}: there is no number to say")
    key = measurement.key
    value = _with_unit(words, key, measurement.value)
    half_width = give_or_take(measurement)
    if half_width is None or not math.isfinite(half_width):
        return words.numbers["sure"].format(value=value)
    shown = _rounded_up(half_width, _decimals(key))
    if _is_count(key):
        shown = float(round(half_width))
        if shown == 0.0:
            return words.numbers["sure"].format(value=value)
    return words.numbers["with_uncertainty"].format(
        value=value, half_width=_with_unit(words, key, shown)
    )


def say_rep(rep: Rep, side: FieldSide) -> str:
    """Say when a rep was, the hand on top, and the side of the field or why that is not known."""
    said = f"{rep.start_s:.1f} s to {rep.stop_s:.1f} s"
    if rep.stick_hand:
        said += f", {rep.stick_hand} hand on top"
    if side.side is None:
        return f"{said}, side of the field not known ({side.reason})"
    return f"{said}, {side.side} side of the field for that hand"


def say_mean(words: Words, key: str, mean: float, half_width: float | None = None) -> str:
    """Say a mean over reps, with its give or take where there is one; counts with one decimal."""
    decimals = max(1, _decimals(key)) if _is_count(key) else _decimals(key)
    unit = _unit_of(words, key)
    value = f"{_plain(mean, decimals)} {unit}".rstrip()
    if half_width is None or not math.isfinite(half_width) or half_width <= 0.0:
        return words.numbers["sure"].format(value=value)
    shown = f"{_plain(_rounded_up(half_width, decimals), decimals)} {unit}".rstrip()
    return words.numbers["with_uncertainty"].format(value=value, half_width=shown)


def say_range(words: Words, target: TargetRange) -> str:
    """Say a range in the measure's own unit, such as ``1.41 to 1.80 m`` or ``at least 0.45 m``."""
    key = target.key
    if target.low is None and target.high is None:
        return target.words
    if target.high is None:
        low = _with_unit(words, key, _known(target.low))
        return words.numbers["at_least"].format(low=low)
    high = _with_unit(words, key, target.high)
    if target.low is None:
        return words.numbers["at_most"].format(high=high)
    if target.low == target.high:
        return words.numbers["exactly"].format(low=high)
    return words.numbers["between"].format(low=plain_number(key, target.low), high=high)


def plain_number(key: str, value: float) -> str:
    """Write a value with the decimals of its measure and no unit; never a minus before a zero."""
    return _plain(value, _decimals(key))


def listed(words: Words, parts: Sequence[object]) -> str:
    """Say several things in a row: ``1, 2 and 4``."""
    texts = [str(part) for part in parts]
    if len(texts) == 1:
        return texts[0]
    return words.cautions["and"].format(list=", ".join(texts[:-1]), **{"and": texts[-1]})


def raised(sentence: str) -> str:
    """Return the sentence with its first letter raised."""
    return sentence[:1].upper() + sentence[1:]


def _plain(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}"
    return text.lstrip("-") if float(text) == 0.0 else text


def _with_unit(words: Words, key: str, value: float) -> str:
    return f"{plain_number(key, value)} {_unit_of(words, key)}".rstrip()


def _unit_of(words: Words, key: str) -> str:
    """Word of the unit; of a measure that is not in the table, by the last word of its key."""
    info = MEASURES.get(key)
    last = key.rpartition("_")[2]
    return words.units[info.unit_word] if info is not None else words.units.get(last, "")


def _decimals(key: str) -> int:
    if key in MEASURES:
        return MEASURES[key].decimals
    return 0 if key.endswith("_deg") else 2


def _is_count(key: str) -> bool:
    return key in MEASURES and MEASURES[key].is_count


def _rounded_up(half_width: float, decimals: int) -> float:
    step = 10.0**-decimals
    # A hair less, or 0.04 as 0.04000000001 would be raised to 0.05.
    return max(1, math.ceil(half_width / step - 1e-6)) * step


def _known(bound: float | None) -> float:
    return math.nan if bound is None else bound
