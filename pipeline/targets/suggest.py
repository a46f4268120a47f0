"""Suggests a range from good reps: two quantiles, and how sure they are with so few reps.

The reps count as a sample of how the athlete does the move well. Nothing is assumed about the
shape of their distribution.

References
----------
.. [1] R. J. Hyndman and Y. Fan, "Sample quantiles in statistical packages", The American
   Statistician 50 (4), 361-365, 1996: definition 8, nearly median-unbiased whatever the
   distribution.
.. [2] G. J. Hahn and W. Q. Meeker, *Statistical Intervals*, Wiley 1991, 5.2: limits for a quantile
   that hold for any distribution, from the order statistics of the sample; also H. A. David and
   H. N. Nagaraja, *Order Statistics*, 3rd edition, Wiley 2003, 7.1.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

FEWEST_REPS = 10
"""Fewer reps hardly show how rare a value is."""

CONFIDENCE = 0.95
COVERAGE_FACTOR = 1.96


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantile:
    """An estimated quantile.

    Attributes
    ----------
    share
        Which quantile, e.g. 0.1.
    value
        Its estimate.
    low, high
        Limits that hold the true quantile with at least 95 %; None where so few reps give none.
    enough_reps
        How many reps would give both limits.
    """

    share: float
    value: float
    low: float | None
    high: float | None
    enough_reps: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Suggestion:
    """What the good reps show of one measure.

    Attributes
    ----------
    n_reps
        How many there are.
    low, high
        The two quantiles.
    u
        Standard uncertainty of one value by the measurement (root mean square over the reps).
    spread
        Standard deviation of the values over the reps.
    """

    n_reps: int
    low: Quantile
    high: Quantile
    u: float
    spread: float

    @property
    def is_mostly_noise(self) -> bool:
        """Whether the reps differ by no more than the measurement is unsure of each of them."""
        return self.spread <= self.u


def reps_needed(low_share: float, high_share: float) -> int:
    """Fewest reps from which these quantiles are suggested: none beyond the outermost reps.

    By definition 8 of [1]_ the least of n values is the quantile (2/3) / (n + 1/3).

    Examples
    --------
    >>> reps_needed(0.10, 0.90), reps_needed(0.05, 0.95)
    (10, 13)
    """
    tail = min(low_share, 1.0 - high_share)
    return max(FEWEST_REPS, math.ceil(2.0 / (3.0 * tail) - 1.0 / 3.0 - 1e-9))


def suggest(
    values: Sequence[float], us: Sequence[float], low_share: float = 0.10, high_share: float = 0.90
) -> Suggestion:
    """Estimate the range that holds most of the good reps.

    Parameters
    ----------
    values, us
        (n,) of one measure in the reps, and their standard uncertainties.
    low_share, high_share
        Which quantiles.

    Returns
    -------
    Suggestion
        The quantiles are those of the values as measured: their spread holds that of the player and
        that of the measurement, so the range is a little too wide rather than too narrow. It is not
        made narrower by u, because an error of the scale shifts all reps of a film alike and adds
        nothing to their spread. Each limit of a quantile is moved outward by that doubt: its
        distance from the estimate and 1.96 u are added in quadrature, as if one error were common
        to all reps, which is the worst case for where the range lies.

    Raises
    ------
    ValueError
        Fewer than `reps_needed`.
    """
    n = len(values)
    if n < reps_needed(low_share, high_share):
        raise ValueError(f"{n} reps are too few")
    ordered = np.sort(np.asarray(values, dtype=float))
    u = float(np.sqrt(np.mean(np.square(us))))
    return Suggestion(
        n_reps=n,
        low=_quantile(ordered, low_share, u),
        high=_quantile(ordered, high_share, u),
        u=u,
        spread=float(np.std(ordered, ddof=1)),
    )


def quantile_limits(n: int, share: float) -> tuple[int | None, int | None]:
    """Ranks (from 1) of the two reps that hold a quantile between them with at least 95 %.

    The number of values below the quantile is binomial (n, share), so the rank of the lower one is
    the greatest, that of the upper one the least, beyond which lie at most 2.5 % each [2]_. None
    where even the outermost rep leaves more than that.

    Examples
    --------
    >>> quantile_limits(20, 0.5)
    (6, 15)
    >>> quantile_limits(10, 0.1)
    (None, 4)
    """
    tail = 0.5 * (1.0 - CONFIDENCE)
    below = np.cumsum([math.comb(n, k) * share**k * (1.0 - share) ** (n - k) for k in range(n + 1)])
    # P(quantile < value of rank r) = P(at most r - 1 values below it); exact ties aside.
    low = [rank for rank in range(1, n + 1) if below[rank - 1] <= tail]
    high = [rank for rank in range(1, n + 1) if 1.0 - below[rank - 1] <= tail]
    return (low[-1] if low else None), (high[0] if high else None)


def _quantile(ordered: np.ndarray, share: float, u: float) -> Quantile:
    value = float(np.quantile(ordered, share, method="median_unbiased"))
    low_rank, high_rank = quantile_limits(ordered.size, share)

    def limit(rank: int | None, side: float) -> float | None:
        if rank is None:
            return None
        by_chance = max(0.0, side * (float(ordered[rank - 1]) - value))
        return value + side * math.hypot(by_chance, COVERAGE_FACTOR * u)

    tail = min(share, 1.0 - share)
    return Quantile(
        share=share,
        value=value,
        low=limit(low_rank, -1.0),
        high=limit(high_rank, 1.0),
        enough_reps=math.ceil(math.log(0.5 * (1.0 - CONFIDENCE)) / math.log(1.0 - tail)),
    )
