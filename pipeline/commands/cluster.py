"""Runs jobs on the workers of a Dask cluster: over a shared folder, or with the films sent."""

from __future__ import annotations

import os
import tempfile
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from models import MODELS
from pipeline import __version__
from pipeline.commands.batch import data_files
from pipeline.commands.clip_workers import (
    ClipJob,
    ClipProgress,
    JobFunction,
    Outcome,
    inside_error,
    run_job,
)
from pipeline.core.errors import CrossemetryError, SettingsError
from pipeline.core.files import VARIABLE, write_whole
from pipeline.core.progress import ignore_progress
from pipeline.settings.settings import NAMED_FILES

if TYPE_CHECKING:
    from distributed import Client, Future

    from pipeline.settings.settings import AnalysisSettings

CONNECT_S = 10.0
"""Time in which the scheduler must answer, and have a worker."""

CLIPS_PER_WORKER = 2
"""One clip is analysed while the next one waits; more of them would only fill memory."""

MOST_TRIES = 3
"""A clip is sent again after its worker or its copy there was lost, up to so many times in all."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SentJob:
    """A job as it is sent to another machine.

    Attributes
    ----------
    job
        With whole paths.
    settings_files
        Content of the files that the settings name, by setting.
    data_files
        Content of the files of the data folder that decide the results, by name.
    run
        What the worker does with the job.
    """

    job: ClipJob
    settings_files: Mapping[str, bytes]
    data_files: Mapping[str, bytes]
    run: JobFunction = run_job


@dataclass(frozen=True, slots=True, kw_only=True)
class SentOutcome:
    """What a worker sends back.

    Attributes
    ----------
    outcome
        Results; the paths in it are of the worker.
    results
        Content of the written files by who wrote them and name, where the film was sent.
    cache
        Content of the files in the folder of landmarks by name, where the film was sent.
    """

    outcome: Outcome
    results: Mapping[str, Mapping[str, bytes]] = field(default_factory=dict)
    cache: Mapping[str, bytes] = field(default_factory=dict)


_one_at_a_time = threading.Lock()
"""In a worker: one clip and one pose model at a time, however many threads the worker has."""


def run_sent_job(sent: SentJob, film: bytes | None = None) -> SentOutcome:
    """Run a job on a worker of the cluster.

    Parameters
    ----------
    sent
        The job.
    film
        Content of the film; None = it lies in a folder that this machine shares.
    """
    with _one_at_a_time, tempfile.TemporaryDirectory(dir=_scratch()) as scratch:
        folder = Path(scratch)
        with _data_folder(folder / "data", sent.data_files):
            settings = sent.job.settings
            for name, content in sent.settings_files.items():
                path = folder / name / getattr(settings, name).name
                _put(path, content)
                settings = replace(settings, **{name: path})
            job = replace(sent.job, settings=settings)
            if film is None:
                return SentOutcome(outcome=sent.run(job, ignore_progress))
            here = replace(
                job,
                film=folder / "film" / job.film.name,
                out=folder / "out",
                cache=folder / "cache",
            )
            _put(here.film, film)
            outcome = sent.run(here, ignore_progress)
            return SentOutcome(
                outcome=outcome, results=_results(outcome), cache=_contents(here.cache)
            )


def _scratch() -> str | None:
    """Return the folder that Dask clears after a worker that was killed."""
    from distributed import get_worker

    try:
        return str(get_worker().local_directory)
    except ValueError:  # not in a worker
        return None


@contextmanager
def _data_folder(folder: Path, files: Mapping[str, bytes]) -> Iterator[None]:
    """Use the sent files in place of the data folder of this machine."""
    folder.mkdir()
    for name, content in files.items():
        _put(folder / name, content)
    before = os.environ.get(VARIABLE)
    os.environ[VARIABLE] = str(folder)
    try:
        yield
    finally:
        os.environ.pop(VARIABLE)
        if before is not None:
            os.environ[VARIABLE] = before


def _put(path: Path, content: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)


def _results(outcome: Outcome) -> dict[str, dict[str, bytes]]:
    """Read the written files, by who wrote them."""
    from pipeline.report.manifest import read_manifest

    if not outcome.written:
        return {}
    folder = outcome.written[0].parent
    known = read_manifest(folder)
    found: dict[str, dict[str, bytes]] = {}
    for name, entry in ({} if known is None else known.entries).items():
        found.setdefault(entry.origin.made_by, {})[name] = (folder / name).read_bytes()
    return found


def _contents(folder: Path) -> dict[str, bytes]:
    paths = folder.iterdir() if folder.is_dir() else ()
    return {path.name: path.read_bytes() for path in paths if path.is_file()}


@dataclass(slots=True)
class _Open:
    """A job that the cluster has, how often it was sent, and its film if that was sent."""

    job: ClipJob
    n_tries: int
    film: Any = None


class ClusterWorkers:
    """Runs jobs on a Dask cluster that somebody started.

    Parameters
    ----------
    address
        Of the scheduler.
    with_films
        Whether films are sent, and results sent back; else all machines share the folders.
    on_progress
        Not called: the cluster reports only what is done.
    run
        What a worker does with a job; a function of a module.

    Raises
    ------
    SettingsError
        Nobody answers, there is no worker, or a worker has another version of the program.
    """

    def __init__(
        self,
        address: str,
        *,
        with_films: bool,
        on_progress: ClipProgress | None = None,
        run: JobFunction = run_job,
    ) -> None:
        del on_progress
        self._address = address
        self._with_films = with_films
        self._run = run
        self._open: dict[Future, _Open] = {}
        self._client = self._connected()
        self._done = self._completed()

    @property
    def n_at_once(self) -> int:
        """A bounded number for each worker that is there now."""
        return CLIPS_PER_WORKER * max(1, len(self._client.nthreads()))

    def submit(self, job: ClipJob) -> None:
        """Send a job."""
        self._send(job, n_tries=1)

    def next_done(self) -> tuple[ClipJob, Outcome]:
        """Wait for the next job that is done."""
        while True:
            future = next(self._done)
            one = self._open.pop(future)
            sent = self._result_of(future)
            if sent is not None:
                return one.job, self._outcome(one.job, sent)
            if future.status != "error" and one.n_tries < MOST_TRIES:
                self._send(one.job, one.n_tries + 1)
                continue
            return one.job, Outcome(error=_error_of(future, one))

    def _result_of(self, future: Future) -> SentOutcome | None:
        """Fetch what a worker sent back; None if there is nothing.

        A worker that is lost takes along its films, and results that were not fetched yet.
        """
        from distributed import CancelledError

        if future.status != "finished":
            return None
        with self._reached(), suppress(CancelledError):
            sent: SentOutcome = future.result()
            return sent
        return None

    def close(self) -> None:
        """Take back what is not done, and leave the cluster."""
        with suppress(OSError, RuntimeError):  # the connection may be what broke off
            self._client.cancel(list(self._open), force=True)
            self._client.close()

    def _connected(self) -> Client:
        try:
            from distributed import Client
        except ImportError:
            raise SettingsError.of("no_cluster_library") from None
        address = self._address
        try:
            client = Client(address, timeout=CONNECT_S, set_as_default=False)
        except (OSError, ValueError, TimeoutError) as error:
            raise SettingsError.of("cluster_silent", address=address, why=str(error)) from error
        try:
            client.wait_for_workers(1, timeout=CONNECT_S)
            versions = client.run(_version)
        except TimeoutError:
            client.close()
            raise SettingsError.of("cluster_without_workers", address=address) from None
        other = next((theirs for theirs in versions.values() if theirs != __version__), None)
        if other is not None:
            client.close()
            raise SettingsError.of(
                "cluster_of_other_version", address=address, theirs=other, ours=__version__
            )
        return client

    def _completed(self) -> Any:  # noqa: ANN401  a class of the library
        """Return an iterator over futures as they end, with a result or without."""
        from distributed import as_completed

        return as_completed(loop=self._client.loop)

    @contextmanager
    def _reached(self) -> Iterator[None]:
        """Report a broken connection as an error that a user can correct."""
        try:
            yield
        except (OSError, RuntimeError) as error:  # as the library raises them
            raise SettingsError.of("cluster_lost", address=self._address, why=str(error)) from error

    def _send(self, job: ClipJob, n_tries: int) -> None:
        settings, film = job.settings, None
        if settings.model not in MODELS:
            settings = replace(settings, model=str(settings.model_path.resolve()))
        whole = replace(
            job,
            film=job.film.resolve(),
            settings=settings,
            out=job.out.resolve(),
            cache=job.cache.resolve(),
        )
        sent = SentJob(
            job=whole,
            settings_files=_settings_files(settings),
            data_files={name: path.read_bytes() for name, path in data_files(settings).items()},
            run=self._run,
        )
        with self._reached():
            if self._with_films and job.film.is_file():
                film = self._client.scatter(job.film.read_bytes(), hash=False)
            future = self._client.submit(run_sent_job, sent, film, pure=False)
        self._open[future] = _Open(job, n_tries, film)
        self._done.add(future)

    def _outcome(self, job: ClipJob, sent: SentOutcome) -> Outcome:
        """Put what was sent back where a run on this machine writes it."""
        outcome = sent.outcome
        if outcome.analysis is None:
            return outcome
        clip = replace(outcome.analysis.clip, path=job.film)
        analysis = replace(outcome.analysis, clip=clip)
        if not self._with_films:
            return replace(outcome, analysis=analysis)
        from pipeline.report.manifest import origin_of, write_recorded
        from pipeline.report.results import results_folder, write_result_files

        try:
            folder = results_folder(job.out, job.film, clip.digest)
            for made_by, files in sent.results.items():
                contents = {name: [content] for name, content in files.items()}
                if made_by == "report":
                    write_result_files(folder, contents, analysis)
                else:
                    write_recorded(folder, contents, origin_of(made_by, analysis))
            job.cache.mkdir(parents=True, exist_ok=True)
            for name, content in sent.cache.items():
                write_whole(job.cache / name, [content])
        except CrossemetryError as error:
            return Outcome(error=error)
        except OSError as error:
            return Outcome(error=inside_error(error))
        written = tuple(folder / path.name for path in outcome.written)
        return replace(outcome, analysis=analysis, written=written)


def _settings_files(settings: AnalysisSettings) -> dict[str, bytes]:
    """Read the files that settings name; the worker reports one that is missing."""
    paths = {name: getattr(settings, name) for name in NAMED_FILES}
    return {
        name: path.read_bytes()
        for name, path in paths.items()
        if path is not None and path.is_file()
    }


def _version() -> str:
    from pipeline import __version__

    return __version__


def _error_of(future: Future, one: _Open) -> CrossemetryError:
    """Return why a job has no results."""
    from distributed import KilledWorker

    error = future.exception() if future.status == "error" else None
    if error is None or isinstance(error, KilledWorker):
        n_tries = one.n_tries if error is None else MOST_TRIES
        return CrossemetryError.of("worker_lost", clip=one.job.film.name, n=n_tries)
    return inside_error(error)
