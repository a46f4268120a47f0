"""Target ranges as a coach wrote them: bounds with their units, in words and as plain values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from pipeline.core.messages import Message, message


@dataclass(frozen=True, slots=True)
class WrittenBound:
    """One bound of a range.

    Attributes
    ----------
    value
        As it was written.
    unit
        Name of its unit in ``[written_bound]``: m, s, deg, mps, dps, number, of_stature, of_arm or
        of_defenders_arm.
    """

    value: float
    unit: str

    def words(self) -> Message:
        """Put the bound into words, e.g. ``0.94 of stature``."""
        return message(f"written_bound.{self.unit}", value=self.value)


@dataclass(frozen=True, slots=True)
class WrittenRange:
    """A range; None is an open side."""

    low: WrittenBound | None = None
    high: WrittenBound | None = None

    @property
    def units(self) -> set[str]:
        """Units of the bounds that are set."""
        return {bound.unit for bound in (self.low, self.high) if bound is not None}

    def words(self) -> Message:
        """Put the range into words, e.g. ``0.94 to 1.2 of stature``."""
        low, high = self.low, self.high
        if low is None:
            if high is None:
                return message("written_range.none")
            return message("written_range.at_most", high=high.words())
        if high is None:
            return message("written_range.at_least", low=low.words())
        if low == high:
            return message("written_range.exactly", low=low.words())
        if low.unit == high.unit:  # the unit stands behind the second bound alone
            low = WrittenBound(low.value, "number")
        return message("written_range.between", low=low.words(), high=high.words())

    def document(self) -> dict[str, Any]:
        """Give the range as plain values for JSON.

        Examples
        --------
        >>> WrittenRange(low=WrittenBound(0.4, "m")).document()
        {'low': {'value': 0.4, 'unit': 'm'}, 'high': None}
        """
        return asdict(self)


def written_range_of(document: Mapping[str, Any]) -> WrittenRange:
    """Make a range of what `WrittenRange.document` gave."""
    low, high = (
        None if bound is None else WrittenBound(float(bound["value"]), str(bound["unit"]))
        for bound in (document["low"], document["high"])
    )
    return WrittenRange(low, high)
