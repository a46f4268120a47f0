"""The words: load the file of sentences, and say numbers with their uncertainty and ranges."""

from __future__ import annotations

import math
import string
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from pipeline.measures.table import MEASURES
from pipeline.toml_file import TomlFile, nearest, read_toml
from pipeline.types import FieldSide, Measurement, Rep, TargetRange

SHIPPED_WORDS = Path(__file__).parent / "data" / "words.toml"

COVERAGE_FACTOR = 1.96
"""Standard uncertainties in half of a 95 % interval of a normal distribution."""

_SENTENCE_NAMES = frozenset(
    {"said", "Said", "number", "range", "wrong", "try", "aim", "name", "reason"}
)
_PLACEHOLDERS: Mapping[str, frozenset[str]] = {
    "numbers": frozenset({"value", "half_width", "low", "high"}),
    "sentences": _SENTENCE_NAMES,
    "cautions": frozenset({"count", "reps", "list"}),
    "measure": frozenset({"number"}),
    "sources": frozenset(),
}


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
    sentences, cautions, grades
        Sentences by name.
    measure
        Per measure: its name and the phrases for each side of a range.
    sources
        Per source of uncertainty: that it is the greatest, and what to do about it.
    """

    units: Mapping[str, str]
    numbers: Mapping[str, str]
    moves: Mapping[str, Mapping[str, str]]
    order: Mapping[str, tuple[str, ...]]
    sentences: Mapping[str, str]
    measure: Mapping[str, Mapping[str, str]]
    cautions: Mapping[str, str]
    grades: Mapping[str, str]
    sources: Mapping[str, str]

    def move_name(self, move: str) -> str:
        """Name of a move in plain words; its key with spaces if it has none."""
        return self.moves.get(move, {}).get("name", move.replace("_", " "))


@lru_cache(maxsize=4)
def load_words(path: Path | None = None) -> Words:
    """Read the shipped sentences and, over them, a coach's own.

    Parameters
    ----------
    path
        A file with the sentences that differ; None for the shipped ones alone.

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
    shipped = read_toml(SHIPPED_WORDS)
    table = shipped.table
    _check_placeholders(shipped)
    if path is not None:
        own = read_toml(path)
        _check_entries(own, own.table, table)
        _check_placeholders(own)
        table = _merged(table, own.table)
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
    text = f"{value:.{_decimals(key)}f}"
    return text.lstrip("-") if float(text) == 0.0 else text


def raised(sentence: str) -> str:
    """Return the sentence with its first letter raised."""
    return sentence[:1].upper() + sentence[1:]


def _with_unit(words: Words, key: str, value: float) -> str:
    info = MEASURES.get(key)
    unit = words.units[info.unit_word] if info is not None else ""
    return f"{plain_number(key, value)} {unit}".rstrip()


def _decimals(key: str) -> int:
    return MEASURES[key].decimals if key in MEASURES else 2


def _is_count(key: str) -> bool:
    return key in MEASURES and MEASURES[key].is_count


def _rounded_up(half_width: float, decimals: int) -> float:
    step = 10.0**-decimals
    # A hair less, or 0.04 as 0.04000000001 would be raised to 0.05.
    return max(1, math.ceil(half_width / step - 1e-6)) * step


def _known(bound: float | None) -> float:
    return math.nan if bound is None else bound


def _check_entries(
    file: TomlFile, own: Mapping[str, Any], shipped: Mapping[str, Any], *place: str
) -> None:
    for name, value in own.items():
        if name not in shipped:
            raise file.error(
                *place, name, wrong="nothing is said there.", what_to_do=nearest(name, shipped)
            )
        if type(value) is not type(shipped[name]):
            kinds: dict[type, str] = {str: "text in quotes", list: "a list"}
            kind = kinds.get(type(shipped[name]), "a table")
            raise file.error(*place, name, wrong=f"must be {kind}.", what_to_do="Change it.")
        if isinstance(value, dict):
            _check_entries(file, value, shipped[name], *place, name)


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
        below = merged[name]
        merged[name] = _merged(below, value) if isinstance(value, dict) else value
    return merged
