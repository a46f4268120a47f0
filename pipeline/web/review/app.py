"""The application of the review page: routes, static files and error pages."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from pipeline.core.errors import CrossemetryError
from pipeline.web.review.agreement import agreement_routes
from pipeline.web.review.athlete_routes import people_routes
from pipeline.web.review.context import HERE, ReviewContext, render_page
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
        Of the review.
    wake
        Called after a job was added.

    Returns
    -------
    starlette.applications.Starlette
        Serve it behind a `pipeline.web.guard.LoopbackGuard` with `OWN_POLICY`.
    """
    from starlette.applications import Starlette
    from starlette.routing import Route

    context.templates.globals["marks_panel"] = partial(marks_panel, context)

    async def no_icon(_: Request) -> Response:
        from starlette.responses import Response

        return Response(b"", media_type="image/x-icon")

    def failed(request: Request, error: Exception) -> Response:
        text = error.translate(context.words.texts) if isinstance(error, CrossemetryError) else ""
        return render_page(
            context, request, "failed.html", status=400, message=text, back=_back(request)
        )

    def missing(request: Request, _: Exception) -> Response:
        text = context.words.text("review.no_page")
        return render_page(context, request, "failed.html", status=404, message=text, back="/")

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
    """Give one route per static file; no path of a request reaches the disk."""
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
    """Address of the page that sent a form, if it is one of this server; else the queue."""
    from urllib.parse import urlsplit

    came_from = urlsplit(request.headers.get("referer", ""))
    if came_from.netloc != request.url.netloc or not came_from.path.startswith("/"):
        return "/"
    query = f"?{came_from.query}" if came_from.query else ""
    return f"{came_from.path}{query}" if not came_from.path.startswith("//") else "/"
