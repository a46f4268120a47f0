"""Routes for marks and cues on reps, and for undoing them."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import asdict, dataclass
from datetime import datetime, timezone
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, select

from pipeline.core.errors import OutputError, ReviewError, StaleMark
from pipeline.core.move_table import known_moves
from pipeline.log.marks import (
    KINDS,
    LONGEST_CUE,
    WHYS,
    MarkedRep,
    ReviewMark,
    add_cue,
    add_mark,
    cue_texts,
    find_rep,
    marks_of,
    standing,
    take_out_cue,
    undo_mark,
    version_of,
)
from pipeline.log.report_marks import put_marks_into_report
from pipeline.log.review_priority import refresh_open
from pipeline.log.schema import MEASURES
from pipeline.web.review.context import ReviewContext, render_page, rep_address
from pipeline.web.review.forms import (
    choice_in,
    number_in,
    read_form,
    redirect_to,
    return_address,
    text_in,
)
from pipeline.web.review.wording import mark_view

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response
    from starlette.routing import Route

FAULTS = ("out of range",)
"""Verdicts that are listed first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkForm:
    """The checked form of a mark.

    Attributes
    ----------
    clip, number, version
        The rep, and the version of its marks on the page that sent the form.
    kind, measure, why, move, text
        As `pipeline.log.marks.ReviewMark`.
    next
        Address of the next page.
    """

    clip: int
    number: int
    version: int
    kind: str
    measure: str | None
    why: str | None
    move: str | None
    text: str | None
    next: str


def mark_form(form: Mapping[str, str]) -> MarkForm:
    """Check the fields of a form; raises `ReviewError`."""
    kind = choice_in(form, "kind", KINDS)
    why = choice_in(form, "why", WHYS)
    move = choice_in(form, "move", (*known_moves(), "unknown"))
    text = text_in(form, "text")
    if kind is None:
        raise ReviewError.of("nothing_said_of_rep")
    if kind == "disagree" and why is None:
        raise ReviewError.of("no_reason_chosen")
    if why == "other_move" and move is None:
        raise ReviewError.of("no_move_chosen")
    if kind in ("note", "cue") and text is None:
        raise ReviewError.of("nothing_to_keep")
    clip, number = number_in(form, "clip"), number_in(form, "number")
    return MarkForm(
        clip=clip,
        number=number,
        version=number_in(form, "version"),
        kind=kind,
        measure=text_in(form, "measure", longest=60),
        why=why if kind == "disagree" else None,
        move=move if why == "other_move" else None,
        text=text,
        next=return_address(form, rep_address(clip, number)),
    )


def put_mark(context: ReviewContext, form: MarkForm, now: datetime) -> int:
    """Write a mark with the program's present verdict; returns its number.

    Raises
    ------
    LogError
        There is no such rep.
    StaleMark
        The rep has a newer mark.
    """
    with context.log.writing() as connection:
        rep = find_rep(connection, form.clip, form.number)
        mark = ReviewMark(
            kind=form.kind,
            by=context.by,
            at=now,
            measure=form.measure,
            program=_program_verdict(connection, rep, form.measure),
            why=form.why,
            move=form.move,
            text=form.text,
        )
        number = add_mark(connection, rep, mark, version=form.version)
        refresh_open(connection, rep)
    update_report(context, rep.clip_id)
    return number


def update_report(context: ReviewContext, clip_id: int) -> None:
    """Write the marks in force into the player's report; a failed write leaves it unchanged."""
    with suppress(OutputError), context.log.reading() as connection:
        put_marks_into_report(connection, context.words, clip_id)


def mark_routes(context: ReviewContext) -> list[Route]:
    """Give the routes that add and undo marks."""
    from starlette.concurrency import run_in_threadpool
    from starlette.routing import Route

    async def mark(request: Request) -> Response:
        form = mark_form(await read_form(request))
        return await run_in_threadpool(_mark, context, request, form)

    async def undo(request: Request) -> Response:
        form = await read_form(request)
        number = number_in(form, "mark", least=1)

        def work() -> None:
            with context.log.writing() as connection:
                rep = undo_mark(connection, number, by=context.by, at=datetime.now(tz=timezone.utc))
                if rep is not None:
                    refresh_open(connection, rep)
            if rep is not None:
                update_report(context, rep.clip_id)

        await run_in_threadpool(work)
        return redirect_to(_with_notice(return_address(form), undone=number))

    return [
        Route("/marks", mark, methods=["POST"]),
        Route("/marks/undo", undo, methods=["POST"]),
    ]


