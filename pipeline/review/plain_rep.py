"""The page on one rep in its plainest form: its numbers, and what was said of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlalchemy import select

from pipeline.errors import LogError
from pipeline.log.schema import MEASURES
from pipeline.report.verdict_words import SHAPES, in_order
from pipeline.review.context import ReviewContext, shown
from pipeline.review.mark_routes import marks_panel
from pipeline.review.queue import rows_of
from pipeline.review.shown_rows import say_measure, shown_rep

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response
    from starlette.routing import Route


def plain_rep_routes(context: ReviewContext) -> list[Route]:
    """Give the route of the page on one rep."""
    from starlette.routing import Route

    def show(request: Request) -> Response:
        from pipeline.log.marks import find_rep

        clip, number = request.path_params["clip"], request.path_params["number"]
        with context.log.reading() as connection:
            rep = find_rep(connection, clip, number)
            rows = rows_of(connection, [rep.id])
            query = select(MEASURES).where(MEASURES.c.rep_id == rep.id)
            measured = {row["key"]: row for row in connection.execute(query).mappings()}
        if not rows:
            raise LogError("There is no such rep.", what_to_do="Load the queue again.")
        words = context.words
        table = [
            {
                "title": words.title(key),
                "said": say_measure(words, key, measured[key]),
                "range_said": measured[key]["range_words"] or "",
                "verdict": words.verdict(measured[key]["verdict"], measured[key]["verdict_side"])
                if measured[key]["verdict"]
                else "",
                "shape": SHAPES.get(measured[key]["verdict"], "none"),
            }
            for key in in_order(list(measured))
        ]
        return shown(
            context, request, "plain_rep.html", rep=shown_rep(words, rows[0]), rows=table,
            panel=marks_panel(context, clip, number),
        )  # fmt: skip

    return [Route("/clip/{clip:int}/rep/{number:int}", show)]
