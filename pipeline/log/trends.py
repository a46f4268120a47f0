"""Detects changes of a measure: from early to late reps of sessions, and between two periods.

A change is reported if it exceeds what the athlete's own spread of reps and sessions produces by
chance in 19 of 20 cases. Otherwise the result is no clear change.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pipeline.core.results import TrendWord
from pipeline.feedback.session_summary import FEWEST_FOR_TREND, SHARED_AT_LEAST, is_once_per_clip
from pipeline.measures.repeatability import smallest_real_change

if TYPE_CHECKING:
    from pipeline.log.queries import Series

CONFIDENCE = 0.95
FEWEST_SESSIONS = 3
"""Sessions that a drift needs: fewer may show the drift of a single day."""

FEWEST_REPS = 3
"""Reps that a period needs for an estimate of the spread."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drift:
    """A measure that differs between the first and the last third of sessions.

    Attributes
    ----------
    move, key
        Keys of the move and the measure.
    n_sessions
        Number of sessions with enough reps of the move.
    early, late
        Means of the first and of the last thirds, in the unit of the measure.
    least
        Smallest significant difference of the two.
    """

    move: str
    key: str
    n_sessions: int
    early: float
    late: float
    least: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """Comparison of a measure of one move between two periods.

    Attributes
    ----------
    move, key
        Keys of the move and the measure.
    n_early, n_late, sessions_early, sessions_late
        Number of reps and of sessions in each period.
    early, late
        Means, in the unit of the measure.
    typical_error
        Standard deviation of the athlete's reps within a session.
    smallest_real_change
        Smallest significant difference of the two means (95 %).
    of_single_reps
        Smallest significant difference of two single reps.
    has_session_spread
        Whether it includes the spread between sessions. Otherwise the spread of the reps and the
        shared measurement uncertainty replace it.
    word
        Rose, fell, or no clear change.
    """

    move: str
    key: str
    n_early: int
    n_late: int
    sessions_early: int
    sessions_late: int
    early: float
    late: float
    typical_error: float
    smallest_real_change: float
    of_single_reps: float
    has_session_spread: bool
    word: TrendWord


def find_drifts(series: Sequence[Series]) -> list[Drift]:
    """Find measures that differ between the first and the last third of sessions.

    The difference of the two thirds is computed in each session with enough reps of a move. Its
    mean over three or more sessions is tested by Student's t, with the Bonferroni correction for
    the number of measures.

    Parameters
    ----------
    series
        All measures of an athlete over some weeks.

    Returns
    -------
    list of Drift
        Measures with a significant difference.
    """
    thirds = {}
    for one in series:
        pairs = thirds_of_sessions(one)
        if len(pairs) >= FEWEST_SESSIONS and not is_once_per_clip(one.key):
            thirds[one.move, one.key] = np.asarray(pairs)
    found = []
    for (move, key), pairs_of in thirds.items():
        differences = pairs_of[:, 1] - pairs_of[:, 0]
        n = len(differences)
        level = 1.0 - (1.0 - CONFIDENCE) / len(thirds)
        least = student(level, n - 1) * float(differences.std(ddof=1)) / math.sqrt(n)
        if abs(differences.mean()) > max(least, 1e-9):
            early, late = (float(mean) for mean in pairs_of.mean(axis=0))
            found.append(
                Drift(move=move, key=key, n_sessions=n, early=early, late=late, least=least)
            )
    return found


def change_between(early: Series, late: Series) -> Change | None:
    """Compare a measure between two periods with its smallest real change.

    The variance of a period's mean follows from the spread between sessions or from the spread of
    reps within sessions, both pooled over the periods; the greater one counts. With a single
    session in a period, the spread between sessions is unknown. Then the measurement uncertainty
    that the reps of a film share is added to the spread of the reps.

    Parameters
    ----------
    early, late
        The same measure of the same move.

    Returns
    -------
    Change or None
        None where a period has fewer than three reps.
    """
    periods = (early, late)
    if min(one.value.size for one in periods) < FEWEST_REPS:
        return None
    groups = [[one.value[one.session == s] for s in np.unique(one.session)] for one in periods]
    n_sessions = [len(sessions) for sessions in groups]
    n_reps = [int(one.value.size) for one in periods]
    reps_freedom = sum(n_reps) - sum(n_sessions)
    has_session_spread = min(n_sessions) > 1
    within = _pooled([group for sessions in groups for group in sessions], reps_freedom)
    if math.isnan(within):  # one rep in each session: only the spread between sessions is known
        if not has_session_spread:
            return None
        within = 0.0
    between = _pooled(
        [np.array([group.mean() for group in sessions]) for sessions in groups],
        sum(n_sessions) - 2,
    )
    variance = 0.0
    for one, n_of_sessions, n_of_reps in zip(periods, n_sessions, n_reps, strict=True):
        by_reps = within / n_of_reps
        if has_session_spread:
            variance += max(between / n_of_sessions, by_reps)
        else:
            shared = SHARED_AT_LEAST * float(np.nanmean(np.square(one.u))) if one.known_u else 0.0
            variance += by_reps + shared / n_of_sessions
    freedom = sum(n_sessions) - 2 if has_session_spread else reps_freedom
    least = student(CONFIDENCE, freedom) * math.sqrt(variance)
    difference = float(late.value.mean() - early.value.mean())
    word: TrendWord = "no clear change"
    if abs(difference) > least:
        word = "rose" if difference > 0 else "fell"
    return Change(
        move=early.move,
        key=early.key,
        n_early=n_reps[0],
        n_late=n_reps[1],
        sessions_early=n_sessions[0],
        sessions_late=n_sessions[1],
        early=float(early.value.mean()),
        late=float(late.value.mean()),
        typical_error=math.sqrt(within),
        smallest_real_change=least,
        of_single_reps=smallest_real_change(math.sqrt(within)),
        has_session_spread=has_session_spread,
        word=word,
    )


def student(level: float, freedom: int) -> float:
    """Return the half width of a two-sided Student's t interval, in standard errors.

    Examples
    --------
    >>> round(student(0.95, 10), 3)
    2.228
    """
    from scipy.special import stdtrit

    return float(stdtrit(freedom, 0.5 + level / 2.0))


def thirds_of_sessions(series: Series) -> list[tuple[float, float]]:
    """Return the means of the first and of the last third of each session with enough reps."""
    pairs = []
    for session in np.unique(series.session):
        values = series.value[series.session == session]
        if values.size >= FEWEST_FOR_TREND:
            k = values.size // 3
            pairs.append((float(values[:k].mean()), float(values[-k:].mean())))
    return pairs


def _pooled(groups: Sequence[np.ndarray], freedom: int) -> float:
    """Return the pooled variance within groups; NaN without degrees of freedom."""
    if freedom < 1:
        return math.nan
    return float(sum(((group - group.mean()) ** 2).sum() for group in groups)) / freedom
