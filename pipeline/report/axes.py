"""Axes of drawings: map values to coordinates and choose round tick values."""

from __future__ import annotations

import math
from dataclasses import dataclass

_ROUND = (1.0, 2.0, 2.5, 5.0, 10.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """Linear axis.

    Attributes
    ----------
    low, high
        Values at its ends.
    start, stop
        Coordinates of its ends in the drawing.
    """

    low: float
    high: float
    start: float
    stop: float

    def at(self, value: float) -> float:
        """Return the coordinate of a value, limited to the ends, rounded to one decimal.

        Examples
        --------
        >>> Axis(low=0.0, high=2.0, start=100.0, stop=0.0).at(0.5)
        75.0
        """
        fraction = (min(max(value, self.low), self.high) - self.low) / (self.high - self.low)
        return round(self.start + fraction * (self.stop - self.start), 1)


def round_ticks(low: float, high: float, most: int, least_step: float = 0.0) -> list[float]:
    """Return round tick values from `low` to `high`, as fine as `most` allows.

    Parameters
    ----------
    low, high
        Ends of the axis; ``high > low``.
    most
        Greatest number of ticks, at least 2.
    least_step
        Smallest distance between ticks: 1 for counts.

    Returns
    -------
    list of float
        Equally spaced, by 1, 2, 2.5 or 5 times a power of ten.

    Examples
    --------
    >>> round_ticks(0.08, 0.61, 6)
    [0.1, 0.2, 0.3, 0.4, 0.5, 0.6]
    >>> round_ticks(-14.0, 9.0, 4)
    [-10.0, 0.0]
    >>> round_ticks(0.2, 2.4, 5, least_step=1.0)
    [1.0, 2.0]
    """
    power = 10.0 ** math.floor(math.log10((high - low) / most))
    power = max(power, least_step)
    for factor in (*_ROUND, 20.0, 50.0):
        step = factor * power
        first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
        if last - first + 1 <= most:
            break
    return [round(i * step, 10) + 0.0 for i in range(first, last + 1)]


def whole_ticks(count: int, most: int) -> list[int]:
    """Return the indices of `count` items that get a label, at most `most` of them.

    Examples
    --------
    >>> whole_ticks(5, 10)
    [0, 1, 2, 3, 4]
    >>> whole_ticks(60, 12)
    [0, 5, 10, 15, 20, 25, 30, 35, 40, 45, 50, 55]
    """
    for step in (1, 2, 5, 10, 20, 50, 100, 200, 500):
        if (count - 1) // step + 1 <= most:
            return list(range(0, count, step))
    return list(range(0, count, max(1, count // most)))
