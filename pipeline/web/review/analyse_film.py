"""Analyses a film, writes its report and log rows, and applies stored edits again."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.core.progress import Progress, ProgressCallback, ignore_progress

if TYPE_CHECKING:
    from pipeline.analysis import FindingsCallback
    from pipeline.core.results import Analysis
    from pipeline.log.log_request import LogRequest
    from pipeline.log.record_analysis import Logged
    from pipeline.settings.settings import AnalysisSettings


@dataclass(frozen=True, slots=True, kw_only=True)
class AnalysedFilm:
    """An analysed film.

    Attributes
    ----------
    analysis
        Its results.
    written
        Written files, the report first.
    logged
        What was written into the log; None if nothing was.
    """

    analysis: Analysis
    written: tuple[Path, ...]
    logged: Logged | None


def analyse_film(
    film: Path,
    settings: AnalysisSettings,
    log: LogRequest,
    *,
    out: Path,
    cache: Path,
    on_progress: ProgressCallback = ignore_progress,
    on_findings: FindingsCallback = lambda findings: None,
) -> AnalysedFilm:
    """Analyse a film, write its report, and record it.

    Parameters
    ----------
    film
        File of the film.
    settings
        From `pipeline.log.log_request.allowed_settings`, which checks consent.
    log
        Whether and where to record it.
    out, cache
        Folders of results and of landmarks.
    on_progress, on_findings
        As in `pipeline.analysis.analyse_clip`.

    Raises
    ------
    CrossemetryError
        The film, a setting, a folder or the log cannot be used.
    """
    from pipeline.analysis import analyse_clip, write_analysis

    log.note_folders(film, settings.athlete, out=out, cache=cache)
    analysis = analyse_clip(
        film, settings, cache_dir=cache, on_progress=on_progress, on_findings=on_findings
    )
    on_progress(Progress(stage="writing", done=0, total=None))
    written = write_analysis(analysis, out, settings=settings, cache_dir=cache)
    logged = record_film(analysis, settings, log, results=written[0].parent, cache=cache)
    return AnalysedFilm(analysis=analysis, written=tuple(written), logged=logged)


def record_film(
    analysis: Analysis, settings: AnalysisSettings, log: LogRequest, *, results: Path, cache: Path
) -> Logged | None:
    """Write an analysis into the log; None without an athlete or if `log` forbids writing.

    For a film that is analysed again, people's marks and edits are applied again.

    Parameters
    ----------
    analysis, settings
        Results and their settings.
    log
        Whether and where to record it.
    results, cache
        Folders of the report and of the landmarks.

    Raises
    ------
    LogError
        The log cannot be written to.
    """
    if settings.athlete is None or not log.write:
        return None
    from pipeline.feedback.words import words_of
    from pipeline.log.record_analysis import log_analysis
    from pipeline.log.report_marks import put_marks_into_report
    from pipeline.log.store import opened_log
    from pipeline.web.review.reapply import reapply_edits

    words = words_of(analysis)
    with opened_log(log.database) as store:
        logged = log_analysis(
            analysis, settings, store, day=log.day, results_path=results, cache_path=cache
        )
        with store.reading() as connection:
            put_marks_into_report(connection, words, logged.clip_id)
        reapply_edits(store, words, logged.clip_id, cache)
    return logged
