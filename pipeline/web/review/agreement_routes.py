"""The page on agreement: how often coach and program say the same, and learning from the rest."""

from __future__ import annotations

from datetime import datetime, timezone
from typing import TYPE_CHECKING, Any

from sqlalchemy import func, select

from pipeline.core.errors import ReviewError
from pipeline.feedback.words import Words
from pipeline.log.review_tables import JOBS
from pipeline.report.verdict_marks import in_order
from pipeline.web.review.agreement import (
    FEWEST,
    Agreement,
    agreement_of,
    by_measure,
    by_month,
    read_answers,
)
from pipeline.web.review.context import ReviewContext, shown
from pipeline.web.review.film_routes import told_job
from pipeline.web.review.forms import form_of, lead_to
from pipeline.web.review.jobs import UNDONE_STATES, add_job, last_jobs
from pipeline.web.review.learn import taught_marks

if TYPE_CHECKING:
    from collections.abc import Callable

    from starlette.requests import Request
    from starlette.responses import Response
    from starlette.routing import Route


def agreement_routes(context: ReviewContext, wake: Callable[[], None]) -> list[Route]:
    """Give the routes of the page on agreement.

    Parameters
    ----------
    context
        Of the review.
    wake
        Called when there is something to do.
    """
    from starlette.concurrency import run_in_threadpool
    from starlette.routing import Route

    def page(request: Request) -> Response:
        words = context.words
        with context.log.reading() as connection:
            answers = read_answers(connection)
            n_taught = len(taught_marks(connection))
            jobs = [job for job in last_jobs(connection) if job.kind == "learn"][:3]
        parts = by_measure(answers)
        return shown(
            context, request, "agreement.html",
            rows=[
                {"title": words.title(key), **told_agreement(words, agreement_of(parts[key]))}
                for key in in_order(list(parts))
            ],
            whole=told_agreement(words, agreement_of(answers)),
            months=[
                {"title": month, **told_agreement(words, agreement_of(some))}
                for month, some in by_month(answers).items()
            ],
            n=len(answers), fewest=FEWEST, n_taught=n_taught,
            jobs=[told_job(context, job) for job in jobs],
        )  # fmt: skip

    async def learn(request: Request) -> Response:
        await form_of(request)
        now = datetime.now(tz=timezone.utc)

        def work() -> None:
            with context.log.writing() as connection:
                waits = select(func.count()).where(
                    JOBS.c.kind == "learn", JOBS.c.state.in_(UNDONE_STATES)
                )
                if connection.execute(waits).scalar():
                    raise ReviewError.of("learning_already")
                add_job(connection, "learn", by=context.by, at=now, asked={})

        await run_in_threadpool(work)
        wake()
        return lead_to("/agreement")

    return [Route("/agreement", page), Route("/agreement/learn", learn, methods=["POST"])]


def told_agreement(words: Words, found: Agreement) -> dict[str, Any]:
    """Put an agreement into words: never a number where there is too little to tell one."""
    same = words.text("review.same", same=found.n_same, n=found.n)
    if found.kappa is None or found.low is None or found.high is None:
        why = words.text(f"review.kappa_{found.state}", n=found.n)
        return {"same": same, "kappa": "", "why": why}
    kappa = words.text("review.kappa", kappa=found.kappa, low=found.low, high=found.high)
    return {"same": same, "kappa": kappa, "why": ""}
