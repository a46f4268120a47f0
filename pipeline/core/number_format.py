"""How numbers are written for people: decimals, the mark before them, and units to read in."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from pipeline.core.catalogue import METRIC, Units

INCH_M = 0.0254
FOOT_M = 0.3048
MILE_M = 1609.344
"""Exact since 1959: the international yard is 0.9144 m (NIST Special Publication 811, 2008,
appendix B.6), a foot a third of it, an inch a twelfth of that, a mile 1760 yards."""

MPH_MPS = MILE_M / 3600.0

HAIR = 1e-6
"""What a number may lie over a step before it is rounded up to the next: 0.04 is often
0.04000000001."""


@dataclass(frozen=True, slots=True)
class NumberFormat:
    """How numbers are written in one language and one system of units.

    What is measured stays in metres and seconds everywhere; this is for reading alone. Lengths
    in feet are written in feet and whole inches, those under a foot in inches with one decimal;
    speeds in miles an hour, as sport gives them; all else is the same in both systems.

    Attributes
    ----------
    units
        Word of each unit: m, cm, s, ms, deg, mps, dps, px, ratio, count, ft, in, mph.
    decimal
        Mark before the decimals.
    percent
        How a share is written, with ``{value}``.
    system
        Units to read in.
    """

    units: Mapping[str, str]
    decimal: str = "."
    percent: str = "{value}%"
    system: Units = METRIC

    def number(self, value: float, decimals: int) -> str:
        """Write a number without a unit; never a minus before a zero."""
        text = f"{value:.{decimals}f}"
        return (text.lstrip("-") if float(text) == 0.0 else text).replace(".", self.decimal)

    def quantity(self, value: float, unit: str, decimals: int, *, up: bool = False) -> str:
        """Write a number with its unit, such as ``1.71 m`` or ``5 ft 7 in``.

        Parameters
        ----------
        value
            In the unit in which it is measured.
        unit
            Unit word: m, cm (of a value in metres), mps and so on.
        decimals
            In the unit in which it is measured.
        up
            Whether to round up, for what must not promise more than is known; in feet to a whole
            inch, for it stands beside a length that is written so.
        """
        if unit in ("m", "cm") and self.system == "feet":
            return self._feet(value, decimals if unit == "m" else 2, up=up)
        if unit == "mps" and self.system == "feet":
            value, unit, decimals = value / MPH_MPS, "mph", max(1, decimals)
        elif unit == "cm":
            value *= 100.0
        if up:
            value = _up(value, 10.0**-decimals)
        return f"{self.number(value, decimals)} {self.units[unit]}".rstrip()

    def half_width(self, half_width: float, value: float, unit: str, decimals: int) -> str:
        """Write an uncertainty: in the steps in which the value is written, rounded up.

        It is at least one step, so that what is shown never promises more than is known.
        """
        step = 10.0**-decimals
        if unit == "m" and self.system == "feet":
            if not _in_inches(value):
                return self.quantity(max(INCH_M, half_width), unit, decimals, up=True)
            inches = max(0.1, _up(half_width / INCH_M, 0.1))
            return self._inches(inches) if inches < 11.95 else self._whole_inches(_up(inches, 1.0))
        if unit == "mps" and self.system == "feet":
            step = 10.0 ** -max(1, decimals) * MPH_MPS
        return self.quantity(max(step, half_width), unit, decimals, up=True)

    def share(self, value: float, decimals: int = 0) -> str:
        """Write a part of one in percent."""
        return self.percent.format(value=self.number(100.0 * value, decimals))

    def column(self, unit: str) -> str:
        """Word of the unit for the head of a column; empty where each number carries its own."""
        if self.system == "feet" and unit in ("m", "mps"):
            return "" if unit == "m" else self.units["mph"]
        return self.units[unit]

    def in_column(self, value: float, unit: str, decimals: int) -> str:
        """Write a number below such a head: without the unit that stands there."""
        if self.system == "feet" and unit == "m":
            return self._feet(value, decimals, up=False)
        if self.system == "feet" and unit == "mps":
            return self.number(value / MPH_MPS, max(1, decimals))
        return self.number(value, decimals)

    def axis(self, unit: str, greatest: float) -> tuple[float, str]:
        """Give what to multiply a value by for an axis of plain numbers, and the axis's unit.

        Parameters
        ----------
        unit
            Unit word.
        greatest
            The value furthest from zero on the axis: short lengths have an axis in inches.
        """
        if self.system == "feet" and unit == "m":
            name, size = ("in", INCH_M) if _in_inches(greatest) else ("ft", FOOT_M)
            return 1.0 / size, self.units[name]
        if self.system == "feet" and unit == "mps":
            return 1.0 / MPH_MPS, self.units["mph"]
        return 1.0, self.units[unit]

    def _feet(self, metres: float, decimals: int, *, up: bool) -> str:
        if decimals == 0 or not math.isfinite(metres):
            feet = metres / FOOT_M
            return f"{self.number(_up(feet, 1.0) if up else feet, 0)} {self.units['ft']}"
        inches = metres / INCH_M
        if up:
            return self._whole_inches(_up(inches, 1.0))
        return self._inches(inches) if _in_inches(metres) else self._whole_inches(inches)

    def _inches(self, inches: float) -> str:
        return f"{self.number(inches, 1)} {self.units['in']}"

    def _whole_inches(self, inches: float) -> str:
        whole = math.floor(abs(inches) + 0.5)
        sign = "-" if inches < 0 else ""
        if whole < 12:
            return f"{sign}{whole} {self.units['in']}"
        return f"{sign}{whole // 12} {self.units['ft']} {whole % 12} {self.units['in']}"


def _in_inches(metres: float) -> bool:
    """Whether a length is written in inches with a decimal: it does not come to a foot."""
    return abs(metres) / INCH_M < 11.95


def _up(value: float, step: float) -> float:
    if not math.isfinite(value):
        return value
    return math.ceil(value / step - HAIR) * step
