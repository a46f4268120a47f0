"""The coach's list of short words as a page on which it grows and shrinks."""

from __future__ import annotations

from datetime import datetime, timezone
from typing import TYPE_CHECKING

from pipeline.log.cues import LONGEST_CUE, add_cue, cue_texts, take_out_cue
from pipeline.web.review.context import ReviewContext, shown
from pipeline.web.review.forms import form_of, lead_to, number_in, text_in

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response
    from starlette.routing import Route


def cue_routes(context: ReviewContext) -> list[Route]:
    """Give the routes of the list of cues."""
    from starlette.concurrency import run_in_threadpool
    from starlette.routing import Route

    def show(request: Request) -> Response:
        with context.log.reading() as connection:
            listed = cue_texts(connection)
        return shown(context, request, "cues.html", listed=listed)

    async def change(request: Request) -> Response:
        form = await form_of(request)
        now = datetime.now(tz=timezone.utc)

        def work() -> None:
            with context.log.writing() as connection:
                if "take_out" in form:
                    take_out_cue(connection, number_in(form, "take_out"), at=now)
                elif text := text_in(form, "text", longest=LONGEST_CUE):
                    add_cue(connection, text, by=context.by, at=now)

        await run_in_threadpool(work)
        return lead_to("/cues")

    return [Route("/cues", show), Route("/cues", change, methods=["POST"])]
