"""Marks and cues that people put on reps: kept with who and when, undone by a new row."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal, get_args

from sqlalchemy import Connection, func, select, update

from pipeline.core.errors import LogError, StaleMark
from pipeline.log.schema import CLIPS, CUES, REPS, REVIEW_MARKS, insert_row

MarkKind = Literal["agree", "disagree", "note", "cue"]
Why = Literal["measured_wrong", "fine_here", "other_move", "not_a_rep"]
KINDS: tuple[MarkKind, ...] = get_args(MarkKind)
WHYS: tuple[Why, ...] = get_args(Why)
ANSWERS: tuple[MarkKind, ...] = ("agree", "disagree")
"""Marks that say whether what the program found is so: with one, a rep is done with."""
UNDO = "undo"

HAIR_S = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewMark:
    """One mark.

    Attributes
    ----------
    id
        Number of its row; 0 = not written yet.
    kind
        `KINDS`, `UNDO`, or what another page of the review notes.
    by, at
        Who, and when.
    measure, program
        What it is about, and the verdict of the program on that at the time.
    why, move, text
        Of a disagreement; the move that it is instead; free words or the cue.
    undoes
        Number of the mark that it takes back.
    """

    kind: str
    by: str
    at: datetime
    measure: str | None = None
    program: str | None = None
    why: str | None = None
    move: str | None = None
    text: str | None = None
    undoes: int | None = None
    id: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkedRep:
    """A rep that can be marked.

    Attributes
    ----------
    id, clip_id, number
        In the log: of the rep, of its clip, and which rep of the clip it is.
    start_s, stop_s
        Clip time.
    move
        As the program named it.
    """

    id: int
    clip_id: int
    number: int
    start_s: float
    stop_s: float
    move: str

    @property
    def middle_s(self) -> float:
        """Clip time at which a mark is put: a new analysis may number the reps anew."""
        return 0.5 * (self.start_s + self.stop_s)

    def holds(self, mark: Mapping[Any, Any]) -> bool:
        """Whether a mark of the clip is of this rep."""
        time_s = mark["time_s"]
        if time_s is None:
            return bool(mark["rep_number"] == self.number)
        return bool(self.start_s - HAIR_S <= time_s <= self.stop_s + HAIR_S)


def find_rep(connection: Connection, clip_id: int, number: int) -> MarkedRep:
    """Find a rep by its clip and number, or raise `LogError`."""
    names = ("id", "clip_id", "number", "start_s", "stop_s", "move")
    query = select(*(REPS.c[name] for name in names)).where(
        REPS.c.clip_id == clip_id, REPS.c.number == number
    )
    row = connection.execute(query).mappings().first()
    if row is None:
        raise LogError.of("rep_not_in_log", rep=number, clip=clip_id)
    return MarkedRep(**row)


def marks_of(connection: Connection, rep: MarkedRep) -> list[ReviewMark]:
    """Read all marks of a rep, the oldest first, those that were taken back among them."""
    query = (
        select(REVIEW_MARKS)
        .where(REVIEW_MARKS.c.clip_id == rep.clip_id)
        .order_by(REVIEW_MARKS.c.id)
    )
    return [as_mark(row) for row in connection.execute(query).mappings() if rep.holds(row)]


def as_mark(row: Mapping[Any, Any]) -> ReviewMark:
    """Make a mark of its row."""
    names = ("id", "kind", "by", "at", "measure", "program", "why", "move", "text", "undoes")
    return ReviewMark(**{name: row[name] for name in names} | {"by": row["by"] or ""})


def standing(marks: Sequence[ReviewMark]) -> list[ReviewMark]:
    """Leave out marks that were taken back, and the rows that took them back.

    Of several answers of one person on the same measure the last one holds.

    Examples
    --------
    >>> from datetime import datetime
    >>> now = datetime(2026, 9, 1)
    >>> yes = Mark(id=1, kind="agree", by="C.", at=now)
    >>> standing([yes, Mark(id=2, kind="undo", by="C.", at=now, undoes=1)])
    []
    """
    undone = {mark.undoes for mark in marks if mark.kind == UNDO}
    left = [mark for mark in marks if mark.kind != UNDO and mark.id not in undone]
    last = {(mark.by, mark.measure): mark.id for mark in left if mark.kind in ANSWERS}
    return [
        mark
        for mark in left
        if mark.kind not in ANSWERS or last[(mark.by, mark.measure)] == mark.id
    ]


def version_of(marks: Sequence[ReviewMark]) -> int:
    """Version of what was said of a rep: the number of its last row; 0 where there is none."""
    return max((mark.id for mark in marks), default=0)


def add_mark(connection: Connection, rep: MarkedRep, mark: ReviewMark, *, version: int) -> int:
    """Write a mark and return its number.

    Parameters
    ----------
    connection
        In a transaction that writes.
    rep
        Which.
    mark
        What is said.
    version
        `version_of` the marks that whoever marks has seen.

    Raises
    ------
    StaleMark
        Somebody else has marked the rep since; nothing is written.
    """
    if version_of(marks_of(connection, rep)) != version:
        raise StaleMark.of("rep_marked_since", number=rep.number)
    row = {
        "clip_id": rep.clip_id,
        "rep_number": rep.number,
        "time_s": rep.middle_s,
        "kind": mark.kind,
        "text": mark.text,
        "by": mark.by,
        "at": mark.at,
        "measure": mark.measure,
        "why": mark.why,
        "move": mark.move,
        "program": mark.program,
        "undoes": mark.undoes,
    }
    return insert_row(connection, REVIEW_MARKS, row)


def undo_mark(connection: Connection, mark_id: int, *, by: str, at: datetime) -> MarkedRep | None:
    """Take a mark back with a new row; returns its rep, None where the rep is not there any more.

    A mark that was taken back already stays so.

    Raises
    ------
    LogError
        There is no such mark, or it cannot be taken back.
    """
    query = select(REVIEW_MARKS).where(REVIEW_MARKS.c.id == mark_id)
    row = connection.execute(query).mappings().first()
    if row is None or row["kind"] not in KINDS:
        raise LogError.of("no_such_mark")
    undone = select(func.count()).where(REVIEW_MARKS.c.undoes == mark_id)
    if not connection.execute(undone).scalar():
        new = {
            **{name: row[name] for name in ("clip_id", "rep_number", "time_s")},
            "kind": UNDO, "by": by, "at": at, "undoes": mark_id,
        }  # fmt: skip
        insert_row(connection, REVIEW_MARKS, new)
    return _rep_of(connection, row)


def marks_for_report(connection: Connection, digest: str) -> dict[int, list[ReviewMark]]:
    """Standing notes, cues and answers on the reps of a film, by the number of the rep.

    Parameters
    ----------
    connection
        To the log.
    digest
        Of the film's file.
    """
    names = ("id", "clip_id", "number", "start_s", "stop_s", "move")
    query = (
        select(*(REPS.c[name] for name in names))
        .join(CLIPS, CLIPS.c.id == REPS.c.clip_id)
        .where(CLIPS.c.file_digest == digest)
        .order_by(REPS.c.number)
    )
    found: dict[int, list[ReviewMark]] = {}
    for row in connection.execute(query).mappings().all():
        marks = standing(marks_of(connection, MarkedRep(**row)))
        if marks:
            found.setdefault(row["number"], []).extend(marks)
    return found


def _rep_of(connection: Connection, mark: Mapping[Any, Any]) -> MarkedRep | None:
    names = ("id", "clip_id", "number", "start_s", "stop_s", "move")
    query = select(*(REPS.c[name] for name in names)).where(REPS.c.clip_id == mark["clip_id"])
    for row in connection.execute(query).mappings():
        rep = MarkedRep(**row)
        if rep.holds(mark):
            return rep
    return None


LONGEST_CUE = 200


def cue_texts(connection: Connection) -> list[tuple[int, str]]:
    """Give number and words of each cue that is in the list, in the order of the words."""
    query = select(CUES.c.id, CUES.c.text).where(CUES.c.taken_out_at.is_(None))
    return [(row.id, row.text) for row in connection.execute(query.order_by(CUES.c.text))]


def add_cue(connection: Connection, text: str, *, by: str, at: datetime) -> int:
    """Put a cue into the list; one that is there already stays as it is."""
    there = {words.casefold(): number for number, words in cue_texts(connection)}
    if text.casefold() in there:
        return there[text.casefold()]
    return insert_row(connection, CUES, {"text": text, "by": by, "at": at})


def take_out_cue(connection: Connection, number: int, *, at: datetime) -> None:
    """Take a cue out of the list; marks in which it was used keep its words.

    Raises
    ------
    LogError
        There is no such cue in the list.
    """
    where = (CUES.c.id == number) & CUES.c.taken_out_at.is_(None)
    if not connection.execute(update(CUES).where(where).values(taken_out_at=at)).rowcount:
        raise LogError.of("no_such_cue")
