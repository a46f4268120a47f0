"""Pages of athletes: list, films, training volume and erasure."""

from __future__ import annotations

from datetime import date, datetime, timezone
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, func, select

from pipeline.core.errors import LogError, ReviewError
from pipeline.core.messages import message
from pipeline.log.athlete_overview import overview_of
from pipeline.log.athletes import (
    Athlete,
    Consent,
    add_athlete,
    all_athletes,
    athlete_of,
    note_consent,
    note_stature,
)
from pipeline.log.erasure_search import plan_erasure
from pipeline.log.page import volume_page
from pipeline.log.personal_data import Erased, erase_athlete
from pipeline.log.queries import list_sessions
from pipeline.log.schema import ATHLETES, CLIPS, FLAGS, REPS, REVIEW_MARKS
from pipeline.log.wording import erased_lines, plan_lines, watch_text
from pipeline.report.verdict_marks import in_order
from pipeline.settings.checks import LEVELS, check_athlete
from pipeline.targets.entries import athlete_key
from pipeline.web.guard import REPORT_POLICY
from pipeline.web.review.context import ReviewContext, render_page
from pipeline.web.review.forms import choice_in, read_form, redirect_to, stature_in, text_in

if TYPE_CHECKING:
    from collections.abc import Mapping

    from starlette.requests import Request
    from starlette.responses import Response
    from starlette.routing import Route

WEEKS = 8
MOST_CLIPS = 30
EARLIEST_BIRTH_YEAR = 1920
LONGEST_NAME = 60


def people_routes(context: ReviewContext) -> list[Route]:
    """Give the routes of athletes and of their training volume."""
    from starlette.concurrency import run_in_threadpool
    from starlette.responses import HTMLResponse
    from starlette.routing import Route

    def athletes(request: Request) -> Response:
        with context.log.reading() as connection:
            listed = [_row(context, connection, one) for one in all_athletes(connection)]
        return render_page(context, request, "athletes.html", listed=listed, levels=LEVELS)

    async def add(request: Request) -> Response:
        form = await read_form(request)
        return redirect_to(f"/athlete/{await run_in_threadpool(add_from_form, context, form)}")

    def athlete(request: Request) -> Response:
        return render_page(context, request, "athlete.html", **_athlete(context, request))

    def board(request: Request) -> Response:
        who = request.query_params.get("who", "")
        today = _today()
        with context.log.reading() as connection:
            some = all_athletes(connection)
            if who.isascii() and who.isdigit():
                some = [one for one in some if str(one.id) == who]
            boards = [overview_of(connection, one, today, WEEKS) for one in some]
        page = volume_page(context.words, boards, today)
        return HTMLResponse(page, headers={"content-security-policy": REPORT_POLICY})

    def forget_page(request: Request) -> Response:
        number = request.path_params["who"]
        plan = plan_erasure(context.log, _name(context, number))
        return render_page(
            context, request, "forget.html", number=number, name=plan.person.name,
            lines=plan_lines(context.words, plan), is_shared=bool(plan.shared),
        )  # fmt: skip

    async def forget(request: Request) -> Response:
        form = await read_form(request)
        number = request.path_params["who"]
        erased = await run_in_threadpool(_forget, context, number, form)
        # An answer of its own, not a page to be led to: nobody knows the athlete any more.
        return render_page(
            context, request, "forgotten.html", name=erased.plan.person.name,
            lines=erased_lines(context.words, erased),
        )  # fmt: skip

    return [
        Route("/athletes", athletes),
        Route("/athletes", add, methods=["POST"]),
        Route("/athlete/{who:int}", athlete),
        Route("/athlete/{who:int}/forget", forget_page),
        Route("/athlete/{who:int}/forget", forget, methods=["POST"]),
        Route("/board", board),
    ]


def add_from_form(context: ReviewContext, form: Mapping[str, str]) -> int:
    """Add an athlete from a form; returns the number.

    Raises
    ------
    CrossemetryError
        A field is not valid, or the name exists.
    """
    name = check_athlete(form.get("name", "").strip(), named=message("review.named_name"))
    now, today = datetime.now(tz=timezone.utc), _today()
    facts: dict[str, Any] = {
        "stick_hand": choice_in(form, "hand", ("left", "right")),
        "level": choice_in(form, "level", LEVELS),
    }
    if form.get("birth_year", "").strip():
        facts["birth_year"] = _birth_year(form["birth_year"].strip(), today)
    stature_m = stature_in(form)
    consent_by = text_in(form, "consent_by", longest=LONGEST_NAME)
    with context.log.writing() as connection:
        known = {key: value for key, value in facts.items() if value is not None}
        number = add_athlete(connection, name, now, known)
        if stature_m is not None:
            note_stature(connection, number, stature_m, today)
        if consent_by is not None:
            consent = Consent(given_by=consent_by, given_on=today, until=None)
            note_consent(connection, number, consent, now)
    return number


