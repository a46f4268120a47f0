"""Pages for adding film: upload, marks of its field, progress of the analysis."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime, timezone
from pathlib import Path
from typing import TYPE_CHECKING, Any

from models import DEFAULT_MODEL
from pipeline.core.errors import CrossemetryError, ReviewError, UploadError
from pipeline.core.move_table import known_moves
from pipeline.log.athlete_files import FOLDER, marks_beside
from pipeline.log.athletes import Athlete, all_athletes, athlete_of, refuse_without_consent
from pipeline.settings.checks import DEFAULT_LEVEL, LEVELS
from pipeline.settings.settings import AnalysisSettings, settings_text
from pipeline.web.field.app import make_app
from pipeline.web.field.picture import field_picture
from pipeline.web.review.context import ReviewContext, render_page
from pipeline.web.review.forms import choice_in, number_in, read_form, redirect_to, stature_in
from pipeline.web.review.jobs import Job, add_job, cancel_job, job_of, last_jobs, release_job
from pipeline.web.review.uploads import (
    MOST_FILM_BYTES,
    Upload,
    enough_room,
    store_film,
    take_upload,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from starlette.applications import Starlette
    from starlette.requests import Request
    from starlette.responses import Response
    from starlette.routing import Mount, Route
    from starlette.types import Receive, Scope, Send

UPLOAD = "/film/upload"
MOST_FORM_BYTES = MOST_FILM_BYTES + 2**20
"""Size limit of a form with a film and some fields."""


def streamed_bytes(path: str) -> int | None:
    """Give the number of bytes that a path takes as a stream, for the guard; None = no stream."""
    return MOST_FORM_BYTES if path == UPLOAD else None


def film_routes(context: ReviewContext, wake: Callable[[], None]) -> list[Route]:
    """Give the routes that receive film and show the progress of its analysis.

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
        with context.log.reading() as connection:
            athletes = [(one.id, one.name) for one in all_athletes(connection)]
            jobs = [job_view(context, job) for job in last_jobs(connection)]
        who = request.query_params.get("who", "")
        return render_page(
            context, request, "film.html", athletes=athletes, jobs=jobs, who=who,
            moves=[(move, context.words.move_name(move)) for move in known_moves()],
            levels=LEVELS, most_gb=MOST_FILM_BYTES // 2**30,
        )  # fmt: skip

    def progress(request: Request) -> Response:
        with context.log.reading() as connection:
            jobs = [job_view(context, job) for job in last_jobs(connection)]
        return render_page(context, request, "jobs.html", jobs=jobs)

    async def upload(request: Request) -> Response:
        declared = request.headers.get("content-length", "")
        if declared.isdigit() and not enough_room(context.film, int(declared)):
            raise UploadError.of("disk_too_full")
        sent = await take_upload(
            request.stream(), request.headers.get("content-type", ""), context.film,
            most_bytes=MOST_FILM_BYTES,
        )  # fmt: skip
        await run_in_threadpool(add_films, context, sent)
        wake()
        return redirect_to("/film")

    async def change(request: Request) -> Response:
        form = await read_form(request)
        now = datetime.now(tz=timezone.utc)

        def work() -> None:
            with context.log.writing() as connection:
                if "cancel" in form:
                    cancel_job(connection, number_in(form, "cancel"), at=now)
                elif "again" in form:
                    _repeat_job(context, connection, number_in(form, "again"), now)
                else:
                    release_job(connection, number_in(form, "go"))

        await run_in_threadpool(work)
        wake()
        return redirect_to("/film")

    return [
        Route("/film", page),
        Route("/film/jobs", progress),
        Route("/film/jobs", change, methods=["POST"]),
        Route(UPLOAD, upload, methods=["POST"]),
    ]


def add_films(context: ReviewContext, sent: Upload) -> list[int]:
    """Store sent films, and add a job for the analysis of each.

    Returns
    -------
    list of int
        Numbers of the jobs.

    Raises
    ------
    CrossemetryError
        A field is not valid, consent is missing, or a file is not a film. No film is stored then.
    """
    stored: list[tuple[str, Path]] = []
    try:
        if not sent.films:
            raise ReviewError.of("no_film_sent")
        with context.log.reading() as connection:
            athlete = athlete_of(connection, number_in(sent.fields, "who", least=1))
        settings = _settings(context, athlete, sent.fields)
        stored = [(name, store_film(part, context.film)) for name, part in sent.films]
        now = datetime.now(tz=timezone.utc)
        with context.log.writing() as connection:
            return [
                add_job(
                    connection, "analyse", by=context.by, at=now, athlete_id=athlete.id,
                    file_name=name, film_path=str(path), on_hold="mark_first" in sent.fields,
                    request={"settings": settings_text(settings)},
                )
                for name, path in stored
            ]  # fmt: skip
    except BaseException:
        sent.discard()
        for _, path in stored:
            path.unlink(missing_ok=True)
        raise


