"""Training load from days: weekly load, monotony, strain, and acute against chronic load.

Loads describe what was done. None of these figures tells who will be hurt: where acute load is
divided by a chronic load that was drawn at random, it goes along with injuries about as well
(Impellizzeri et al. 2021, Sports Medicine 51:581-592), and acute load that is also a part of the
chronic load agrees with it by construction (Lolli et al. 2019, Br J Sports Med 53:921-922).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import numpy.typing as npt

from pipeline.core.types import FloatArray

WEEK_DAYS = 7
ACUTE_DAYS = 7
CHRONIC_DAYS = 28


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure, or the reason why there is none; the reason is a name in the words for the log."""

    value: float | None = None
    reason: str | None = None

    def __post_init__(self) -> None:
        if (self.value is None) == (self.reason is None):
            raise ValueError("a figure has either a value or a reason")


@dataclass(frozen=True, slots=True)
class AcuteChronic:
    """Load of the last days against that of the last weeks, as exponentially weighted means."""

    acute: Figure
    chronic: Figure
    ratio: Figure


def session_load(exertion: float | None, minutes: float | None) -> Figure:
    """Load of a session: perceived exertion (0 to 10) times minutes, in arbitrary units.

    References
    ----------
    Foster et al. 2001, J Strength Cond Res 15:109-115.

    Examples
    --------
    >>> session_load(6, 40).value
    240.0
    """
    if exertion is None or minutes is None:
        return Figure(reason="no_exertion")
    return Figure(float(exertion) * float(minutes))


def weekly_load(days: npt.ArrayLike) -> Figure:
    """Sum of the loads of seven days; a day without training is 0, an unknown one NaN."""
    loads = _week(days)
    return Figure(reason="no_exertion") if np.isnan(loads).any() else Figure(float(loads.sum()))


def monotony(days: npt.ArrayLike) -> Figure:
    """Mean of seven daily loads over their standard deviation.

    The deviation is that of a sample (n - 1), the usual choice where the source does not say; that
    of a population (n) makes monotony and strain 8 % greater, so the two must not be compared. It
    is not defined where all loads are the same, and says nothing of a week without load.

    Parameters
    ----------
    days
        (7,) loads; a day without training is 0, one of unknown load NaN.

    References
    ----------
    Foster et al. 2001, J Strength Cond Res 15:109-115.

    Examples
    --------
    >>> round(monotony([240, 360, 120, 480, 300, 450, 0]).value, 4)
    1.6026
    """
    loads = _week(days)
    if np.isnan(loads).any():
        return Figure(reason="no_exertion")
    if not loads.any():
        return Figure(reason="no_load")
    # Equal loads differ by rounding only; their spread is none.
    spread = float(loads.std(ddof=1))
    if spread <= 1e-9 * float(loads.mean()):
        return Figure(reason="equal_loads")
    return Figure(float(loads.mean()) / spread)


def strain(days: npt.ArrayLike) -> Figure:
    """Weekly load times monotony.

    References
    ----------
    Foster et al. 2001, J Strength Cond Res 15:109-115.
    """
    load, even = weekly_load(days), monotony(days)
    if load.value is None or even.value is None:
        return Figure(reason=load.reason or even.reason)
    return Figure(load.value * even.value)


def weighted_means(loads: npt.ArrayLike, n_days: int) -> FloatArray:
    """Exponentially weighted means of daily loads: E = a L + (1 - a) E before, a = 2 / (n + 1).

    Parameters
    ----------
    loads
        (n,) loads, one for each day, oldest first; the first day is the starting value.
    n_days
        Days that the mean is about: 7 gives a = 0.25.

    Returns
    -------
    ndarray
        (n,) the mean on each day.

    References
    ----------
    Williams et al. 2017, Br J Sports Med 51:209-210.
    """
    values = np.asarray(loads, float)
    means = values.copy()
    weight = 2.0 / (n_days + 1.0)
    for i in range(1, values.size):
        means[i] = weight * values[i] + (1.0 - weight) * means[i - 1]
    return means


def acute_and_chronic(loads: npt.ArrayLike) -> AcuteChronic:
    """Acute (7 days) and chronic (28 days) load on the last of some days, and their ratio.

    The ratio is a description of how the last days compare with the last weeks, no more (see the
    head of this module).

    Parameters
    ----------
    loads
        (n,) loads, one for each day, oldest first; unknown = NaN. At least 28 days are needed.

    References
    ----------
    Williams et al. 2017, Br J Sports Med 51:209-210.
    """
    values = np.asarray(loads, float)
    reason = None
    if values.size < CHRONIC_DAYS:
        reason = "few_days"
    elif np.isnan(values).any():
        reason = "no_exertion"
    if reason is not None:
        return AcuteChronic(*(Figure(reason=reason) for _ in range(3)))
    acute, chronic = (float(weighted_means(values, n)[-1]) for n in (ACUTE_DAYS, CHRONIC_DAYS))
    ratio = Figure(acute / chronic) if chronic > 0.0 else Figure(reason="no_load")
    return AcuteChronic(Figure(acute), Figure(chronic), ratio)


def change(now: float, before: float) -> Figure:
    """Relative change from one week to the next; not defined after a week of nothing.

    Examples
    --------
    >>> change(150, 100).value
    0.5
    """
    return Figure(now / before - 1.0) if before > 0.0 else Figure(reason="nothing_before")


def by_day(first: date, last: date, entries: list[tuple[date, float]]) -> FloatArray:
    """Add up entries day by day.

    Parameters
    ----------
    first, last
        The days, both included.
    entries
        Day and number; NaN makes its day NaN. What lies outside is left out.

    Returns
    -------
    ndarray
        (n_days,) 0 for a day without an entry.
    """
    sums = np.zeros(max(0, (last - first).days + 1))
    for day, value in entries:
        if first <= day <= last:
            sums[(day - first).days] += value
    return sums


def days_in_a_row(trained: set[date], last: date) -> int:
    """Days without a day off, up to the last day or, if that is not over yet, to the one before."""
    day = last if last in trained else last - timedelta(days=1)
    n = 0
    while day in trained:
        n += 1
        day -= timedelta(days=1)
    return n


def _week(days: npt.ArrayLike) -> FloatArray:
    loads = np.asarray(days, float)
    if loads.shape != (WEEK_DAYS,):
        raise ValueError(f"expected the loads of 7 days, but got shape {loads.shape}")
    return loads
