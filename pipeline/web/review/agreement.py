"""Agreement of coaches with the program's verdicts: kappa with its interval, and its page."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timezone
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from sqlalchemy import Connection, func, select

from pipeline.core.errors import ReviewError
from pipeline.core.types import FloatArray
from pipeline.feedback.words import Words
from pipeline.log.marks import ANSWERS, UNDO
from pipeline.log.schema import JOBS, REVIEW_MARKS
from pipeline.report.verdict_marks import in_order
from pipeline.web.review.context import ReviewContext, render_page
from pipeline.web.review.film_routes import job_view
from pipeline.web.review.forms import read_form, redirect_to
from pipeline.web.review.jobs import UNDONE_STATES, add_job, last_jobs
from pipeline.web.review.learn import taught_marks

if TYPE_CHECKING:
    from collections.abc import Callable

    from starlette.requests import Request
    from starlette.responses import Response
    from starlette.routing import Route

FEWEST = 20
"""Least number of answers for a kappa; with fewer, its interval covers nearly the whole range."""

NORMAL_95 = 1.96
JUDGED = ("in range", "out of range")
ON_THE_NUMBER = (None, "measured_wrong", "fine_here")
"""Reasons that concern the verdict; a rep of another move is no answer about its numbers."""

AgreementState = Literal["few", "one_sided", "known"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """One answer of a coach to one verdict.

    Attributes
    ----------
    measure
        Key of the measure.
    program, coach
        Verdict of each: in range or out of range.
    at
        Time of the answer.
    """

    measure: str
    program: str
    coach: str
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreement:
    """Agreement of coach and program.

    Attributes
    ----------
    n, n_same
        Number of answers, and of those equal to the program's verdict.
    state
        ``few`` = too few answers; ``one_sided`` = one of the two always gave the same verdict, so
        kappa is undefined; ``known`` = kappa is known.
    kappa, low, high
        Kappa and its 95 % interval; None unless known.
    """

    n: int
    n_same: int
    state: AgreementState
    kappa: float | None = None
    low: float | None = None
    high: float | None = None


def agreement_of(answers: Sequence[Answer]) -> Agreement:
    """Compute Cohen's kappa of answers, of one measure or of all.

    Kappa is (observed - by chance) / (1 - by chance), of the shares with equal verdicts.

    References
    ----------
    Cohen 1960, Educational and Psychological Measurement 20:37-46.
    """
    n_same = sum(one.program == one.coach for one in answers)
    if len(answers) < FEWEST:
        return Agreement(n=len(answers), n_same=n_same, state="few")
    table = table_of(answers)
    if (table.sum(axis=0) == 0).any() or (table.sum(axis=1) == 0).any():
        return Agreement(n=len(answers), n_same=n_same, state="one_sided")
    from sklearn.metrics import cohen_kappa_score

    kappa = float(
        cohen_kappa_score([one.program for one in answers], [one.coach for one in answers])
    )
    half = NORMAL_95 * kappa_standard_error(table)
    return Agreement(
        n=len(answers), n_same=n_same, state="known", kappa=kappa,
        low=max(-1.0, kappa - half), high=min(1.0, kappa + half),
    )  # fmt: skip


def table_of(answers: Iterable[Answer]) -> FloatArray:
    """Count answers: (2, 2), the program's verdict by row and the coach's by column."""
    table = np.zeros((len(JUDGED), len(JUDGED)))
    for one in answers:
        table[JUDGED.index(one.program), JUDGED.index(one.coach)] += 1
    return table


def kappa_standard_error(table: FloatArray) -> float:
    """Compute the large-sample standard error of a kappa that is not zero.

    Parameters
    ----------
    table
        (k, k) counts.

    References
    ----------
    Fleiss, Cohen & Everitt 1969, Psychological Bulletin 72:323-327, equation 13.
    """
    n = float(table.sum())
    share = np.asarray(table, dtype=float) / n
    row, column = share.sum(axis=1), share.sum(axis=0)
    same, chance = float(np.trace(share)), float(row @ column)
    diagonal = np.diag(share) * ((1.0 - chance) - (column + row) * (1.0 - same)) ** 2
    # Off the diagonal: column share of the row's category, row share of the column's.
    crossed = (column[:, None] + row[None, :]) ** 2
    off = (share * crossed).sum() - (np.diag(share) * np.diag(crossed)).sum()
    left = (same * chance - 2.0 * chance + same) ** 2
    variance = diagonal.sum() + (1.0 - same) ** 2 * off - left
    return float(math.sqrt(max(variance, 0.0)) / ((1.0 - chance) ** 2 * math.sqrt(n)))


def read_answers(connection: Connection) -> list[Answer]:
    """Read the standing answers of all coaches to verdicts, the oldest first."""
    columns = ("id", "clip_id", "rep_number", "kind", "why", "measure", "program", "at", "by")
    query = select(*(REVIEW_MARKS.c[name] for name in (*columns, "undoes"))).where(
        REVIEW_MARKS.c.kind.in_((*ANSWERS, UNDO))
    )
    rows = connection.execute(query.order_by(REVIEW_MARKS.c.id)).mappings().all()
    undone = {row["undoes"] for row in rows if row["kind"] == UNDO}
    last: dict[tuple[Any, ...], Mapping[Any, Any]] = {}
    for row in rows:
        if row["kind"] != UNDO and row["id"] not in undone:
            last[row["clip_id"], row["rep_number"], row["measure"], row["by"]] = row
    return [
        Answer(
            measure=row["measure"],
            program=row["program"],
            coach=_coach_verdict(row),
            at=row["at"],
        )
        for row in last.values()
        if row["measure"] and row["program"] in JUDGED and row["why"] in ON_THE_NUMBER
    ]


def by_measure(answers: Iterable[Answer]) -> dict[str, list[Answer]]:
    """Group answers by measure."""
    found: dict[str, list[Answer]] = {}
    for one in answers:
        found.setdefault(one.measure, []).append(one)
    return found


def by_month(answers: Iterable[Answer]) -> dict[str, list[Answer]]:
    """Group answers by month, such as ``2026-09``, in order of time."""
    found: dict[str, list[Answer]] = {}
    for one in sorted(answers, key=lambda one: one.at):
        found.setdefault(one.at.astimezone().strftime("%Y-%m"), []).append(one)
    return found


def _coach_verdict(row: Mapping[Any, Any]) -> str:
    program: str = row["program"]
    if row["kind"] == "agree":
        return program
    return JUDGED[1 - JUDGED.index(program)] if program in JUDGED else program


def agreement_routes(context: ReviewContext, wake: Callable[[], None]) -> list[Route]:
    """Give the routes of the page on agreement.

    Parameters
    ----------
    context
        Of the review.
    wake
        Called after a job was added.
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
        return render_page(
            context, request, "agreement.html",
            rows=[
                {"title": words.title(key), **agreement_view(words, agreement_of(parts[key]))}
                for key in in_order(list(parts))
            ],
            whole=agreement_view(words, agreement_of(answers)),
            months=[
                {"title": month, **agreement_view(words, agreement_of(some))}
                for month, some in by_month(answers).items()
            ],
            n=len(answers), fewest=FEWEST, n_taught=n_taught,
            jobs=[job_view(context, job) for job in jobs],
        )  # fmt: skip

    async def learn(request: Request) -> Response:
        await read_form(request)
        now = datetime.now(tz=timezone.utc)

        def work() -> None:
            with context.log.writing() as connection:
                waits = select(func.count()).where(
                    JOBS.c.kind == "learn", JOBS.c.state.in_(UNDONE_STATES)
                )
                if connection.execute(waits).scalar():
                    raise ReviewError.of("learning_already")
                add_job(connection, "learn", by=context.by, at=now, request={})

        await run_in_threadpool(work)
        wake()
        return redirect_to("/agreement")

    return [Route("/agreement", page), Route("/agreement/learn", learn, methods=["POST"])]


def agreement_view(words: Words, found: Agreement) -> dict[str, Any]:
    """Texts of an agreement; the reason in place of kappa where it is not known."""
    same = words.text("review.same", same=found.n_same, n=found.n)
    if found.kappa is None or found.low is None or found.high is None:
        why = words.text(f"review.kappa_{found.state}", n=found.n)
        return {"same": same, "kappa": "", "why": why}
    kappa = words.text("review.kappa", kappa=found.kappa, low=found.low, high=found.high)
    return {"same": same, "kappa": kappa, "why": ""}
