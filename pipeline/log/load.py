"""Training load from daily values: weekly load, monotony, strain, acute and chronic load.

These figures describe training and predict no injury. Acute load divided by a random chronic load
is associated with injuries about as well (Impellizzeri et al. 2021, Sports Medicine 51:581-592).
Acute load that is part of the chronic load correlates with it by construction (Lolli et al. 2019,
Br J Sports Med 53:921-922).
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
    """A figure, or the reason for its absence; the reason is a catalogue key of the log."""

    value: float | None = None
    reason: str | None = None

    def __post_init__(self) -> None:
        if (self.value is None) == (self.reason is None):
            raise ValueError("a figure has either a value or a reason")


@dataclass(frozen=True, slots=True)
class AcuteChronic:
    """Acute load, chronic load and their ratio, as exponentially weighted means."""

    acute: Figure
    chronic: Figure
    ratio: Figure


def session_load(exertion: float | None, minutes: float | None) -> Figure:
    """Return the load of a session: perceived exertion (0 to 10) times minutes, arbitrary units.

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
    """Return the sum of seven daily loads; a day without training is 0, an unknown load NaN."""
    loads = _week(days)
    return Figure(reason="no_exertion") if np.isnan(loads).any() else Figure(float(loads.sum()))


def monotony(days: npt.ArrayLike) -> Figure:
    """Return the mean of seven daily loads divided by their standard deviation.

    The source does not define the deviation; this is the one of a sample (n - 1). That of a
    population (n) makes monotony and strain 8 % greater, so the two must not be compared. Monotony
    is undefined for equal loads and for a week without load.

    Parameters
    ----------
    days
        (7,) loads; a day without training is 0, an unknown load NaN.

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
    # Loads that differ by rounding only are equal.
    spread = float(loads.std(ddof=1))
    if spread <= 1e-9 * float(loads.mean()):
        return Figure(reason="equal_loads")
    return Figure(float(loads.mean()) / spread)


def strain(days: npt.ArrayLike) -> Figure:
    """Return weekly load times monotony.

    References
    ----------
    Foster et al. 2001, J Strength Cond Res 15:109-115.
    """
    load, even = weekly_load(days), monotony(days)
    if load.value is None or even.value is None:
        return Figure(reason=load.reason or even.reason)
    return Figure(load.value * even.value)


def weighted_means(loads: npt.ArrayLike, n_days: int) -> FloatArray:
    """Return exponentially weighted means of daily loads.

    ``E[i] = a L[i] + (1 - a) E[i - 1]`` with ``a = 2 / (n_days + 1)`` and ``E[0] = L[0]``.

    Parameters
    ----------
    loads
        (n,) loads, one per day, oldest first.
    n_days
        Time constant in days: 7 gives a = 0.25.

    Returns
    -------
    ndarray
        (n,) mean on each day.

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
    """Return acute (7 days) and chronic (28 days) load on the last day, and their ratio.

    The ratio describes how the last days compare with the last weeks; it predicts no injury.

    Parameters
    ----------
    loads
        (n,) loads, one per day, oldest first; unknown = NaN. At least 28 days are needed.

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
    """Return the relative change from one week to the next; undefined after a week of 0.

    Examples
    --------
    >>> change(150, 100).value
    0.5
    """
    return Figure(now / before - 1.0) if before > 0.0 else Figure(reason="nothing_before")


def by_day(first: date, last: date, entries: list[tuple[date, float]]) -> FloatArray:
    """Sum entries by day.

    Parameters
    ----------
    first, last
        First and last day, both included.
    entries
        Day and number; NaN makes its day NaN. Entries of other days are left out.

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
    """Return the consecutive training days up to the last day, or to the day before it."""
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
