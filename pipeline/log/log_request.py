"""What a run may do with the training log, and the one way from settings and consent to a run."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.core.errors import LogError
from pipeline.core.files import checked_stem
from pipeline.log.location import log_file
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
        path = log_file(self.database)
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

    def note_folders(
        self,
        film: Path,
        athlete: str | None,
        *,
        out: Path | None,
        cache: Path,
        in_own_folder: bool = True,
        with_index: bool = False,
    ) -> None:
        """Note in the log where files about a film are written, before the first one is.

        Erasing an athlete searches these folders. Without a name a log that is there is used and
        none is made: then nobody can be erased from it.

        Parameters
        ----------
        film, athlete
            The film, and whose it is.
        out, cache
            Folders of all results, if any are written, and of landmarks.
        in_own_folder
            Whether the film's results go into a folder of its own inside `out`.
        with_index
            Whether an index of several films also goes into `out`.

        Raises
        ------
        OutputError
            No results may have the name of the film.
        LogError
            An athlete is named, and the log cannot be written to.
        """
        checked_stem(film)
        path = log_file(self.database)
        has_log = path is not None and path.exists()
        if not self.write or not film.is_file() or (athlete is None and not has_log):
            return
        from pipeline.film.container import file_digest
        from pipeline.log.record_analysis import FolderKind, note_folders
        from pipeline.log.store import opened_log
        from pipeline.report.results import results_folder

        digest = file_digest(film)
        folders: dict[FolderKind, Path] = {"cache": cache}
        if out is not None:
            folders["results"] = results_folder(out, film, digest) if in_own_folder else out
        with (
            suppress(*(() if athlete else (LogError,))),
            opened_log(self.database) as store,
            store.writing() as connection,
        ):
            note_folders(connection, folders, file_digest=digest, athlete=athlete)
            if with_index and out is not None:
                note_folders(connection, {"results": out}, file_digest=digest, athlete=athlete)


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
