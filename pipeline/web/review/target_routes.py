"""Routes of the page on target ranges: show, preview on earlier reps, save with a reason."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timezone
from typing import TYPE_CHECKING, Any

from pipeline.core.errors import ReviewError, StaleMark
from pipeline.core.move_table import known_moves
from pipeline.feedback.words import range_text, tick_text
from pipeline.log.athletes import all_athletes
from pipeline.measures import MeasureInfo, measures_with_range
from pipeline.settings.checks import LEVELS
from pipeline.targets.edit import entry_in, merged_entry, with_entry
from pipeline.targets.entries import ANY, OPEN, Scope
from pipeline.targets.load import (
    COACH_FILE,
    coach_targets_path,
    digest_of,
    load_targets,
    targets_of,
)
from pipeline.targets.lookup import Targets, written_target
from pipeline.targets.store import Signed, read_or_empty, set_range
from pipeline.web.review.context import ReviewContext, render_page
from pipeline.web.review.forms import choice_in, read_form, redirect_to, text_in
from pipeline.web.review.target_preview import NO_RANGE, Preview, past_reps, preview_change

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.requests import Request
    from starlette.responses import Response
    from starlette.routing import Route

LONGEST_NUMBER = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class RangeForm:
    """The checked form of a range.

    Attributes
    ----------
    place, info
        Scope and measure of the range.
    low, high
        Bounds as typed, in the unit of the measure; empty = open.
    was
        Both bounds as the page showed them.
    new
        Changed bounds, as they are stored.
    why
        Reason for the change; None in a preview.
    version
        Version of the coach's file on the page that sent the form.
    """

    place: Scope
    info: MeasureInfo
    low: str
    high: str
    was: tuple[str, str]
    new: Mapping[str, tuple[str, Any]]
    why: str | None
    version: str


def target_routes(context: ReviewContext) -> list[Route]:
    """Give the routes of the page on target ranges."""
    from starlette.concurrency import run_in_threadpool
    from starlette.routing import Route

    def page(request: Request) -> Response:
        query = request.query_params
        return _page(context, request, query.get("move", ""), query.get("measure", ""))

    async def preview(request: Request) -> Response:
        form = range_form(await read_form(request))

        def work() -> Response:
            found = preview_of(context, form)
            return _page(context, request, form.place.move, form.info.key, form=form, preview=found)

        return await run_in_threadpool(work)

    async def save(request: Request) -> Response:
        form = range_form(await read_form(request))

        def work() -> Response:
            try:
                save_range(context, form, datetime.now(tz=timezone.utc))
            except StaleMark as error:
                return _page(
                    context, request, form.place.move, form.info.key, form=form,
                    preview=preview_of(context, form), status=409,
                    stale=error.translate(context.words.texts),
                )  # fmt: skip
            return redirect_to(f"/targets?move={form.place.move}&measure={form.info.key}&saved=1")

        return await run_in_threadpool(work)

    return [
        Route("/targets", page),
        Route("/targets/preview", preview, methods=["POST"]),
        Route("/targets/save", save, methods=["POST"]),
    ]


def range_form(form: Mapping[str, str]) -> RangeForm:
    """Check the fields of a form; raises `ReviewError`."""
    move = choice_in(form, "move", known_moves())
    infos = {info.key: info for info in measures_with_range(move or "")} if move else {}
    key = choice_in(form, "measure", infos)
    if move is None or key is None:
        raise ReviewError.of("no_range_chosen")
    info = infos[key]
    low, high = form.get("low", "").strip(), form.get("high", "").strip()
    was_low, was_high = form.get("was_low", ""), form.get("was_high", "")
    # An untouched side stays as it is stored, which may be a fraction of a length.
    new = {
        side: _bound(info, side, typed)
        for side, typed, was in (("low", low, was_low), ("high", high, was_high))
        if typed != was
    }
    if not new:
        raise ReviewError.of("no_bound_changed")
    athlete = text_in(form, "athlete", longest=60)
    return RangeForm(
        place=Scope(
            move,
            choice_in(form, "level", LEVELS) or ANY,
            choice_in(form, "hand", ("left", "right")) or ANY,
            athlete or ANY,
        ),
        info=info, low=low, high=high, was=(was_low, was_high), new=new,
        why=text_in(form, "why", longest=200), version=form.get("version", ""),
    )  # fmt: skip


def preview_of(context: ReviewContext, form: RangeForm) -> Preview:
    """Judge the last reps with the new range; nothing is written."""
    with context.log.reading() as connection:
        reps = past_reps(connection, form.place.move, form.info.key)
    before = load_targets(coach_targets_path())
    return preview_change(reps, before, _with_range(context, form))


def save_range(context: ReviewContext, form: RangeForm, now: datetime) -> None:
    """Store a new range in the coach's file, with its history.

    Raises
    ------
    ReviewError
        No reason is given.
    StaleMark
        The ranges changed after the page showed them.
    CrossemetryError
        The new file is not valid, or cannot be written.
    """
    if form.why is None:
        raise ReviewError.of("no_ground_given")
    path = _file(context)
    signed = Signed(by=context.by, why=form.why, now=now)

    def new_entry(old: Mapping[str, Any] | None) -> Mapping[str, Any] | None:
        # The file is locked here, so it cannot change between this check and the writing.
        if _version(context) != form.version:
            raise StaleMark.of("ranges_changed_since")
        return merged_entry(old, form.new, by=signed.by, why=signed.why)

    set_range(path, form.place, form.info.key, new_entry, signed)


def _with_range(context: ReviewContext, form: RangeForm) -> Targets:
    from pipeline.core.toml_file import parse_toml
    from pipeline.targets.file import check_targets_file

    file = read_or_empty(_file(context))
    old = entry_in(file, form.place, form.info.key)
    new = merged_entry(old, form.new, by=context.by, why=form.why or "-")
    text = with_entry(file, form.place, form.info.key, new)
    return targets_of(check_targets_file(parse_toml(file.path, text)))


def _file(context: ReviewContext) -> Path:
    return context.data / COACH_FILE


def _version(context: ReviewContext) -> str:
    return digest_of(read_or_empty(_file(context)).text)


def _bound(info: MeasureInfo, side: str, typed: str) -> tuple[str, Any]:
    """Key and value of a bound as stored; empty = open."""
    if not typed:
        return side, OPEN
    try:
        number = float(typed.replace(",", ".")) if len(typed) <= LONGEST_NUMBER else math.nan
    except ValueError:
        number = math.nan
    if not math.isfinite(number) or (info.is_count and number != round(number)):
        raise ReviewError.of(
            "no_bound", typed=typed[:LONGEST_NUMBER], measure=(info.key,), such=0.5
        )
    return f"{side}_{info.unit_word}", round(number) if info.is_count else number


def _page(
    context: ReviewContext,
    request: Request,
    move: str,
    measure: str,
    *,
    form: RangeForm | None = None,
    preview: Preview | None = None,
    stale: str = "",
    status: int = 200,
) -> Response:
    words = context.words
    move = move if move in known_moves() else known_moves()[0]
    targets = load_targets(coach_targets_path())
    infos = measures_with_range(move)
    ranges = targets.for_athlete(move, ANY, math.nan)
    chosen = targets.chosen(move)
    with context.log.reading() as connection:
        athletes = [one.name for one in all_athletes(connection)]
    info = next((info for info in infos if info.key == measure), None)
    range_ = None if info is None else ranges.get(info.key)
    bounds = (
        ("", "")
        if range_ is None
        else tuple(
            "" if bound is None else tick_text(words, float(f"{bound:.4g}"))
            for bound in (range_.low, range_.high)
        )
    )
    return render_page(
        context, request, "targets.html", status=status,
        move=move, info=info, title="" if info is None else words.title(info.key),
        unit="" if info is None else words.units.get(info.unit_word, ""),
        moves=[(key, words.move_name(key)) for key in known_moves()],
        rows=[(one.key, words.title(one.key),
               range_text(words, written_target(one.key, chosen[one.key].written()))
               if one.key in chosen else "") for one in infos],
        low=bounds[0] if form is None else form.low, high=bounds[1] if form is None else form.high,
        was=bounds if form is None else form.was,
        now="" if info is None or info.key not in chosen
        else range_text(words, written_target(info.key, chosen[info.key].written())),
        form=form, levels=LEVELS, athletes=athletes, version=_version(context), stale=stale,
        preview=None if preview is None else _preview_view(context, preview),
        saved="saved" in request.query_params,
    )  # fmt: skip


def _preview_view(context: ReviewContext, preview: Preview) -> dict[str, Any]:
    words = context.words

    def word(verdict: str) -> str:
        return words.text("review.no_range") if verdict == NO_RANGE else words.verdict(verdict)  # type: ignore[arg-type]

    return {
        "text": words.text("review.would_change", n=preview.n, changed=preview.n_changed)
        if preview.n
        else words.text("review.no_past_reps"),
        "moved": [
            words.text("review.would_move", n=n, old=word(old), new=word(new))
            for (old, new), n in sorted(preview.moved.items(), key=lambda item: -item[1])
        ],
    }