def _birth_year(typed: str, today: date) -> int:
    """Parse a year of birth, or raise `ReviewError`."""
    year = int(typed) if typed.isascii() and typed.isdigit() and len(typed) == 4 else 0
    if not EARLIEST_BIRTH_YEAR <= year <= today.year:
        raise ReviewError.of("no_birth_year")
    return year


def _row(context: ReviewContext, connection: Connection, athlete: Athlete) -> dict[str, Any]:
    query = select(func.count()).where(
        FLAGS.c.who == athlete.id, FLAGS.c.kind == "fault", FLAGS.c.open.is_(True)
    )
    stature_m = athlete.stature_m(_today())
    return {
        "id": athlete.id,
        "name": athlete.name,
        "stature": ""
        if stature_m is None
        else context.words.texts.figures.quantity(stature_m, "m", 2),
        "level": context.words.texts.named("levels", athlete.level) if athlete.level else "",
        "hand": context.words.text(f"review.hand_{athlete.stick_hand}")
        if athlete.stick_hand
        else "",
        "consent": athlete.consents[-1].given_by if athlete.consents else "",
        "waits": connection.execute(query).scalar(),
    }


def _athlete(context: ReviewContext, request: Request) -> dict[str, Any]:
    words = context.words
    number = request.path_params["who"]
    with context.log.reading() as connection:
        one = _known(connection, number)
        board = overview_of(connection, one, _today(), WEEKS)
        sessions = list_sessions(connection, one.id)[:MOST_CLIPS]
        n_reps = select(func.count()).where(REPS.c.clip_id == CLIPS.c.id).scalar_subquery()
        n_marks = select(func.count()).where(REVIEW_MARKS.c.clip_id == CLIPS.c.id).scalar_subquery()
        names = ("id", "file_name", "analysed_at", "results_path")
        query = (
            select(*(CLIPS.c[name] for name in names), n_reps.label("n"), n_marks.label("marks"))
            .where(CLIPS.c.athlete_id == one.id)
            .order_by(CLIPS.c.id.desc())
            .limit(MOST_CLIPS)
        )
        clips = connection.execute(query).mappings().all()
        faults = connection.execute(
            select(FLAGS.c.measure, func.count())
            .where(FLAGS.c.who == one.id, FLAGS.c.kind == "fault")
            .group_by(FLAGS.c.measure)
        ).all()
        row = _row(context, connection, one)
    counts: dict[str, int] = {key: int(n) for key, n in faults if key}
    return {
        "one": row,
        "watch": [watch_text(words, watch) for watch in board.watch],
        "sessions": [
            {
                "day": session["day"].isoformat(),
                "clips": ", ".join(session["clips"]),
                "n": session["filmed"].get("reps", 0),
                "throws": sum(
                    session[source].get("throws", 0)
                    for source in ("filmed", "counted", "estimated")
                ),
            }
            for session in sessions
        ],
        "clips": clips,
        "faults": [(key, words.title(key), counts[key]) for key in in_order(list(counts))],
    }


def _forget(context: ReviewContext, number: int, form: Mapping[str, str]) -> Erased:
    name = _name(context, number)
    if athlete_key(form.get("name", "")) != athlete_key(name):
        raise ReviewError.of("name_not_typed")
    is_erased = choice_in(form, "shared", ("keep", "erase")) == "erase"
    return erase_athlete(context.log, name, "erase" if is_erased else "keep")


def _name(context: ReviewContext, number: int) -> str:
    with context.log.reading() as connection:
        return _known(connection, number).name


def _known(connection: Connection, number: int) -> Athlete:
    query = select(ATHLETES.c.id).where(ATHLETES.c.id == number)
    if connection.execute(query).scalar() is None:
        raise LogError.of("no_athlete_of_number")
    return athlete_of(connection, number)


def _today() -> date:
    return datetime.now().astimezone().date()
