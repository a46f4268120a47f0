"""The application of the field page: it shows the picture, solves the camera, saves the marks."""

from __future__ import annotations

import asyncio
import json
import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import asdict, dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from calibration.field_places import (
    CREASE_RADII_M,
    GOAL_SIZES,
    KnownPlace,
    crease_places,
    goal_places,
)
from calibration.marks import Mark
from calibration.marks_file import SCHEMA, marks_of_table, marks_text
from pipeline.core.errors import MarksError
from pipeline.core.files import write_whole
from pipeline.core.messages import message
from pipeline.core.types import LensProfile
from pipeline.feedback.words import Words, load_words
from pipeline.report.templates import page_templates
from pipeline.web.field.solve import view_of_marks
from pipeline.web.field.suggest_marks import Proposal

if TYPE_CHECKING:
    from jinja2 import Template
    from starlette.applications import Starlette
    from starlette.requests import Request
    from starlette.responses import Response

HERE = Path(__file__).parent
STATIC = {"marks.js": "text/javascript", "picture.js": "text/javascript",
          "page.js": "text/javascript", "page.css": "text/css"}  # fmt: skip

MOST_MARKS = 40
MOST_NAME_LETTERS = 60

CLICK_U_PX = 2.0
"""Standard uncertainty of a click in a picture whose longer side is `CLICK_SIDE_PX`.

Assumed, not measured: half of 4 px, about the thickness of a goal's pipe seen from 13 m. It grows
with the picture, because a larger picture shows the same blur over more pixels.
"""
CLICK_SIDE_PX = 1280


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldPicture:
    """The picture on which marks are set, and what is known before the first click.

    Attributes
    ----------
    clip_path
        The film.
    picture
        Its first frame, upright, as an encoded JPEG.
    size_px
        Width and height of that frame.
    proposals
        Suggested marks.
    out
        File of the marks.
    marks
        Marks that the file already holds.
    goal
        A key of `GOAL_SIZES`, or None.
    fov_deg, lens
        Field of view in degrees, or lens profile for this picture; None = not known.
    back
        Address of the page that follows; None = none.
    """

    clip_path: Path
    picture: bytes
    size_px: tuple[int, int]
    proposals: tuple[Proposal, ...]
    out: Path
    marks: tuple[Mark, ...] = ()
    goal: str | None = None
    fov_deg: float | None = None
    lens: LensProfile | None = None
    back: str | None = None


def click_u_px(size_px: tuple[int, int]) -> float:
    """Give the standard uncertainty of a click, for each coordinate, in px of the picture."""
    return max(1.0, round(CLICK_U_PX * max(size_px) / CLICK_SIDE_PX, 1))


def make_app(
    field: FieldPicture,
    *,
    stop: Callable[[], None],
    on_saved: Callable[[], None],
    words: Words | None = None,
) -> Starlette:
    """Make the application.

    Parameters
    ----------
    field
        The picture to mark.
    stop
        Called after the last answer, when the page is closed.
    on_saved
        Called after the file is written.
    words
        Texts of the page; None = in the language of the environment.

    Returns
    -------
    starlette.applications.Starlette
        Serve it behind a `pipeline.web.guard.LoopbackGuard`.
    """
    from starlette.applications import Starlette
    from starlette.background import BackgroundTask
    from starlette.responses import HTMLResponse, JSONResponse
    from starlette.routing import Route

    words = words or load_words()
    page = _page(field, words)

    async def show(_: Request) -> Response:
        return HTMLResponse(page)

    async def solve(request: Request) -> Response:
        try:
            marks = _marks_of(await request.body())
        except MarksError as error:
            text = error.translate(words.texts)
            return JSONResponse({"state": "wrong", "words": text, "wrong": []})
        return JSONResponse(await _in_thread(lambda: _view(field, marks, words)))

    async def save(request: Request) -> Response:
        try:
            marks = _marks_of(await request.body())
        except MarksError as error:
            return JSONResponse({"saved": False, "words": error.translate(words.texts)}, 400)
        view = await _in_thread(lambda: _view(field, marks, words))
        if view["state"] != "solved":
            return JSONResponse(
                {"saved": False, "words": words.text("field.not_saved", why=view["words"])}, 409
            )
        try:
            write_whole(field.out, [marks_text(marks).encode("utf-8")])
        except OSError as error:
            file, why = str(field.out), error.strerror or str(error)
            text = words.text("field.not_written", file=file, why=why)
            return JSONResponse({"saved": False, "words": text}, 500)
        on_saved()
        return JSONResponse(
            {"saved": True, "words": words.text("field.saved", file=str(field.out))},
            background=BackgroundTask(stop),
        )

    async def close(_: Request) -> Response:
        return JSONResponse({"closed": True}, background=BackgroundTask(stop))

    return Starlette(
        routes=[
            Route("/", show),
            Route("/favicon.ico", _fixed(b"", "image/x-icon")),
            Route("/frame.jpg", _fixed(field.picture, "image/jpeg")),
            *(Route(f"/{name}", _fixed((HERE / "static" / name).read_bytes(), kind))
              for name, kind in STATIC.items()),
            Route("/solve", solve, methods=["POST"]),
            Route("/save", save, methods=["POST"]),
            Route("/close", close, methods=["POST"]),
        ]
    )  # fmt: skip


