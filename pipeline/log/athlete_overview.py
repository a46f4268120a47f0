"""Reads and computes everything that the volume page shows of one athlete."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from sqlalchemy import Connection

from pipeline.log.athletes import Athlete
from pipeline.log.limits import Limit, exceeded, in_force, read_limits
from pipeline.log.load import WEEK_DAYS
from pipeline.log.queries import Series, first_day, read_bouts, read_done, read_series
from pipeline.log.trends import Drift, find_drifts
from pipeline.log.volume import (
    HISTORY_DAYS,
    WEEKS_BEFORE,
    Bout,
    Done,
    Volume,
    totals_of,
    volume_of,
)
from pipeline.log.watch_list import Watch, watch_list

DRIFT_DAYS = WEEK_DAYS * WEEKS_BEFORE


@dataclass(frozen=True, slots=True, kw_only=True)
class AthleteOverview:
    """Figures of one athlete up to a day.

    Attributes
    ----------
    athlete, last
        The athlete, and the last day.
    volume, watch, limits, drifts
        Training volume, watch list, limits in force, measures that drift within sessions.
    done, bouts, series
        The counts, sessions and measured values from which these are computed.
    """

    athlete: Athlete
    last: date
    volume: Volume
    watch: Sequence[Watch]
    limits: Sequence[Limit]
    drifts: Sequence[Drift]
    done: Sequence[Done]
    bouts: Sequence[Bout]
    series: Sequence[Series]


def overview_of(
    connection: Connection, athlete: Athlete, last: date, n_weeks: int
) -> AthleteOverview:
    """Read and compute the figures of an athlete.

    Parameters
    ----------
    connection
        To the log.
    athlete, last
        The athlete, and the day on which the last week ends.
    n_weeks
        Number of weeks shown.
    """
    n_days = max(WEEK_DAYS * (n_weeks + WEEKS_BEFORE), HISTORY_DAYS)
    first = last - timedelta(days=n_days - 1)
    done = read_done(connection, athlete.id, first, last)
    bouts = read_bouts(connection, athlete.id, first, last)
    volume = volume_of(done, bouts, last, n_weeks, first_day(connection, athlete.id))
    limits = in_force(read_limits(connection), athlete.id)
    since = last - timedelta(days=DRIFT_DAYS - 1)
    series = read_series(connection, athlete.id, since, last)
    drifts = find_drifts(series)
    before = [
        one
        for one in done
        if volume.week.first - timedelta(days=DRIFT_DAYS) <= one.day < volume.week.first
    ]
    watch = watch_list(
        week=volume.week,
        before=totals_of(before),
        days_in_a_row=volume.days_in_a_row,
        over=exceeded(limits, done, last),
        drifts=drifts,
        birth_year=athlete.birth_year,
        young=athlete.is_minor(last),
    )
    return AthleteOverview(
        athlete=athlete,
        last=last,
        volume=volume,
        watch=watch,
        limits=limits,
        drifts=drifts,
        done=done,
        bouts=bouts,
        series=series,
    )
