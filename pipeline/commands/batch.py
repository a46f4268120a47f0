"""Analyses many clips: what is finished already, the workers, the log, the index, the output."""

from __future__ import annotations

import hashlib
import json
import re
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from models import MODELS
from pipeline import __version__
from pipeline.commands.clip_workers import ClipJob, Crew, Outcome, inside_error
from pipeline.commands.log_options import logged_text
from pipeline.commands.shared import report_error
from pipeline.core.errors import CrossemetryError, SettingsError
from pipeline.core.files import writing_results
from pipeline.log.location import log_url
from pipeline.log.log_request import LogRequest, allowed_settings
from pipeline.settings.settings import (
    NAMED_FILES,
    AnalysisSettings,
    GivenSettings,
    settings_text,
)

if TYPE_CHECKING:
    from pipeline.commands.terminal import BatchProgress
    from pipeline.feedback.words import Words
    from pipeline.report.manifest import Finished
    from pipeline.report.run_index import IndexRow

FILM_SUFFIXES = frozenset(
    (".3gp", ".avi", ".m2ts", ".m4v", ".mkv", ".mov", ".mp4", ".mpeg", ".mpg", ".mts", ".ts",
     ".webm")
)  # fmt: skip

INDEX_EVERY_S = 5.0
INDEX_SHARE = 0.05
"""The index is written at most this often, and takes at most this share of the time; and once at
the end."""


def films_of(named: Sequence[Path]) -> list[Path]:
    """Replace each folder by the films in it, in natural order: ``clip 2`` before ``clip 10``.

    Raises
    ------
    SettingsError
        A folder holds no film or cannot be read.
    """
    films: list[Path] = []
    for path in named:
        if not path.is_dir():
            films.append(path)
            continue
        with suppress(OSError):
            inside = [one for one in path.iterdir() if _is_film(one)]
            films += sorted(inside, key=_natural)
        if not films or films[-1].parent != path:
            raise SettingsError.of("no_films_in_folder", folder=str(path))
    return films


def _is_film(path: Path) -> bool:
    is_hidden = path.name.startswith(".")
    return path.suffix.casefold() in FILM_SUFFIXES and not is_hidden and path.is_file()


def _natural(path: Path) -> list[tuple[int, str]]:
    parts = re.findall(r"\d+|\D+", path.name.casefold())
    return [(int(part), "") if part.isdecimal() else (-1, part) for part in parts]


def data_files(settings: AnalysisSettings) -> dict[str, Path]:
    """Return the files of the data folder on which the results of an analysis depend.

    Parameters
    ----------
    settings
        Of the analysis.

    Returns
    -------
    dict
        Path of each by its name inside the data folder; only files that are there.
    """
    from pipeline.core.catalogue import file_name
    from pipeline.core.files import data_folder
    from pipeline.feedback.words import COACHS_WORDS
    from pipeline.settings.checks import drill_names, drill_path
    from pipeline.targets.load import COACH_FILE
    from pipeline.teaching.classifier_versions import files_in_force

    folder = data_folder()
    paths = [folder / COACHS_WORDS, folder / file_name(settings.language)]
    if settings.targets_path is None:
        paths.append(folder / COACH_FILE)
    if settings.move is None:
        paths += files_in_force()
    elif settings.move in drill_names():
        paths.append(drill_path(settings.move))
    return {path.relative_to(folder).as_posix(): path for path in paths if path.is_file()}


def work_digest(settings: AnalysisSettings, log: LogRequest, *, overlay: bool) -> str:
    """Return the digest of all that decides the results of a film: settings, ranges, words, log."""
    table = json.loads(settings_text(settings))
    for name in NAMED_FILES:
        path: Path | None = getattr(settings, name)
        table[name] = None if path is None else _digest(path)
    if settings.model not in MODELS:
        table["model"] = _digest(settings.model_path)
    is_logged = log.write and settings.athlete is not None
    work: dict[str, Any] = {
        "settings": table,
        "data": {name: _digest(path) for name, path in data_files(settings).items()},
        "log": str(log_url(log.database)) if is_logged else None,
        "day": None if log.day is None else log.day.isoformat(),
        "overlay": overlay,
    }
    return hashlib.sha256(json.dumps(work, sort_keys=True).encode()).hexdigest()


