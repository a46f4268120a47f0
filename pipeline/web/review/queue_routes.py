"""Routes of the queue, and of a rep's picture and report."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from pipeline.core.move_table import known_moves
from pipeline.log.marks import WHYS, as_mark, cue_texts
from pipeline.log.schema import CLIPS, REVIEW_MARKS
from pipeline.measures import MEASURES
from pipeline.web.guard import REPORT_POLICY
from pipeline.web.review.context import ReviewContext, render_page
from pipeline.web.review.queue import (
    HANDS,
    PER_PAGE,
    QUEUES,
    choices,
    counts,
    parse_after,
    parse_filters,
    queue_rows,
)
from pipeline.web.review.wording import mark_view, shown_rep

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response
    from starlette.routing import Route


def queue_routes(context: ReviewContext) -> list[Route]:
    """Give the routes of the queue, pictures and reports."""
    from starlette.responses import FileResponse, PlainTextResponse
    from starlette.routing import Route

    def queue(request: Request) -> Response:
        return render_page(context, request, "queue.html", **_queue(context, request))

    def picture(request: Request) -> Response:
        number = int(request.path_params["number"])
        for ending in ("jpg", "png"):
            path = _result(context, request, f"rep_{number:02d}.{ending}")
            if path is not None:
                return FileResponse(path)
        return PlainTextResponse(context.words.text("review.no_picture"), 404)

    def report(request: Request) -> Response:
        path = _result(context, request, "report.html")
        if path is None:
            return PlainTextResponse(context.words.text("review.no_report"), 404)
        return FileResponse(path, headers={"content-security-policy": REPORT_POLICY})

    return [
        Route("/", queue),
        Route("/clip/{clip:int}/rep/{number:int}/picture", picture),
        Route("/clip/{clip:int}/report", report),
    ]


def _queue(context: ReviewContext, request: Request) -> dict[str, Any]:
    filters = parse_filters(request.query_params)
    after = parse_after(request.query_params.get("after"))
    words = context.words
    with context.log.reading() as connection:
        rows = queue_rows(connection, filters, after, n=PER_PAGE + 1)
        how_many = counts(connection, filters)
        athletes = choices(connection)
        cues = cue_texts(connection)
        last = request.query_params.get("last", "")
        marked = None
        if last.isascii() and last.isdigit() and len(last) < 16:
            query = select(REVIEW_MARKS).where(REVIEW_MARKS.c.id == int(last))
            marked = connection.execute(query).mappings().first()
    page = rows[:PER_PAGE]
    more = None
    if len(rows) > PER_PAGE:
        more = filters.query(after=f"{page[-1]['score']!r},{page[-1]['id']}")
    here = filters.query(after=request.query_params.get("after") if after else None)
    return {
        "reps": [shown_rep(words, row) for row in page],
        "queues": [
            (kind, words.text(f"review.kind_{kind}"), how_many[kind],
             filters.query(kind=kind))
            for kind in QUEUES
        ],
        "filters": filters,
        "is_filtered": filters.query(kind=None) != "",
        "athletes": athletes,
        "measures": [(key, words.title(key)) for key in MEASURES],
        "moves": [(move, words.move_name(move)) for move in known_moves()],
        "hands": HANDS,
        "whys": WHYS,
        "cues": cues,
        "more": more,
        "first": after is None,
        "here": f"/?{here}",
        "last": None if marked is None else mark_view(words, as_mark(marked)),
        "undone": "undone" in request.query_params,
    }  # fmt: skip


def _result(context: ReviewContext, request: Request, name: str) -> Path | None:
    """File of a clip's results; None if it is missing.

    The log gives the folder, and no part of the name comes from the request.
    """
    query = select(CLIPS.c.results_path).where(CLIPS.c.id == request.path_params["clip"])
    with context.log.reading() as connection:
        folder = connection.execute(query).scalar()
    if folder is None:
        return None
    path = Path(folder) / name
    is_own = path.is_file() and path.resolve().parent == Path(folder).resolve()
    return path if is_own else None
