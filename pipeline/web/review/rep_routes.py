"""Routes of the page on a rep: its film frame by frame, the tracked motion, and edits."""

from __future__ import annotations

import json
from collections.abc import Awaitable, Callable, Mapping
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.core.errors import ClipError, CrossemetryError
from pipeline.web.review.browser_copy import ProxyMaker, proxy_path
from pipeline.web.review.clip_cache import CachedClip, ClipCache
from pipeline.web.review.context import HERE, ReviewContext, film_path, render_page, rep_row
from pipeline.web.review.film_times import FilmTimes, film_times, media_type_of
from pipeline.web.review.rep_edits import parse_edit
from pipeline.web.review.rep_motion import motion_answer, shown_frames
from pipeline.web.review.rep_page import change_views, page_values
from pipeline.web.review.rep_state import RepState, make_edit, state_of, undo_edit

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response
    from starlette.routing import Route

SCRIPTS = ("rep_page.js", "rep_film.js", "rep_drawing.js", "rep_timeline.js")
STATIC = {**dict.fromkeys(SCRIPTS, "text/javascript"), "rep_view.css": "text/css"}

Handler = Callable[["Request"], Awaitable["Response"]]


def rep_routes(context: ReviewContext) -> list[Route]:
    """Make the routes of the page on one rep.

    ``/clip/3/rep/2`` is the page; under it ``motion``, ``change`` and ``undo`` answer in JSON.
    ``/clip/3/film`` and ``/clip/3/copy`` are the film, and its copy for browsers that do not play
    it; both support range requests.

    Parameters
    ----------
    context
        Of the review.
    """
    from starlette.routing import Route

    view = _RepView(context)
    rep = "/clip/{clip_id:int}/rep/{number:int}"
    clip = "/clip/{clip_id:int}"
    return [
        Route(rep, view.page),
        Route(f"{rep}/motion", view.motion),
        Route(f"{rep}/change", view.change, methods=["POST"]),
        Route(f"{rep}/undo", view.undo, methods=["POST"]),
        Route(f"{clip}/film", view.film),
        Route(f"{clip}/copy", view.copy),
        Route(f"{clip}/copy/state", view.copy_state),
        Route(f"{clip}/copy/make", view.copy_make, methods=["POST"]),
        *(Route(f"/static/{name}", _fixed(HERE / "static" / name, kind))
          for name, kind in STATIC.items()),
    ]  # fmt: skip