def _digest(path: Path) -> str:
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return ""  # the analysis reports what is wrong with the file


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchOptions:
    """What a run over several clips is given.

    Attributes
    ----------
    given
        Settings of the command line.
    out, cache
        Folders of results and of landmarks.
    log
        Whether and where to record.
    overlay, again
        Whether to write overlay films, and to compute finished clips again.
    as_json, quiet, debug
        What to print.
    """

    given: GivenSettings
    out: Path
    cache: Path
    log: LogRequest
    overlay: bool = False
    again: bool = False
    as_json: bool = False
    quiet: bool = False
    debug: bool = False


@dataclass(slots=True)
class Batch:
    """A run over several clips.

    Attributes
    ----------
    films, options, words
        What to analyse, how, and the texts of the run.
    progress
        Shows how far it has come.
    rows
        Row of each film that is done, by its place.
    exit_code
        The greatest of all errors.
    """

    films: Sequence[Path]
    options: BatchOptions
    words: Words
    progress: BatchProgress
    rows: dict[int, IndexRow] = field(default_factory=dict)
    exit_code: int = 0
    _next_index_s: float = 0.0

    def run(self, crew: Crew) -> None:
        """Analyse all films; a bounded number of them is with the workers at any time.

        Raises
        ------
        CrossemetryError
            The workers cannot be reached any more, or the index cannot be written.
        """
        places: dict[Path, int] = {}
        try:
            for place, job in self._jobs():
                while len(places) >= crew.n_at_once:
                    self._take(crew, places)
                places[job.film] = place
                self.progress.start(job.film)
                crew.submit(job)
            while places:
                self._take(crew, places)
        finally:
            crew.close()
            self._write_index()

    def ordered_rows(self) -> list[IndexRow]:
        """Return the rows in the order of the films."""
        return [self.rows[place] for place in sorted(self.rows)]

    def _jobs(self) -> Iterator[tuple[int, ClipJob]]:
        """Yield the clips that must be computed; those that are finished are shown at once."""
        stems: set[str] = set()
        for place, film in enumerate(self.films):
            try:
                # Compared without case, as the file systems of Windows and macOS do.
                if film.stem.casefold() in stems:
                    raise SettingsError.of("same_clip_name", clip=film.name)
                stems.add(film.stem.casefold())
                job = self._job_of(film)
                row = None if self.options.again else _earlier_row(job)
                if row is None:
                    options = self.options
                    options.log.note_folders(
                        film, job.settings.athlete, out=options.out, cache=options.cache,
                        with_index=True,
                    )  # fmt: skip
            except Exception as error:
                self._fail(place, film, error)
                continue
            if row is None:
                yield place, job
            else:
                text = self.words.text("batch_output.earlier", clip=film.name, found=row.found)
                self._finish(place, film, row, text)

    def _job_of(self, film: Path) -> ClipJob:
        from pipeline.film.container import file_digest

        options = self.options
        settings = allowed_settings(film, options.given, options.log)
        return ClipJob(
            film=film,
            settings=settings,
            out=options.out,
            cache=options.cache,
            overlay=options.overlay,
            digest=file_digest(film) if film.is_file() else "",
            work=work_digest(settings, options.log, overlay=options.overlay),
        )

    def _take(self, crew: Crew, places: dict[Path, int]) -> None:
        """Wait for a clip, record it, and show it."""
        job, outcome = crew.next_done()
        place = places.pop(job.film)
        if outcome.error is not None or outcome.analysis is None:
            error = outcome.error or RuntimeError("no results")
            self._fail(place, job.film, error, trace=outcome.trace)
            return
        try:
            row, text = self._recorded(job, outcome)
        except Exception as error:
            self._fail(place, job.film, error)
        else:
            self._finish(place, job.film, row, text)

    def _recorded(self, job: ClipJob, outcome: Outcome) -> tuple[IndexRow, str]:
        """Write a clip into the log, and then that it is finished; returns its row and summary."""
        from pipeline.commands.terminal import summary
        from pipeline.feedback.words import words_of
        from pipeline.report.manifest import mark_finished
        from pipeline.report.run_index import index_row
        from pipeline.web.review.analyse_film import record_film

        analysis, log = outcome.analysis, self.options.log
        assert analysis is not None
        folder = outcome.written[0].parent
        logged = record_film(analysis, job.settings, log, results=folder, cache=job.cache)
        row = index_row(analysis, folder)
        with writing_results(folder):
            mark_finished(folder, replace(_wanted(job), row=row.document()))
        text = summary(analysis, list(outcome.written))
        return row, text + logged_text(words_of(analysis), logged)

    def _fail(self, place: int, film: Path, error: Exception, trace: str = "") -> None:
        from pipeline.report.run_index import IndexRow

        shown = error if isinstance(error, CrossemetryError) else inside_error(error)
        options = self.options

        def report() -> None:
            if options.debug and trace:
                click.echo(trace, err=True)
            code = report_error(error, debug=options.debug and not trace, of=film)
            self.exit_code = max(self.exit_code, code)

        self.rows[place] = IndexRow(clip=film.name, error=shown.translate(self.words.texts))
        self.progress.finish(film, report)

    def _finish(self, place: int, film: Path, row: IndexRow, text: str) -> None:
        def show() -> None:
            if not self.options.quiet and not self.options.as_json:
                click.echo(text)

        self.rows[place] = row
        self.progress.finish(film, show)
        if time.monotonic() > self._next_index_s:
            self._write_index()

    def _write_index(self) -> None:
        from pipeline.report.run_index import write_index

        start_s = time.monotonic()
        write_index(self.ordered_rows(), self.options.out, self.words)
        stop_s = time.monotonic()
        self._next_index_s = stop_s + max(INDEX_EVERY_S, (stop_s - start_s) / INDEX_SHARE)


