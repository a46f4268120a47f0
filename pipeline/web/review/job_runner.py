"""Runs the jobs of the page one after the other, each in a separate process."""

from __future__ import annotations

import contextlib
import json
import os
import subprocess
import sys
import threading
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime, timezone
from typing import Any

from pipeline.core.errors import CrossemetryError, OutputError
from pipeline.core.files import locked
from pipeline.web.review.context import ReviewContext
from pipeline.web.review.jobs import Job, claim_job, end_job, note_progress, queue_again

LOOKED_EVERY_S = 0.5
WRITTEN_EVERY_S = 0.4
LONGEST_ERROR_TEXT = 500


class JobRunner:
    """Runs waiting jobs, one at a time, until it is stopped.

    Of several programs on one data folder, only one runs jobs; the others wait until it ends.

    Parameters
    ----------
    context
        Of the review.
    database
        Address of the log as typed, for the process of the job.
    """

    def __init__(self, context: ReviewContext, database: str | None) -> None:
        self._context = context
        self._database = database
        self._stop = threading.Event()
        self._wake = threading.Event()
        self._process: subprocess.Popen[str] | None = None
        self._thread = threading.Thread(target=self._run, daemon=True)

    def start(self) -> None:
        """Start the thread."""
        self._thread.start()

    def stop(self) -> None:
        """End the thread and the running job, which starts again next time."""
        self._stop.set()
        self._wake.set()
        self._end_process()
        self._thread.join(timeout=5.0)

    def wake(self) -> None:
        """Look for a waiting job now."""
        self._wake.set()

    def _run(self) -> None:
        while not self._stop.is_set():
            try:
                with locked(self._context.data / "review" / "jobs", wait_s=0.0):
                    with self._context.log.writing() as connection:
                        queue_again(connection)
                    self._work()
            except OutputError:
                self._stop.wait(4 * LOOKED_EVERY_S)  # another program runs the jobs
            except CrossemetryError:
                self._stop.wait(LOOKED_EVERY_S)  # the log is busy; the job stays in it

    def _work(self) -> None:
        while not self._stop.is_set():
            with self._context.log.writing() as connection:
                job = claim_job(connection, at=_now())
            if job is None:
                self._wake.wait(LOOKED_EVERY_S)
                self._wake.clear()
            else:
                self._do(job)

    def _do(self, job: Job) -> None:
        last: Mapping[str, Any] = {}
        with self._started(job) as process:
            written_s = 0.0
            for line in process.stdout or ():
                with contextlib.suppress(ValueError):
                    last = json.loads(line)
                if "stage" in last and time.monotonic() - written_s > WRITTEN_EVERY_S:
                    written_s = time.monotonic()
                    if not self._note(job, last):
                        self._end_process()
        if self._stop.is_set():
            return  # the job is still "running" in the log, and waits again after the next start
        with self._context.log.writing() as connection:
            if "result" in last:
                end_job(connection, job.id, "done", at=_now(), result=last["result"])
            else:
                error_text = str(last.get("error", self._context.words.text("review.job_died")))
                end_job(
                    connection,
                    job.id,
                    "failed",
                    at=_now(),
                    error_text=error_text[:LONGEST_ERROR_TEXT],
                )

    def _note(self, job: Job, progress: Mapping[str, Any]) -> bool:
        with self._context.log.writing() as connection:
            return note_progress(connection, job.id, progress)

    @contextmanager
    def _started(self, job: Job) -> Iterator[subprocess.Popen[str]]:
        process = subprocess.Popen(
            [sys.executable, "-m", "pipeline.web.review.job_worker"],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
            encoding="utf-8", env=_environment(),
        )  # fmt: skip
        self._process = process
        request = {
            **job.request,
            "kind": job.kind,
            "by": job.by,
            "at": _now().isoformat(),
            "film": job.film_path,
            "language": self._context.words.language,
            "units": self._context.words.texts.figures.system,
            "database": self._database,
            "cache": str(self._context.cache),
            "results": str(self._context.results),
        }
        try:
            with contextlib.suppress(BrokenPipeError):
                if process.stdin is not None:
                    process.stdin.write(json.dumps(request))
                    process.stdin.close()
            yield process
        finally:
            self._end_process()
            process.wait()
            if process.stdout is not None:
                process.stdout.close()

    def _end_process(self) -> None:
        process = self._process
        if process is not None and process.poll() is None:
            process.terminate()
            try:
                process.wait(timeout=2.0)
            except subprocess.TimeoutExpired:
                process.kill()


def _environment() -> dict[str, str]:
    """Environment in which the process imports the same modules, from any folder."""
    path = os.pathsep.join(entry for entry in sys.path if entry)
    return {**os.environ, "PYTHONPATH": path}


def _now() -> datetime:
    return datetime.now(tz=timezone.utc)
