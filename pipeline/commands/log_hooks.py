"""Options of `analyse` on the training log, and the line on what was recorded."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipeline.commands.log_options import checked_day
from pipeline.log.location import log_url
from pipeline.log.log_request import LogRequest, today

if TYPE_CHECKING:
    from pipeline.feedback.words import Words
    from pipeline.log.record_analysis import Logged


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