def _wanted(job: ClipJob) -> Finished:
    from pipeline.report.manifest import Finished

    return Finished(film=job.digest, work=job.work, program=__version__)


def _earlier_row(job: ClipJob) -> IndexRow | None:
    """Return the row of a clip that is finished; None if it must be computed."""
    from pipeline.report.manifest import finished_row
    from pipeline.report.results import results_folder
    from pipeline.report.run_index import row_of_document

    if not job.digest:
        return None
    document = finished_row(results_folder(job.out, job.film, job.digest), _wanted(job))
    with suppress(KeyError, TypeError):
        return None if document is None else replace(row_of_document(document), earlier=True)
    return None


CrewMaker = Callable[[int, "BatchProgress"], Crew]


def run_batch(films: Sequence[Path], options: BatchOptions, make_crew: CrewMaker) -> int:
    """Analyse several films and print what was found; returns the exit code.

    Parameters
    ----------
    films
        From `films_of`.
    options
        Of the run.
    make_crew
        Given the number of films and what shows the progress; starts the workers.

    Raises
    ------
    CrossemetryError
        The workers cannot be started or reached, or the index cannot be written.
    """
    from pipeline.commands.terminal import BatchProgress, batch_table
    from pipeline.feedback.words import load_words

    words = load_words(language=options.given.language, units=options.given.units)
    with BatchProgress(len(films), words, quiet=options.quiet) as progress:
        batch = Batch(films, options, words, progress)
        batch.run(make_crew(len(films), progress))
    rows = batch.ordered_rows()
    if options.as_json:
        tables = [options.out / row.folder / "reps.json" for row in rows if row.error is None]
        results = [json.loads(path.read_text(encoding="utf-8")) for path in tables]
        if results:
            click.echo(json.dumps(results, indent=2))
    elif not options.quiet:
        click.echo("\n".join(batch_table(rows, words, options.out)))
    return batch.exit_code
