"""Says a target range in the language and the units of the page, also one that the log keeps."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.chosen_range import ChosenBound, ChosenRange
from pipeline.measures.table import MEASURES
from pipeline.message import shipped
from pipeline.result_types import TargetRange
from pipeline.target_arms import takes_defenders_arm
from pipeline.words import Words, say_range, say_tick

_PARTS_OF = {
    shipped().text(f"review.{name}", share="").strip(): name
    for name in ("of_stature", "of_arm", "of_defenders_arm")
}
"""How the log names what a bound is a part of, and its text in ``[review]``."""


@dataclass(frozen=True, slots=True)
class _Bound:
    """A number in the measure's own unit, or a part of a length (a text of ``[review]``)."""

    value: float
    part_of: str | None = None


def say_chosen(words: Words, chosen: ChosenRange | None) -> str:
    """Say the range that holds, such as ``0.94 to 1.2 of stature``; empty if there is none."""
    if chosen is None:
        return ""
    low, high = (_of_chosen(chosen.key, side) for side in (chosen.low, chosen.high))
    return _said(words, chosen.key, low, high)


def say_kept(words: Words, key: str, kept: str) -> str:
    """Say a range that the log keeps in English, as `ChosenRange.words` wrote it."""
    if key not in MEASURES:
        return kept
    try:
        return _said(words, key, *_of_kept(kept, MEASURES[key].unit))
    except ValueError:
        return kept


def _of_chosen(key: str, side: ChosenBound | None) -> _Bound | None:
    if side is None or side.bound.value is None:
        return None
    if side.bound.scale == "unit":
        return _Bound(side.bound.value)
    is_defenders = side.bound.scale == "of_arm" and takes_defenders_arm(key)
    return _Bound(side.bound.value, "of_defenders_arm" if is_defenders else side.bound.scale)


def _of_kept(kept: str, own_unit: str) -> tuple[_Bound | None, _Bound | None]:
    """Read both bounds; raises `ValueError` for what is no range of this unit."""
    for opening, sides in (("at least ", (0,)), ("at most ", (1,)), ("exactly ", (0, 1))):
        if kept.startswith(opening):
            bound = _bound(kept.removeprefix(opening), own_unit)
            return bound if 0 in sides else None, bound if 1 in sides else None
    low, _, high = kept.partition(" to ")
    unit = high.partition(" ")[2]
    low = low if " " in low else f"{low} {unit}"
    return _bound(low, own_unit), _bound(high, own_unit)


def _bound(written: str, own_unit: str) -> _Bound:
    number, _, unit = written.partition(" ")
    if unit and unit not in (own_unit, *_PARTS_OF):
        raise ValueError(written)
    return _Bound(float(number), _PARTS_OF.get(unit))


def _said(words: Words, key: str, low: _Bound | None, high: _Bound | None) -> str:
    bounds = [bound for bound in (low, high) if bound is not None]
    if not bounds:
        return words.text("review.no_range")
    if all(bound.part_of is None for bound in bounds):
        target = TargetRange(
            key=key, unit=MEASURES[key].unit, words="", set_by="", why="",
            low=None if low is None else low.value, high=None if high is None else high.value,
        )  # fmt: skip
        return say_range(words, target)
    numbers, said = words.numbers, [_one(words, key, bound) for bound in bounds]
    if len(bounds) == 1:
        return numbers["at_least" if high is None else "at_most"].format(low=said[0], high=said[0])
    if bounds[0] == bounds[1]:
        return numbers["exactly"].format(low=said[0])
    if bounds[0].part_of == bounds[1].part_of:
        said[0] = say_tick(words, bounds[0].value)  # the length is named once, behind both
    return numbers["between"].format(low=said[0], high=said[1])


def _one(words: Words, key: str, bound: _Bound) -> str:
    if bound.part_of is None:
        info = MEASURES[key]
        return words.texts.figures.quantity(bound.value, info.unit_word, info.decimals)
    return words.text(f"review.{bound.part_of}", share=say_tick(words, bound.value))
