"""Marking the field of a film that was added: the page for marking, for each film that waits."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.core.errors import CrossemetryError
from pipeline.log.uploaded_film import FOLDER, marks_beside
from pipeline.web.field.app import make_app
from pipeline.web.field.picture import field_picture
from pipeline.web.review.context import ReviewContext, shown
from pipeline.web.review.jobs import job_of

if TYPE_CHECKING:
    from starlette.applications import Starlette
    from starlette.routing import Mount
    from starlette.types import Receive, Scope, Send

MOST_OPEN = 4
"""Pages for marking that are kept open: each holds a picture."""


def field_routes(context: ReviewContext) -> list[Mount]:
    """Give the pages for marking, under ``/film/3/field/`` for the third job."""
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
                said = error.said(context.words.texts)
                failed = shown(
                    context, Request(scope), "failed.html", status=400, said=said,
                    back="/film",
                )  # fmt: skip
                await failed(scope, receive, send)
                return
            if page is None:
                said = context.words.text("review.no_page")
                missing = shown(
                    context, Request(scope), "failed.html", status=404, said=said, back="/film"
                )
                await missing(scope, receive, send)
                return
            while len(open_pages) >= MOST_OPEN:
                open_pages.pop(next(iter(open_pages)))
            open_pages[number] = page
        await page(scope, receive, send)

    return [Mount("/film/{job:int}/field", app=answer)]


def _page_for(context: ReviewContext, number: int) -> Starlette | None:
    """Make the page for a film that waits; None where there is none."""
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
