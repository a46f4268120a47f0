"""Opens the log and serves the review page to the browser on this machine."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from pipeline.core.catalogue import Language, Units
from pipeline.core.files import made_folder
from pipeline.feedback.words import load_words
from pipeline.log.review_priority import fill_flags
from pipeline.log.store import TrainingLog, opened_log
from pipeline.web import server
from pipeline.web.guard import OWN_POLICY, OWN_REFERRER
from pipeline.web.review.app import make_app
from pipeline.web.review.context import ReviewContext, environment
from pipeline.web.review.film_routes import streamed_bytes
from pipeline.web.review.job_runner import JobRunner


def review_context(
    log: TrainingLog,
    *,
    by: str,
    cache: Path | None = None,
    language: Language | None = None,
    units: Units | None = None,
) -> ReviewContext:
    """Make the context of the page, and missing folders.

    Parameters
    ----------
    log
        The open log; reps without flags get theirs.
    by
        Name of the reviewer.
    cache
        Folder of landmarks; None = in the data folder.
    language, units
        Language and units of the page; None = those of the environment.

    Raises
    ------
    CrossemetryError
        A folder or the log cannot be written, or the texts cannot be read.
    """
    words = load_words(language=language, units=units)
    with log.writing() as connection:
        fill_flags(connection, words.weight_of)
    context = ReviewContext(
        log=log,
        data=made_folder().resolve(),
        cache=(cache or made_folder("review/cache")).resolve(),
        by=by,
        words=words,
        templates=environment(words),
    )
    for folder in ("film", "results"):
        made_folder(f"review/{folder}")
    return context


def serve_review(
    *,
    by: str,
    database: str | None,
    cache: Path | None,
    port: int,
    language: Language | None,
    units: Units | None,
    on_ready: Callable[[str], None],
) -> None:
    """Serve the page until Ctrl-C.

    Parameters
    ----------
    by, cache, language, units
        As for `review_context`.
    database
        Address of the log as typed.
    port
        Port on this machine; 0 = any free one.
    on_ready
        Called with the address to open, which works once.

    Raises
    ------
    CrossemetryError
        The log cannot be opened, or the port is not free.
    KeyboardInterrupt
        Ctrl-C was pressed.
    """
    with opened_log(database) as log:
        context = review_context(log, by=by, cache=cache, language=language, units=units)
        runner = JobRunner(context, database)
        runner.start()
        try:
            server.serve_on_loopback(
                lambda stop: make_app(context, runner.wake),
                on_ready=on_ready,
                port=port,
                policy=OWN_POLICY,
                referrer=OWN_REFERRER,
                streamed=streamed_bytes,
                language=context.words.language,
            )
        finally:
            runner.stop()
