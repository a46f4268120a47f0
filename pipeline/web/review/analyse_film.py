"""Analyses a film, writes its report and log rows, and applies stored edits again."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.core.errors import ReviewError
from pipeline.core.progress import Progress, ProgressCallback, ignore_progress

if TYPE_CHECKING:
    from pipeline.analysis import FindingsCallback
    from pipeline.core.results import Analysis
    from pipeline.feedback.words import Words
    from pipeline.log.log_request import LogRequest
    from pipeline.log.record_analysis import Logged
    from pipeline.log.store import TrainingLog
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
    log.note_folders(film, settings.athlete, out=out, cache=cache)
    analysis, written = report_on_film(
        film, settings, out=out, cache=cache, on_progress=on_progress, on_findings=on_findings
    )
    logged = record_film(analysis, settings, log, results=written[0].parent, cache=cache)
    return AnalysedFilm(analysis=analysis, written=tuple(written), logged=logged)


def report_on_film(
    film: Path,
    settings: AnalysisSettings,
    *,
    out: Path,
    cache: Path,
    on_progress: ProgressCallback = ignore_progress,
    on_findings: FindingsCallback = lambda findings: None,
) -> tuple[Analysis, list[Path]]:
    """Analyse a film and write its report, without the log; returns results and written files.

    Parameters as in `analyse_film`. It may run on a machine that has no log.

    Raises
    ------
    CrossemetryError
        The film, a setting or a folder cannot be used.
    """
    from pipeline.analysis import analyse_clip, write_analysis

    analysis = analyse_clip(
        film, settings, cache_dir=cache, on_progress=on_progress, on_findings=on_findings
    )
    on_progress(Progress(stage="writing", done=0, total=None))
    return analysis, write_analysis(analysis, out, settings=settings, cache_dir=cache)


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

    words = words_of(analysis)
    with opened_log(log.database) as store:
        logged = log_analysis(
            analysis, settings, store, day=log.day, results_path=results, cache_path=cache
        )
        with store.reading() as connection:
            put_marks_into_report(connection, words, logged.clip_id)
        reapply_edits(store, words, logged.clip_id, cache)
    return logged


def reapply_edits(log: TrainingLog, words: Words, clip_id: int, cache: Path) -> int:
    """Measure the reps of a film again with the edits in force, if there are any.

    Parameters
    ----------
    log
        The open log, with the film's new reps.
    words
        For the weights of the measures.
    clip_id
        Of the film.
    cache
        Folder of the cached landmarks.

    Returns
    -------
    int
        Number of reps whose numbers depend on an edit.
    """
    from sqlalchemy import select

    from pipeline.log.rep_edits import changes_of
    from pipeline.log.schema import REPS
    from pipeline.web.review.clip_cache import load_clip
    from pipeline.web.review.context import rep_row
    from pipeline.web.review.rep_state import state_of

    with log.reading() as connection:
        if all(change.undone for change in changes_of(connection, clip_id)):
            return 0
        numbers = connection.execute(select(REPS.c.number).where(REPS.c.clip_id == clip_id))
        rows = [rep_row(connection, clip_id, number) for number in numbers.scalars().all()]
    n_reps = 0
    clip = None
    for row in rows:
        if row is None:
            continue
        try:
            clip = load_clip(row, cache) if clip is None else clip
            n_reps += bool(state_of(log, words, clip, row).now.by_coach)
        except ReviewError:  # other reps may still be found
            continue
    return n_reps
