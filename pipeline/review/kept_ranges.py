"""Target ranges as they were written, with bounds where a page can say them in other units."""

from __future__ import annotations

from pipeline.measures.table import MEASURES
from pipeline.message import Message
from pipeline.range_words import read_again
from pipeline.result_types import TargetRange


def kept_range(key: str, written: str) -> TargetRange:
    """Give a range for `pipeline.words.say_range`.

    Parameters
    ----------
    key
        Of the measure.
    written
        As `ChosenRange.words` said it, or as the log keeps that.

    Returns
    -------
    TargetRange
        With bounds if all that are set are in the measure's own unit, and not parts of a length;
        else in words alone.
    """
    said = read_again(written)
    low, high = _bounds(key, said)
    unit = MEASURES[key].unit if key in MEASURES else ""
    return TargetRange(key=key, unit=unit, low=low, high=high, words=said, set_by="", why="")


def _bounds(key: str, said: str) -> tuple[float | None, float | None]:
    if not isinstance(said, Message) or key not in MEASURES:
        return None, None
    info, sides = MEASURES[key], said.values
    # Of two bounds in one unit it stands behind the second alone.
    units = {bound.key.partition(".")[2] for bound in sides.values()} - {"number"}
    if units != (set() if info.unit == "1" else {info.unit_word}):
        return None, None
    numbers = {side: float(bound.values["value"]) for side, bound in sides.items()}
    if said.key.endswith(".exactly"):
        numbers["high"] = numbers["low"]
    return numbers.get("low"), numbers.get("high")
