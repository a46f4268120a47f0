"""Runs jobs, one clip each: in this process, or in worker processes that outlive their clips."""

from __future__ import annotations

import math
import multiprocessing
import os
import signal
import threading
import time
import traceback
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from pipeline.core.errors import CrossemetryError
from pipeline.core.progress import Progress, ProgressCallback, ignore_progress
from pipeline.settings.settings import AnalysisSettings

if TYPE_CHECKING:
    from multiprocessing.connection import Connection
    from multiprocessing.context import SpawnProcess

    from pipeline.core.results import Analysis

WORKER_MB = 1500
"""Limit of memory per worker: one is started for each, and one that keeps more is replaced."""

MOST_TRIES = 2
"""A clip is given out again after its worker ended, up to so many times in all."""

REPORT_EVERY_S = 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipJob:
    """A clip to analyse, as it is sent to a worker.

    Attributes
    ----------
    film, settings
        The film and the settings of its analysis.
    out, cache
        Folders of all results and of landmarks.
    overlay
        Whether to write the overlay film.
    digest
        SHA-256 of the film; empty if it could not be read.
    work
        Digest of all else that decides the results.
    """

    film: Path
    settings: AnalysisSettings
    out: Path
    cache: Path
    overlay: bool = False
    digest: str = ""
    work: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What became of a job.

    Attributes
    ----------
    analysis, written
        Results and written files, the report first; None and empty after an error.
    error, trace
        Why there are none, and where it arose.
    memory_mb
        Memory that the worker holds afterwards.
    """

    analysis: Analysis | None = None
    written: tuple[Path, ...] = ()
    error: CrossemetryError | None = None
    trace: str = ""
    memory_mb: float = 0.0


ClipProgress = Callable[[Path, Progress], None]
"""Called often, with the film of a job and its progress."""

JobFunction = Callable[[ClipJob, ProgressCallback], Outcome]


class Crew(Protocol):
    """Workers that run jobs."""

    @property
    def n_at_once(self) -> int:
        """Number of jobs that may be with the workers at once."""

    def submit(self, job: ClipJob) -> None:
        """Give a job to a worker; at most `n_at_once` may be open."""

    def next_done(self) -> tuple[ClipJob, Outcome]:
        """Wait for the next job that is done."""

    def close(self) -> None:
        """Stop the workers, also in the middle of a job."""


def default_workers(n_clips: int) -> int:
    """Return one worker for each core and for each `WORKER_MB` of free memory, at least one."""
    import psutil

    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    free_mb = psutil.virtual_memory().available / 2**20
    return max(1, min(n_clips, cores or 1, int(free_mb // WORKER_MB)))


def run_job(job: ClipJob, on_progress: ProgressCallback = ignore_progress) -> Outcome:
    """Analyse a clip and write its results; an error is returned, not raised."""
    try:
        # Slow imports, which a worker makes once.
        import psutil

        from pipeline.commands.overlay import overlay_of
        from pipeline.web.review.analyse_film import report_on_film

        analysis, written = report_on_film(
            job.film, job.settings, out=job.out, cache=job.cache, on_progress=on_progress
        )
        if job.overlay:
            written += overlay_of(analysis, written[0].parent, job.settings, on_progress)
    except CrossemetryError as error:
        return Outcome(error=error, trace=traceback.format_exc())
    except Exception as error:
        return Outcome(error=inside_error(error), trace=traceback.format_exc())
    memory_mb = psutil.Process().memory_info().rss / 2**20
    return Outcome(analysis=analysis, written=tuple(written), memory_mb=memory_mb)


def inside_error(error: BaseException) -> CrossemetryError:
    """Return a fault of the program as an error that may travel between processes."""
    return CrossemetryError.of("inside", what=f"{type(error).__name__}: {error}")


class OwnProcess:
    """Runs each job at once in this process."""

    n_at_once = 1

    def __init__(self, on_progress: ClipProgress, run: JobFunction = run_job) -> None:
        self._on_progress = on_progress
        self._run = run
        self._done: list[tuple[ClipJob, Outcome]] = []

    def submit(self, job: ClipJob) -> None:
        """Run a job."""
        outcome = self._run(job, lambda progress: self._on_progress(job.film, progress))
        self._done.append((job, outcome))

    def next_done(self) -> tuple[ClipJob, Outcome]:
        """Return the job that was run."""
        return self._done.pop(0)

    def close(self) -> None:
        """Do nothing: no worker was started."""


@dataclass(slots=True)
class _Worker:
    """A process, the connection to it, its job, and how often that job was given out."""

    process: SpawnProcess
    connection: Connection
    job: ClipJob | None = None
    n_tries: int = 0


class WorkerProcesses:
    """Runs jobs in processes of their own; one that ends is replaced, and its job given out again.

    Parameters
    ----------
    n_workers
        Number of processes.
    on_progress
        Called with how far each clip has come.
    run
        What a worker does with a job; a function of a module.
    """

    def __init__(
        self, n_workers: int, on_progress: ClipProgress, run: JobFunction = run_job
    ) -> None:
        self._run = run
        self._on_progress = on_progress
        self._workers = [self._started() for _ in range(n_workers)]

    @property
    def n_at_once(self) -> int:
        """One job for each worker: what waits for one stays with the caller."""
        return len(self._workers)

    @property
    def process_ids(self) -> list[int]:
        """Numbers of the processes."""
        return [worker.process.pid for worker in self._workers if worker.process.pid is not None]

    def submit(self, job: ClipJob) -> None:
        """Give a job to a worker that has none."""
        place = next(i for i, worker in enumerate(self._workers) if worker.job is None)
        self._give(place, job, n_tries=1)

    def next_done(self) -> tuple[ClipJob, Outcome]:
        """Wait for the next job that is done, or whose worker ended too often."""
        from multiprocessing.connection import wait as wait_for_messages

        while True:
            busy = [worker.connection for worker in self._workers if worker.job is not None]
            connection = wait_for_messages(busy)[0]
            place = next(
                i for i, worker in enumerate(self._workers) if worker.connection is connection
            )
            done = self._received(place)
            if done is not None:
                return done

    def close(self) -> None:
        """Kill the workers."""
        for worker in self._workers:
            _kill(worker)

    def _received(self, place: int) -> tuple[ClipJob, Outcome] | None:
        """Take one message of a worker, or its end; None where its job goes on."""
        worker = self._workers[place]
        job, n_tries = worker.job, worker.n_tries
        if job is None:
            raise RuntimeError(f"worker {place} has no job")
        try:
            message = worker.connection.recv()
        except (EOFError, OSError):
            self._replace(place)
            if n_tries < MOST_TRIES:
                self._give(place, job, n_tries + 1)
                return None
            return job, Outcome(
                error=CrossemetryError.of("worker_lost", clip=job.film.name, n=n_tries)
            )
        if isinstance(message, Progress):
            self._on_progress(job.film, message)
            return None
        worker.job = None
        if message.memory_mb > WORKER_MB:
            self._replace(place)
        return job, message

    def _give(self, place: int, job: ClipJob, n_tries: int) -> None:
        worker = self._workers[place]
        worker.job, worker.n_tries = job, n_tries
        with suppress(OSError):  # it has ended: the next message is that
            worker.connection.send(job)

    def _started(self) -> _Worker:
        context = multiprocessing.get_context("spawn")
        connection, other_end = context.Pipe()
        process = context.Process(target=_serve, args=(other_end, self._run), daemon=True)
        process.start()
        other_end.close()  # so that the connection closes with the worker
        return _Worker(process, connection)

    def _replace(self, place: int) -> None:
        _kill(self._workers[place])
        self._workers[place] = self._started()


def _kill(worker: _Worker) -> None:
    worker.process.kill()
    worker.process.join()
    worker.connection.close()


def _serve(connection: Connection, run: JobFunction) -> None:
    """Run jobs that come over the connection, until it closes.

    The parent handles Ctrl-C. When the parent has ended, this process ends at once, so that it does
    not write at the same time as the next run.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    sending = threading.Lock()  # progress may come from another thread than the outcome

    def send(message: Progress | Outcome) -> None:
        with sending:
            connection.send(message)

    while True:
        try:
            job = connection.recv()
        except (EOFError, OSError):
            return
        outcome = run(job, _throttled(send))
        try:
            send(outcome)
        except Exception as error:  # it cannot be sent to another process
            send(Outcome(error=inside_error(error), trace=traceback.format_exc()))


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _throttled(send: Callable[[Progress], None]) -> ProgressCallback:
    """Return a callback that reports a few times a second."""
    last_s = -math.inf

    def report(progress: Progress) -> None:
        nonlocal last_s
        now_s = time.monotonic()
        if now_s - last_s >= REPORT_EVERY_S:
            last_s = now_s
            send(progress)

    return report
