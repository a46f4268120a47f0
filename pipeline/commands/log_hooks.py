"""What `analyse` does with the training log: ask for consent first, write into it afterwards."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.commands.log_options import checked_day
from pipeline.log.location import file_of, log_url
from pipeline.settings.settings import AnalysisSettings

if TYPE_CHECKING:
    from datetime import date

    from pipeline.core.results import Analysis
    from pipeline.feedback.words import Words
    from pipeline.log.record_analysis import Logged


@dataclass(frozen=True, slots=True)
class LogRequest:
    """What was asked for on the command line.

    Attributes
    ----------
    write
        Whether to write into the log at all.
    day
        Local date of the film; None = not told.
    database
        Address of the database as typed.
    """

    write: bool = True
    day: date | None = None
    database: str | None = None

    def allow(self, settings: AnalysisSettings) -> None:
        """Raise `ConsentError` before the long work if the athlete may not be filmed or shown."""
        if settings.athlete is None:
            return
        path = file_of(log_url(self.database))
        if not self.write and path is not None and not path.exists():
            return  # a log is not made only to find nothing in it
        from pipeline.log.record_analysis import allow_analysis
        from pipeline.log.store import opened_log

        with opened_log(self.database) as store:
            # Without a log to write into, only what an earlier one says counts.
            age_years = settings.age_years if self.write else None
            allow_analysis(
                store, settings.athlete, _today(), age_years, hide_faces=settings.hide_faces
            )

    def write_down(
        self, analysis: Analysis, settings: AnalysisSettings, results: Path, cache: Path
    ) -> str:
        """Write an analysis into the log and report it; nothing where no athlete is named.

        Of a film that is analysed again, what people put right is applied again.
        """
        if settings.athlete is None or not self.write:
            return ""
        from pipeline.feedback.words import words_of
        from pipeline.log.record_analysis import log_analysis
        from pipeline.log.report_marks import put_marks_into_report
        from pipeline.log.store import opened_log
        from pipeline.web.review.reapply import put_back

        with opened_log(self.database) as store:
            logged = log_analysis(
                analysis, settings, store, day=self.day, results_path=results, cache_path=cache
            )
            with store.reading() as connection:
                put_marks_into_report(connection, words_of(analysis), logged.clip_id)
            put_back(store, words_of(analysis), logged.clip_id, cache)
        return f"\n  {_said(words_of(analysis), logged)}"


def log_request(*, no_log: bool, day: str | None, database: str | None) -> LogRequest:
    """Check what was typed; raises `SettingsError` or `LogError`."""
    if database is not None:
        log_url(database)
    return LogRequest(not no_log, checked_day(day, named="--date", today=_today()), database)


def _said(words: Words, logged: Logged) -> str:
    said = words.text(
        "log_told.analysed_again" if logged.again else "log_told.analysed",
        n=logged.n_reps,
        name=logged.athlete,
        day=logged.day.isoformat(),
        dated=words.text(f"log_told.dated_{logged.dated_by}"),
    )
    if not logged.also_of:
        return said
    return f"{said} {words.text('log_told.also_of', names=', '.join(logged.also_of))}"


def _today() -> date:
    return datetime.now().astimezone().date()
