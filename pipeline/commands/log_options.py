"""Options of the commands on the training log, their checks, and the line on what was recorded."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

import click

from pipeline.commands.help import Decorated, option
from pipeline.core.errors import SettingsError
from pipeline.core.messages import message
from pipeline.log.counts import COUNTED
from pipeline.log.location import VARIABLE, log_url
from pipeline.log.log_request import LogRequest, today

if TYPE_CHECKING:
    from pipeline.feedback.words import Words
    from pipeline.log.record_analysis import Logged

LONGEST_TEXT = 1000
EARLIEST_BIRTH_YEAR = 1920

database_option = option(
    "--database", metavar="URL", help="of_log.database", placeholders={"variable": VARIABLE}
)


def analyse_options(command: Decorated) -> Decorated:
    """Add the options of `analyse` on the log."""
    for add in (
        database_option,
        option("--date", "day", metavar="DATE", help="of_log.film_date"),
        option("--no-log", is_flag=True, help="of_log.no_log"),
    ):
        command = add(command)
    return command


def count_options(command: Decorated) -> Decorated:
    """Add one option for each counted thing."""
    number = click.IntRange(0, 10_000)
    for name in reversed(COUNTED):
        add = option(f"--{name}", type=number, metavar="N", help=f"counts.{name}")
        command = add(command)
    return command


def checked_day(typed: str | None, *, named: str, today: date, future: bool = False) -> date | None:
    """Parse a day; None stays None; raises `SettingsError`."""
    if typed is None:
        return None
    words = {"today": today, "yesterday": today - timedelta(days=1)}
    try:
        day = words.get(typed) or date.fromisoformat(typed)
    except ValueError:
        raise SettingsError.of("not_a_day", named=named, typed=typed) from None
    if day > today and not future:
        raise SettingsError.of("day_to_come", named=named, typed=typed)
    return day


def checked_note(typed: str | None, *, named: str, longest: int = LONGEST_TEXT) -> str | None:
    """Strip a text; None stays None; raises `SettingsError` if it is empty or too long."""
    if typed is None:
        return None
    words = typed.strip()
    if not 0 < len(words) <= longest or not words.isprintable():
        raise SettingsError.of("not_words_to_keep", named=named, longest=longest)
    return words


def checked_counts(numbers: dict[str, int | None]) -> dict[str, int]:
    """Fill in missing counts; raises `SettingsError` if a part exceeds its whole."""
    counts = {name: number for name, number in numbers.items() if number is not None}
    for part, whole in (("shots", "throws"), ("cuts", "dodges")):
        if counts.get(part, 0) > counts.setdefault(whole, counts.get(part, 0)):
            raise SettingsError.of(
                "more_than_the_whole",
                part=part, n_part=counts[part], parts=message(f"log.{part}"),
                whole=whole, n_whole=counts[whole], wholes=message(f"log.{whole}"),
            )  # fmt: skip
    return {name: counts.get(name, 0) for name in COUNTED}


def log_request(*, no_log: bool, day: str | None, database: str | None) -> LogRequest:
    """Check the options; raises `SettingsError` or `LogError`."""
    if database is not None:
        log_url(database)
    return LogRequest(not no_log, checked_day(day, named="--date", today=today()), database)


def logged_text(words: Words, logged: Logged | None) -> str:
    """Line on what was written into the log; empty if nothing was."""
    if logged is None:
        return ""
    text = words.text(
        "log_output.analysed_again" if logged.again else "log_output.analysed",
        n=logged.n_reps,
        name=logged.athlete,
        day=logged.day.isoformat(),
        dated=words.text(f"log_output.dated_{logged.dated_by}"),
    )
    if logged.also_of:
        text += " " + words.text("log_output.also_of", names=", ".join(logged.also_of))
    return f"\n  {text}"
