"""Compares one measure of an athlete between two periods, move by move."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from sqlalchemy import Connection, func, select

from pipeline.core.errors import SettingsError
from pipeline.core.messages import Message, message
from pipeline.feedback.words import Words
from pipeline.log.athletes import Athlete
from pipeline.log.queries import Series, read_series
from pipeline.log.schema import MEASURES, REPS
from pipeline.log.trends import Change, change_between
from pipeline.log.wording import change_text

Period = tuple[date, date]


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """Two periods (first and last day of each), the changes by move, and sentences on them."""

    periods: tuple[Period, Period]
    changes: tuple[Change, ...]
    sentences: tuple[str, ...]


def compare_periods(
    connection: Connection,
    words: Words,
    athlete: Athlete,
    key: str,
    first: date | None,
    last: date,
    length: timedelta,
) -> Compared:
    """Compare a measure between the period from `first` and the period up to `last`.

    Parameters
    ----------
    connection
        To the log.
    words
        Phrases.
    athlete, key
        The athlete, and the key of the measure.
    first
        First day of the first period; None = the first day with a value.
    last
        Last day of the second period.
    length
        Length of each period.

    Raises
    ------
    SettingsError
        The two periods overlap.
    """
    start = first or _first_measured(connection, athlete.id, key) or last - 2 * length
    early = (start, start + length - timedelta(days=1))
    late = (last - length + timedelta(days=1), last)
    if early[1] >= late[0]:
        raise SettingsError.of("periods_overlap", early=_days(early), late=_days(late))
    by_move: list[Mapping[str, Series]] = [
        {one.move: one for one in read_series(connection, athlete.id, *period, key)}
        for period in (early, late)
    ]
    changes, sentences = [], []
    for move in dict.fromkeys((*by_move[0], *by_move[1])):
        found = [series.get(move) for series in by_move]
        change = None
        if found[0] is not None and found[1] is not None:
            change = change_between(found[0], found[1])
        if change is None:
            n_early, n_late = (0 if one is None else one.value.size for one in found)
            sentence = words.log["trend_too_few"].format(
                measure=words.title(key), move=words.move_name(move), n_early=n_early,
                n_late=n_late, first=words.translate(_days(early)),
                second=words.translate(_days(late)),
            )  # fmt: skip
        else:
            changes.append(change)
            days = [words.translate(_days(period)) for period in (early, late)]
            sentence = change_text(words, change, *days)
        sentences.append(sentence)
    if not sentences:
        nothing = words.log["trend_nothing"]
        sentences.append(nothing.format(measure=words.title(key), name=athlete.name))
    return Compared(periods=(early, late), changes=tuple(changes), sentences=tuple(sentences))


def _first_measured(connection: Connection, athlete_id: int, key: str) -> date | None:
    query = (
        select(func.min(REPS.c.day))
        .join(MEASURES, MEASURES.c.rep_id == REPS.c.id)
        .where(
            REPS.c.athlete_id == athlete_id,
            MEASURES.c.key == key,
            MEASURES.c.value.is_not(None),
        )
    )
    day: date | None = connection.execute(query).scalar()
    return day


def _days(period: Period) -> Message:
    first, last = (day.isoformat() for day in period)
    return message("log_output.days", first=first, last=last)
