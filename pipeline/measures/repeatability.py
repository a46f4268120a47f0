"""How well a number repeats: intraclass correlations, typical error, smallest real change."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

NORMAL_95 = 1.96
"""Standard deviations in half of a 95 % interval of a normal distribution."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MeanSquares:
    """Sums of squares and mean squares of a table of targets (rows) by occasions (columns).

    Attributes
    ----------
    n_targets, n_occasions
        Rows (players, reps) and columns (raters, sessions, days).
    sum_between, sum_occasions, sum_error
        Sums of squares between targets, between occasions, and of what is left.
    sum_total
        About the mean of the whole table: the sum of the three.
    """

    n_targets: int
    n_occasions: int
    sum_between: float
    sum_occasions: float
    sum_error: float
    sum_total: float

    @property
    def between(self) -> float:
        """Mean square between targets (BMS)."""
        return self.sum_between / (self.n_targets - 1)

    @property
    def within(self) -> float:
        """Mean square within targets (WMS): occasions and error together."""
        return (self.sum_occasions + self.sum_error) / (self.n_targets * (self.n_occasions - 1))

    @property
    def occasions(self) -> float:
        """Mean square between occasions (JMS)."""
        return self.sum_occasions / (self.n_occasions - 1)

    @property
    def error(self) -> float:
        """Residual mean square (EMS)."""
        return self.sum_error / ((self.n_targets - 1) * (self.n_occasions - 1))


@dataclass(frozen=True, slots=True, kw_only=True)
class Reliability:
    """How well a measure repeats over occasions.

    Attributes
    ----------
    squares
        Sums of squares and mean squares.
    icc
        By form: ``1,1``, ``2,1``, ``3,1`` of single values, ``1,k``, ``2,k``, ``3,k`` of means over
        the occasions. NaN where all values are the same.
    sem_consistency
        Typical error with a shift between occasions left out: root of the residual mean square.
    sem_agreement
        Typical error with such a shift in it: root of the mean square within targets.
    """

    squares: MeanSquares
    icc: dict[str, float]
    sem_consistency: float
    sem_agreement: float

    @property
    def smallest_real_change(self) -> float:
        """Smallest change between two occasions that is more than the typical error (95 %)."""
        return smallest_real_change(self.sem_consistency)


def mean_squares(table: npt.ArrayLike) -> MeanSquares:
    """Split the spread of a full table into its parts (two-way analysis of variance).

    Parameters
    ----------
    table
        (n_targets, n_occasions), at least 2 by 2, without gaps.

    Raises
    ------
    ValueError
        Another shape, or a value that is missing.
    """
    values = np.asarray(table, float)
    if values.ndim != 2 or min(values.shape) < 2:
        raise ValueError(f"expected at least 2 targets by 2 occasions, but got {values.shape}")
    if not np.isfinite(values).all():
        raise ValueError("expected a full table, but a value is missing: leave out its whole row")
    n, k = values.shape
    deviations = values - values.mean()
    of_targets = deviations.mean(axis=1, keepdims=True)
    of_occasions = deviations.mean(axis=0, keepdims=True)
    return MeanSquares(
        n_targets=n,
        n_occasions=k,
        sum_between=float(k * (of_targets**2).sum()),
        sum_occasions=float(n * (of_occasions**2).sum()),
        sum_error=float(((deviations - of_targets - of_occasions) ** 2).sum()),
        sum_total=float((deviations**2).sum()),
    )


def reliability(table: npt.ArrayLike) -> Reliability:
    """Compute how well a measure repeats.

    Parameters
    ----------
    table
        (n_targets, n_occasions), as for `mean_squares`.

    Raises
    ------
    ValueError
        As `mean_squares`.

    References
    ----------
    Shrout & Fleiss 1979, Psychological Bulletin 86:420-428 (the six correlations); Weir 2005, J
    Strength Cond Res 19:231-240 (typical error from mean squares, smallest real change).
    """
    squares = mean_squares(table)
    n, k = squares.n_targets, squares.n_occasions
    bms, wms, jms, ems = squares.between, squares.within, squares.occasions, squares.error
    icc = {
        "1,1": _ratio(bms - wms, bms + (k - 1) * wms),
        "2,1": _ratio(bms - ems, bms + (k - 1) * ems + k * (jms - ems) / n),
        "3,1": _ratio(bms - ems, bms + (k - 1) * ems),
        "1,k": _ratio(bms - wms, bms),
        "2,k": _ratio(bms - ems, bms + (jms - ems) / n),
        "3,k": _ratio(bms - ems, bms),
    }
    return Reliability(
        squares=squares,
        icc=icc,
        sem_consistency=math.sqrt(ems),
        sem_agreement=math.sqrt(wms),
    )


def typical_error(standard_deviation: float, icc: float) -> float:
    """Typical error (SEM) from a spread between players and a correlation: SD sqrt(1 - ICC).

    Parameters
    ----------
    standard_deviation
        Of all values, in the unit of the measure.
    icc
        Intraclass correlation, at most 1.

    Raises
    ------
    ValueError
        A spread below 0 or a correlation above 1.

    References
    ----------
    Weir 2005, J Strength Cond Res 19:231-240.
    """
    if standard_deviation < 0.0 or icc > 1.0:
        raise ValueError(
            f"expected a spread of at least 0 and a correlation of at most 1, but got "
            f"{standard_deviation} and {icc}"
        )
    return standard_deviation * math.sqrt(1.0 - icc)


def smallest_real_change(sem: float, n_averaged: int = 1) -> float:
    """Smallest difference of two values that is more than their typical error (MDC95).

    1.96 sqrt(2) SEM: both values have the error. A mean of n values has one of SEM / sqrt(n).

    Parameters
    ----------
    sem
        Typical error of a single value.
    n_averaged
        Of how many values each of the two is the mean.

    References
    ----------
    Weir 2005, J Strength Cond Res 19:231-240.

    Examples
    --------
    >>> round(smallest_real_change(1.0), 2)
    2.77
    """
    return NORMAL_95 * math.sqrt(2.0 / n_averaged) * sem


def _ratio(part: float, whole: float) -> float:
    return part / whole if whole > 0.0 else math.nan
