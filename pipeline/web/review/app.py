"""The application of the review page: all its parts, its files, and how it says what went wrong."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from pipeline.core.errors import CrossemetryError
from pipeline.web.review.agreement import agreement_routes
from pipeline.web.review.athlete_routes import people_routes
from pipeline.web.review.context import HERE, ReviewContext, shown
from pipeline.web.review.film_routes import field_routes, film_routes
from pipeline.web.review.mark_routes import cue_routes, mark_routes, marks_panel
from pipeline.web.review.queue_routes import queue_routes
from pipeline.web.review.rep_routes import rep_routes
from pipeline.web.review.target_routes import target_routes

if TYPE_CHECKING:
    from starlette.applications import Starlette
    from starlette.requests import Request
    from starlette.responses import Response
    from starlette.routing import Route

KINDS = {".js": "text/javascript", ".css": "text/css"}


def make_app(context: ReviewContext, wake: Callable[[], None] = lambda: None) -> Starlette:
    """Make the application.

    Parameters
    ----------
    context
        What it works on.
    wake
        Called when there is long work to do.

    Returns
    -------
    starlette.applications.Starlette
        To be put behind a `pipeline.web.guard.LoopbackGuard` with its `OWN_POLICY`.
    """
    from starlette.applications import Starlette
    from starlette.routing import Route

    context.templates.globals["marks_panel"] = partial(marks_panel, context)

    async def no_icon(_: Request) -> Response:
        from starlette.responses import Response

        return Response(b"", media_type="image/x-icon")

    def failed(request: Request, error: Exception) -> Response:
        said = error.translate(context.words.texts) if isinstance(error, CrossemetryError) else ""
        return shown(context, request, "failed.html", status=400, said=said, back=_back(request))

    def missing(request: Request, _: Exception) -> Response:
        said = context.words.text("review.no_page")
        return shown(context, request, "failed.html", status=404, said=said, back="/")

    return Starlette(
        routes=[
            Route("/favicon.ico", no_icon),
            *_static_routes(),
            *queue_routes(context),
            *mark_routes(context),
            *cue_routes(context),
            *film_routes(context, wake),
            *field_routes(context),
            *agreement_routes(context, wake),
            *people_routes(context),
            *target_routes(context),
            *rep_routes(context),
        ],
        exception_handlers={CrossemetryError: failed, 404: missing},
    )


def _static_routes() -> list[Route]:
    """Give each file of the page at its own name: no path of a request ever reaches the disk."""
    from starlette.responses import Response
    from starlette.routing import Route

    def route(name: str, content: bytes, kind: str) -> Route:
        async def answer(_: Request) -> Response:
            return Response(content, media_type=kind)

        return Route(f"/static/{name}", answer)

    files = sorted((HERE / "static").iterdir())
    return [
        route(file.name, file.read_bytes(), KINDS[file.suffix])
        for file in files
        if file.suffix in KINDS
    ]


def _back(request: Request) -> str:
    """Give the page that a form was sent from, if it was one of this address; else the queue."""
    from urllib.parse import urlsplit

    came_from = urlsplit(request.headers.get("referer", ""))
    if came_from.netloc != request.url.netloc or not came_from.path.startswith("/"):
        return "/"
    query = f"?{came_from.query}" if came_from.query else ""
    return f"{came_from.path}{query}" if not came_from.path.startswith("//") else "/"
