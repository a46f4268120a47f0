"""Values of the page on a rep, from the log alone."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from pipeline.feedback.words import Words
from pipeline.log.rep_edits import StoredChange
from pipeline.log.schema import REPS
from pipeline.log.stored_reps import logged_result
from pipeline.report.timing import event_text
from pipeline.web.review.context import ReviewContext, film_path, rep_address, rep_row
from pipeline.web.review.measure_rows import number_rows, without_lines
from pipeline.web.review.recent_reps import read_last
from pipeline.web.review.rep_edits import parse_edit

if TYPE_CHECKING:
    from sqlalchemy import Connection


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeView:
    """Texts of an edit (what, who and when), its number, and whether it is undone."""

    id: int
    what: str
    who: str
    undone: bool


def page_values(context: ReviewContext, clip_id: int, number: int) -> dict[str, Any] | None:
    """Give the variables of the page's template; None if there is no such rep."""
    words = context.words
    with context.log.reading() as connection:
        row = rep_row(connection, clip_id, number)
        if row is None:
            return None
        result, by_coach = logged_result(connection, row)
        past = read_last(connection, row)
        before, after = _beside(connection, clip_id, number)
    rows = number_rows(words, result, past, scene=None, by_coach=by_coach)
    address = rep_address(clip_id, number)
    return {
        "rep": row,
        "words_of": SimpleNamespace(**words.section("rep_view")),
        "when": words.text("rep_view.when", start=row["start_s"], stop=row["stop_s"]),
        "hand": "" if row["hand"] is None else words.text(f"rep_view.hand_{row['hand']}"),
        "rows": without_lines(rows),
        "before": None if before is None else rep_address(clip_id, before),
        "after": None if after is None else rep_address(clip_id, after),
        "film_is_there": film_path(row) is not None,
        "start": {
            "address": address,
            "clip": f"/clip/{clip_id}",
            "start_s": row["start_s"],
            "stop_s": row["stop_s"],
            "texts": dict(words.section("rep_view")),
            "decimal": words.texts.figures.decimal,
        },
    }


def change_views(words: Words, edits: Sequence[StoredChange]) -> list[ChangeView]:
    """Texts of edits."""
    return [
        ChangeView(
            id=one.id,
            what=_what(words, one),
            who=words.text(
                "rep_view.by_at", by=one.by, at=one.at.astimezone().strftime("%Y-%m-%d %H:%M")
            ),
            undone=one.undone,
        )
        for one in edits
    ]


def _what(words: Words, edit: StoredChange) -> str:
    change = parse_edit(json.loads(edit.after))
    before: Mapping[str, Any] = json.loads(edit.before or "{}")
    if change.kind == "event":
        return words.text(
            "rep_view.changed_event",
            event=event_text(words, change.name),
            before=int(before.get("frame", 0)) + 1,
            after=change.frame + 1,
        )
    if change.kind == "joint":
        name = f"rep_view.joint_{change.name}"
        return words.text("rep_view.changed_joint", joint=words.text(name), frame=change.frame + 1)
    foot = words.text(f"rep_view.foot_{change.name}")
    return words.text(f"rep_view.changed_{change.kind}", foot=foot, frame=change.frame + 1)


def _beside(connection: Connection, clip_id: int, number: int) -> tuple[int | None, int | None]:
    """Numbers of the previous and the next rep of the same film; None if missing."""
    numbers = select(REPS.c.number).where(REPS.c.clip_id == clip_id).order_by(REPS.c.number)
    known = list(connection.execute(numbers).scalars())
    before = [one for one in known if one < number]
    after = [one for one in known if one > number]
    return (before[-1] if before else None, after[0] if after else None)