def job_view(context: ReviewContext, job: Job) -> dict[str, Any]:
    """Texts and values of a job for its template."""
    words = context.words
    result = job.result
    text = job.error_text or ""
    if job.state == "done" and job.kind == "analyse":
        text = words.text("review.job_found", n=result.get("n_reps", 0))
    elif job.state == "done":
        text = words.text(
            "review.learned", before=result["right_before"], after=result["right_after"],
            n=result["n"],
        )  # fmt: skip
        if not result["in_force"]:
            text = f"{text} {result['why_not']}"
    stage = job.stage or ""
    return {
        "id": job.id,
        "kind": job.kind,
        "state": job.state,
        "title": words.text(f"review.job_{job.kind}"),
        "state_text": words.text(f"review.state_{job.state}"),
        "stage": words.texts.named("terminal", stage) if stage else "",
        "share": job.share,
        "athlete": job.athlete or "",
        "file_name": job.file_name or "",
        "text": text,
        "clip": result.get("clip"),
    }


def _settings(
    context: ReviewContext, athlete: Athlete, fields: Mapping[str, str]
) -> AnalysisSettings:
    """Make the settings of an analysis from a form; raises `CrossemetryError`."""
    today = datetime.now().astimezone().date()
    refuse_without_consent(athlete, athlete.name, today)
    stature_m = stature_in(fields) or athlete.stature_m(today)
    if stature_m is None:
        raise ReviewError.of("athlete_without_stature", name=athlete.name)
    hand: Any = choice_in(fields, "hand", ("left", "right")) or athlete.stick_hand
    return AnalysisSettings(
        stature_m=stature_m,
        move=choice_in(fields, "move", known_moves()),
        level=choice_in(fields, "level", LEVELS) or athlete.level or DEFAULT_LEVEL,
        athlete=athlete.name,
        age_years=None if athlete.birth_year is None else float(today.year - athlete.birth_year),
        stick_hand=hand,
        model=DEFAULT_MODEL,
        language=context.words.language,
        units=context.words.texts.figures.system,
    )


def _repeat_job(context: ReviewContext, connection: Any, number: int, now: datetime) -> None:  # noqa: ANN401
    job = job_of(connection, number)
    if job is None or job.state not in ("failed", "cancelled"):
        raise ReviewError.of("cannot_do_again")
    from pipeline.log.athletes import find_athlete

    athlete_id = None if job.athlete is None else find_athlete(connection, job.athlete).id
    add_job(
        connection, job.kind, by=context.by, at=now, request=json.loads(json.dumps(job.request)),
        athlete_id=athlete_id, file_name=job.file_name, film_path=job.film_path,
    )  # fmt: skip


MOST_OPEN = 4
"""Number of field pages in memory; each holds a picture."""


def field_routes(context: ReviewContext) -> list[Mount]:
    """Give the field pages, under ``/film/3/field/`` for the third job."""
    from starlette.concurrency import run_in_threadpool
    from starlette.requests import Request
    from starlette.routing import Mount

    open_pages: dict[int, Starlette] = {}

    async def answer(scope: Scope, receive: Receive, send: Send) -> None:
        number = int(scope["path_params"]["job"])
        page = open_pages.get(number)
        if page is None:
            try:
                page = await run_in_threadpool(_page_for, context, number)
            except CrossemetryError as error:
                text = error.translate(context.words.texts)
                failed = render_page(
                    context, Request(scope), "failed.html", status=400, message=text,
                    back="/film",
                )  # fmt: skip
                await failed(scope, receive, send)
                return
            if page is None:
                text = context.words.text("review.no_page")
                missing = render_page(
                    context, Request(scope), "failed.html", status=404, message=text, back="/film"
                )
                await missing(scope, receive, send)
                return
            while len(open_pages) >= MOST_OPEN:
                open_pages.pop(next(iter(open_pages)))
            open_pages[number] = page
        await page(scope, receive, send)

    return [Mount("/film/{job:int}/field", app=answer)]


def _page_for(context: ReviewContext, number: int) -> Starlette | None:
    """Make the field page of a waiting film; None if the film is not waiting."""
    with context.log.reading() as connection:
        job = job_of(connection, number)
    if job is None or job.film_path is None or job.state not in ("held", "waiting"):
        return None
    film = Path(job.film_path)
    if film.resolve().parent != (context.data / FOLDER).resolve():
        return None
    field = field_picture(film, marks_beside(film))
    named = replace(field, clip_path=film.with_name(job.file_name or film.name), back="/film")
    return make_app(named, stop=lambda: None, on_saved=lambda: None, words=context.words)
