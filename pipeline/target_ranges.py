"""Target ranges as data: what a coach asks of each measure, by move and level of play."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import isnan
from typing import Literal

from pipeline.measures.table import MEASURES
from pipeline.settings import DEFAULT_LEVEL
from pipeline.types import TargetRange

Bound = Literal["unit", "of_stature"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetEntry:
    """One range as it stands in a file, before the athlete's stature is known.

    Attributes
    ----------
    key
        Measure key.
    low, high
        Bounds in the measure's unit or as a fraction of stature; None = open on that side.
    low_in, high_in
        What each bound is in.
    set_by, why
        Who set it and on what ground.
    no_range
        The coach wants this measure shown without a range.
    """

    key: str
    low: float | None
    high: float | None
    low_in: Bound
    high_in: Bound
    set_by: str
    why: str
    no_range: bool = False

    def for_stature(self, stature_m: float) -> TargetRange:
        """Bounds in the measure's own unit for an athlete of this stature (m)."""
        return TargetRange(
            key=self.key,
            unit=MEASURES[self.key].unit,
            low=_in_unit(self.low, self.low_in, stature_m),
            high=_in_unit(self.high, self.high_in, stature_m),
            words=self._words(),
            set_by=self.set_by,
            why=self.why,
        )

    def _words(self) -> str:
        info = MEASURES[self.key]
        low = _bound_words(self.low, self.low_in, info.unit)
        high = _bound_words(self.high, self.high_in, info.unit)
        if self.low is None:
            return f"at most {high}"
        if self.high is None:
            return f"at least {low}"
        if self.low == self.high and self.low_in == self.high_in:
            return f"exactly {low}"
        if self.low_in == self.high_in:
            return f"{self.low:g} to {high}"
        return f"{low} to {high}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Targets:
    """All ranges, and the probabilities that decide between the words of a verdict.

    Attributes
    ----------
    inside_level, outside_level
        A value is in range when it is so with at least the first probability, and out of range
        when it is inside with at most the second.
    layers
        From the weakest to the strongest: ``move -> level -> measure key -> entry``.
    """

    inside_level: float
    outside_level: float
    layers: tuple[Mapping[str, Mapping[str, Mapping[str, TargetEntry]]], ...]

    def for_athlete(self, move: str, level: str, stature_m: float) -> dict[str, TargetRange]:
        """Ranges for one athlete.

        Parameters
        ----------
        move, level
            Keys of the move and of the level of play.
        stature_m
            Stature in metres; NaN if it is not known, and then ranges given as a fraction of
            stature are left out.

        Returns
        -------
        dict of str to TargetRange
            By measure key, bounds in the measure's own unit. A coach's range for any level is
            stronger than a shipped one for this level.
        """
        chosen: dict[str, TargetEntry] = {}
        for layer in self.layers:
            for name in dict.fromkeys((DEFAULT_LEVEL, level)):
                chosen.update(layer.get(move, {}).get(name, {}))
        ranges = {
            key: entry.for_stature(stature_m) for key, entry in chosen.items() if not entry.no_range
        }
        # An unknown stature makes a bound NaN; a range with half of its bounds would mislead.
        return {key: range_ for key, range_ in ranges.items() if _is_known(range_)}


def _in_unit(bound: float | None, bound_in: Bound, stature_m: float) -> float | None:
    if bound is None:
        return None
    return bound * stature_m if bound_in == "of_stature" else bound


def _bound_words(bound: float | None, bound_in: Bound, unit: str) -> str:
    if bound is None:
        return ""
    if bound_in == "of_stature":
        return f"{bound:g} of stature"
    return f"{bound:g}" if unit == "1" else f"{bound:g} {unit}"


def _is_known(range_: TargetRange) -> bool:
    return not any(bound is not None and isnan(bound) for bound in (range_.low, range_.high))