def _fixed(content: bytes, kind: str) -> Callable[[Request], Any]:
    """Answer with fixed content; no path of a request reaches the disk."""
    from starlette.responses import Response

    async def answer(_: Request) -> Response:
        return Response(content, media_type=kind)

    return answer


async def _in_thread(work: Callable[[], dict[str, Any]]) -> dict[str, Any]:
    """Run in a daemon thread: a thread of a pool would keep the program from ending."""
    loop = asyncio.get_running_loop()
    result: asyncio.Future[dict[str, Any]] = loop.create_future()

    def deliver(value: dict[str, Any] | None, error: Exception | None) -> None:
        if result.cancelled():
            return
        if error is not None:
            result.set_exception(error)
        elif value is not None:
            result.set_result(value)

    def run() -> None:
        value, failed = None, None
        try:
            value = work()
        except Exception as error:  # raised again where the result is awaited
            failed = error
        with suppress(RuntimeError):  # the loop has ended
            loop.call_soon_threadsafe(deliver, value, failed)

    threading.Thread(target=run, daemon=True).start()
    return await result


def _view(field: FieldPicture, marks: tuple[Mark, ...], words: Words) -> dict[str, Any]:
    view = view_of_marks(marks, size_px=field.size_px, fov_deg=field.fov_deg, lens=field.lens)
    return {**view, "words": words.translate(view["words"])}


def _marks_of(body: bytes) -> tuple[Mark, ...]:
    """Read marks from a request, with the checks of a marks file."""
    try:
        table = json.loads(body)
    except (ValueError, RecursionError) as error:
        raise MarksError.of("not_marks") from error
    entries = table.get("marks") if isinstance(table, dict) else None
    if isinstance(entries, list) and len(entries) > MOST_MARKS:
        raise MarksError.of("too_many_marks", n=len(entries), most=MOST_MARKS)
    the_page = message("mark_entries.the_page")
    marks = marks_of_table(the_page, {"schema": SCHEMA, "marks": entries})
    for mark in marks:
        if not mark.name.isprintable() or len(mark.name) > MOST_NAME_LETTERS:
            name = repr(mark.name[:MOST_NAME_LETTERS])
            raise MarksError.of("mark_name_cannot_be_used", name=name, most=MOST_NAME_LETTERS)
    return marks


def _page(field: FieldPicture, words: Words) -> str:
    u_px = click_u_px(field.size_px)
    texts = words.section("field")

    def shown(place: KnownPlace) -> dict[str, Any]:
        return {**asdict(place), "title": texts[place.name]}

    return _template().render(
        clip_name=_encodable(field.clip_path.name),
        out_name=_encodable(field.out.name),
        language=words.language,
        texts=texts,
        goals={key: texts[key] for key in GOAL_SIZES},
        creases={key: texts[key] for key in CREASE_RADII_M},
        width=field.size_px[0],
        height=field.size_px[1],
        click_half_width_px=2 * u_px,
        start={
            "size_px": field.size_px,
            "proposals": [asdict(proposal) for proposal in field.proposals],
            "goals": {
                key: [shown(place) for place in goal_places(size)]
                for key, size in GOAL_SIZES.items()
            },
            "creases": {
                key: [shown(place) for place in crease_places(radius_m)]
                for key, radius_m in CREASE_RADII_M.items()
            },
            "marks": [asdict(mark) for mark in field.marks],
            "goal": field.goal,
            "back": field.back,
            "most_name_letters": MOST_NAME_LETTERS,
            "most_marks": MOST_MARKS,
            "decimal": words.texts.figures.decimal,
            "texts": texts,
        },
    )


def _encodable(name: str) -> str:
    """Replace the parts of a file's name that UTF-8 cannot encode."""
    return name.encode("utf-8", "replace").decode("utf-8")


@lru_cache(maxsize=1)
def _template() -> Template:
    environment = page_templates(HERE / "templates")
    return environment.get_template("field.html")