def marks_panel(context: ReviewContext, clip_id: int, number: int) -> dict[str, Any]:
    """Give the variable ``panel`` of ``marks_panel.html``.

    Parameters
    ----------
    context
        Of the review.
    clip_id, number
        The rep.

    Raises
    ------
    LogError
        There is no such rep.
    """
    with context.log.reading() as connection:
        rep = find_rep(connection, clip_id, number)
        marks = marks_of(connection, rep)
        cues = cue_texts(connection)
        query = select(MEASURES.c.key, MEASURES.c.verdict).where(
            MEASURES.c.rep_id == rep.id, MEASURES.c.verdict.is_not(None)
        )
        judged = [
            {"key": row.key, "title": context.words.title(row.key),
             "verdict": context.words.verdict(row.verdict)}
            for row in sorted(connection.execute(query), key=lambda row: row.verdict not in FAULTS)
            if row.verdict != "not measured"
        ]  # fmt: skip
    return {
        "clip": clip_id,
        "number": number,
        "version": version_of(marks),
        "next": rep_address(clip_id, number),
        "marks": [mark_view(context.words, mark) for mark in standing(marks)],
        "judged": judged,
        "cues": cues,
        "whys": WHYS,
        "moves": [(move, context.words.move_name(move)) for move in known_moves()],
    }


def _mark(context: ReviewContext, request: Request, form: MarkForm) -> Response:
    try:
        number = put_mark(context, form, datetime.now(tz=timezone.utc))
    except StaleMark as error:
        with context.log.reading() as connection:
            rep = find_rep(connection, form.clip, form.number)
            marks = marks_of(connection, rep)
        mine = ReviewMark(
            kind=form.kind, by=context.by, at=datetime.now(tz=timezone.utc), measure=form.measure,
            why=form.why, move=form.move, text=form.text,
        )  # fmt: skip
        return render_page(
            context, request, "stale.html", status=409,
            why=error.translate(context.words.texts),
            there=[mark_view(context.words, mark) for mark in standing(marks)],
            mine=mark_view(context.words, mine),
            fields={**asdict(form), "version": version_of(marks)},
        )  # fmt: skip
    return redirect_to(_with_notice(form.next, last=number))


def _with_notice(address: str, **notice: int) -> str:
    """Add a notice to an address, so that the next page can offer to undo."""
    from urllib.parse import parse_qsl, urlencode, urlsplit

    parts = urlsplit(address)
    old = [(name, value) for name, value in parse_qsl(parts.query) if name not in _NOTICES]
    query = urlencode([*old, *((name, str(value)) for name, value in notice.items())])
    return f"{parts.path}?{query}"


_NOTICES = ("last", "undone")


def _program_verdict(connection: Connection, rep: MarkedRep, measure: str | None) -> str | None:
    if measure is None:
        return None
    query = select(MEASURES.c.verdict).where(MEASURES.c.rep_id == rep.id, MEASURES.c.key == measure)
    word: str | None = connection.execute(query).scalar()
    return word


def cue_routes(context: ReviewContext) -> list[Route]:
    """Give the routes of the list of cues."""
    from starlette.concurrency import run_in_threadpool
    from starlette.routing import Route

    def show(request: Request) -> Response:
        with context.log.reading() as connection:
            listed = cue_texts(connection)
        return render_page(context, request, "cues.html", listed=listed)

    async def change(request: Request) -> Response:
        form = await read_form(request)
        now = datetime.now(tz=timezone.utc)

        def work() -> None:
            with context.log.writing() as connection:
                if "take_out" in form:
                    take_out_cue(connection, number_in(form, "take_out"), at=now)
                elif text := text_in(form, "text", longest=LONGEST_CUE):
                    add_cue(connection, text, by=context.by, at=now)

        await run_in_threadpool(work)
        return redirect_to("/cues")

    return [Route("/cues", show), Route("/cues", change, methods=["POST"])]
