"""What a run may do with the training log, and the one way from settings and consent to a run."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.log.location import file_of, log_url
from pipeline.settings.locale import Locale, environment_reading
from pipeline.settings.settings import AnalysisSettings, GivenSettings, resolve

if TYPE_CHECKING:
    from datetime import date


@dataclass(frozen=True, slots=True)
class LogRequest:
    """Whether and where a run is written into the training log.

    Attributes
    ----------
    write
        Whether to write into the log at all.
    day
        Local date of the film; None = not given.
    database
        Address of the database as typed; None = that of the environment or the data folder.
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
            # Without a log to write into, only what an earlier one holds counts.
            age_years = settings.age_years if self.write else None
            allow_analysis(
                store, settings.athlete, today(), age_years, hide_faces=settings.hide_faces
            )


READ_ONLY = LogRequest(write=False)
"""For a run that is not recorded: the log is read for consent alone."""


def allowed_settings(
    clip: Path, given: GivenSettings, log: LogRequest = READ_ONLY, *, reading: Locale | None = None
) -> AnalysisSettings:
    """Settle the settings of a run on a clip, and check that the athlete consents to it.

    Parameters
    ----------
    clip
        The film; what is not given is read from the side file beside it.
    given
        What the user gave.
    log
        The log that holds the consents.
    reading
        Language and units where neither names any; None = those of the environment.

    Raises
    ------
    SettingsError
        A setting is missing or cannot be used.
    ConsentError
        The athlete may not be filmed, or not be shown with the face.
    """
    from pipeline.settings.side_file import read_side_file

    settings = resolve(
        given, read_side_file(clip), clip_name=clip.name, reading=reading or environment_reading()
    )
    log.allow(settings)
    return settings


def today() -> date:
    """Return the local date."""
    return datetime.now().astimezone().date()