class _RepView:
    """Answers of the page; one object for each application."""

    def __init__(self, context: ReviewContext) -> None:
        self._context = context
        self._clips = ClipCache(context.cache)
        self._copies = ProxyMaker()

    async def page(self, request: Request) -> Response:
        """Show the page from the log alone; its script requests what takes longer."""
        values = await _in_thread(page_values, self._context, **request.path_params)
        if values is None:
            return self._missing()
        return render_page(self._context, request, "rep.html", **values)

    async def motion(self, request: Request) -> Response:
        """Give the values drawn over the film, and the present numbers."""

        def make(context: ReviewContext, clip: CachedClip, row: Mapping[str, Any]) -> RepState:
            return state_of(context.log, context.words, clip, row)

        return await self._state_response(request, make)

    async def change(self, request: Request) -> Response:
        """Make an edit."""
        table = await _table(request)

        def make(context: ReviewContext, clip: CachedClip, row: Mapping[str, Any]) -> RepState:
            return make_edit(context, clip, row, parse_edit(table))

        return await self._state_response(request, make)

    async def undo(self, request: Request) -> Response:
        """Undo an edit."""
        table = await _table(request)
        number = table.get("id") if isinstance(table, dict) else None

        def make(context: ReviewContext, clip: CachedClip, row: Mapping[str, Any]) -> RepState:
            return undo_edit(context, clip, row, number if type(number) is int else -1)

        return await self._state_response(request, make)

    async def film(self, request: Request) -> Response:
        """Send the film."""
        row = await _in_thread(self._clip_row, request.path_params["clip_id"])
        path = None if row is None else film_path(row)
        if path is None:
            return self._missing()
        try:
            return _pieces(path, await _in_thread(media_type_of, path) or "video/mp4")
        except (ClipError, OSError):  # damaged, or just removed
            return self._missing()

    async def copy(self, request: Request) -> Response:
        """Send the copy."""
        row = await _in_thread(self._clip_row, request.path_params["clip_id"])
        path = None if row is None else self._copy_path(row)
        return self._missing() if path is None or not path.is_file() else _pieces(path, "video/mp4")

    async def copy_state(self, request: Request) -> Response:
        """Give the state of the copy."""
        return await self._copy_response(request, start=False)

    async def copy_make(self, request: Request) -> Response:
        """Start making the copy."""
        return await self._copy_response(request, start=True)

    async def _copy_response(self, request: Request, *, start: bool) -> Response:
        from starlette.responses import JSONResponse

        row = await _in_thread(self._clip_row, request.path_params["clip_id"])
        path = None if row is None else film_path(row)
        if row is None or path is None:
            return self._missing()
        target = self._copy_path(row)
        state = self._copies.request(path, target) if start else self._copies.state(target)
        return JSONResponse({"state": state})

    async def _state_response(
        self,
        request: Request,
        make: Callable[[ReviewContext, CachedClip, Mapping[str, Any]], RepState],
    ) -> Response:
        from starlette.responses import JSONResponse

        try:
            answer = await _in_thread(self._answer, make, **request.path_params)
        except CrossemetryError as error:
            return JSONResponse({"words": error.translate(self._context.words.texts)}, 409)
        return self._missing() if answer is None else JSONResponse(answer)

    def _answer(
        self,
        make: Callable[[ReviewContext, CachedClip, Mapping[str, Any]], RepState],
        clip_id: int,
        number: int,
    ) -> dict[str, Any] | None:
        context = self._context
        with context.log.reading() as connection:
            row = rep_row(connection, clip_id, number)
        if row is None:
            return None
        clip = self._clips.get(row)
        state = make(context, clip, row)
        rows = context.templates.get_template("rep_numbers.html").render(rows=state.rows)
        changes = context.templates.get_template("rep_changes.html").render(
            changes=change_views(context.words, state.edits)
        )
        return {
            **motion_answer(context.words, clip, state.found, state.now),
            **self._times(clip, row, state),
            "rows": rows,
            "changes": changes,
        }

    def _times(self, clip: CachedClip, row: Mapping[str, Any], state: RepState) -> dict[str, Any]:
        """Give the times in s at which film and copy show each frame; None where they do not."""
        start, stop = shown_frames(state.found, clip.placed.clip.time_s)

        def seconds(times: FilmTimes | None) -> list[float] | None:
            if times is None or not times.shows(clip.placed.clip):
                return None
            return [round(float(t), 7) for t in times.seconds()[start:stop]]

        path, copy = film_path(row), self._copy_path(row)
        return {
            "film_s": seconds(None if path is None else film_times(path)),
            "copy_s": seconds(film_times(copy) if copy.is_file() else None),
            "there": path is not None,
        }

    def _copy_path(self, row: Mapping[str, Any]) -> Path:
        """Path of the copy of a clip, or of a rep's clip, in the cache of its analysis."""
        of_rep = "clip_" if "clip_file_digest" in row else ""
        cache = row[f"{of_rep}cache_path"]
        folder = Path(cache) if cache and Path(cache).is_dir() else self._context.cache
        return proxy_path(folder, row[f"{of_rep}file_digest"])

    def _clip_row(self, clip_id: int) -> Mapping[str, Any] | None:
        from sqlalchemy import select

        from pipeline.log.schema import CLIPS

        with self._context.log.reading() as connection:
            query = select(CLIPS).where(CLIPS.c.id == clip_id)
            row = connection.execute(query).mappings().first()
        return None if row is None else {str(name): value for name, value in row.items()}

    def _missing(self) -> Response:
        from starlette.responses import JSONResponse

        return JSONResponse({"words": self._context.words.text("rep_view.missing")}, 404)


def _pieces(path: Path, media_type: str) -> Response:
    """Answer with a file, whole or in the requested range (206)."""
    from starlette.responses import FileResponse

    return FileResponse(path, media_type=media_type)


def _fixed(path: Path, kind: str) -> Handler:
    """Answer with fixed content; no path of a request reaches the disk."""
    content = path.read_bytes()

    async def answer(_: Request) -> Response:
        from starlette.responses import Response

        return Response(content, media_type=kind)

    return answer


async def _table(request: Request) -> object:
    """Parse the JSON of a request; None if it is not JSON."""
    try:
        return json.loads(await request.body())
    except (ValueError, RecursionError):
        return None


async def _in_thread(work: Callable[..., Any], *given: Any, **named: Any) -> Any:  # noqa: ANN401 - result of the work
    """Run in a thread, so that other requests do not wait."""
    from anyio.to_thread import run_sync

    return await run_sync(partial(work, *given, **named))
