"""Review marks and cues on reps: stored with author and time, undone by a new row."""

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
"""Marks that confirm or reject the program's result; either settles the review of a rep."""
UNDO = "undo"

TOLERANCE_S = 1e-6
"""Tolerance for rounding of the times in the database."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewMark:
    """One review mark.

    Attributes
    ----------
    id
        Number of its row; 0 = not written yet.
    kind
        One of `KINDS`, `UNDO`, or a kind that another review page stores.
    by, at
        Author and time.
    measure, program
        Key of the measure, and the program's verdict on it at the time.
    why, move, text
        Reason of a disagreement, the correct move, free text or the cue.
    undoes
        Number of the mark that it undoes.
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
    """A rep of the log that can be marked.

    Attributes
    ----------
    id, clip_id, number
        Numbers of the rep and its clip in the log, and number of the rep in the clip.
    start_s, stop_s
        Clip time.
    move
        Move as classified by the program.
    """

    id: int
    clip_id: int
    number: int
    start_s: float
    stop_s: float
    move: str

    @property
    def middle_s(self) -> float:
        """Clip time of the rep's marks: a new analysis may renumber the reps."""
        return 0.5 * (self.start_s + self.stop_s)

    def holds(self, mark: Mapping[Any, Any]) -> bool:
        """Whether a mark of the clip belongs to this rep."""
        time_s = mark["time_s"]
        if time_s is None:
            return bool(mark["rep_number"] == self.number)
        return bool(self.start_s - TOLERANCE_S <= time_s <= self.stop_s + TOLERANCE_S)


def find_rep(connection: Connection, clip_id: int, number: int) -> MarkedRep:
    """Return a rep by its clip and number.

    Raises
    ------
    LogError
        The log has no such rep.
    """
    names = ("id", "clip_id", "number", "start_s", "stop_s", "move")
    query = select(*(REPS.c[name] for name in names)).where(
        REPS.c.clip_id == clip_id, REPS.c.number == number
    )
    row = connection.execute(query).mappings().first()
    if row is None:
        raise LogError.of("rep_not_in_log", rep=number, clip=clip_id)
    return MarkedRep(**row)


def marks_of(connection: Connection, rep: MarkedRep) -> list[ReviewMark]:
    """Read all marks of a rep, oldest first, including undone ones."""
    query = (
        select(REVIEW_MARKS)
        .where(REVIEW_MARKS.c.clip_id == rep.clip_id)
        .order_by(REVIEW_MARKS.c.id)
    )
    return [as_mark(row) for row in connection.execute(query).mappings() if rep.holds(row)]


def as_mark(row: Mapping[Any, Any]) -> ReviewMark:
    """Build a mark from its row."""
    names = ("id", "kind", "by", "at", "measure", "program", "why", "move", "text", "undoes")
    return ReviewMark(**{name: row[name] for name in names} | {"by": row["by"] or ""})


def standing(marks: Sequence[ReviewMark]) -> list[ReviewMark]:
    """Return the valid marks, without undone marks and the rows that undo them.

    Of several answers by one person on the same measure only the last one is valid.

    Examples
    --------
    >>> from datetime import datetime
    >>> now = datetime(2026, 9, 1)
    >>> yes = ReviewMark(id=1, kind="agree", by="C.", at=now)
    >>> standing([yes, ReviewMark(id=2, kind="undo", by="C.", at=now, undoes=1)])
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
    """Return the version of a rep's marks: the number of the last row; 0 without marks."""
    return max((mark.id for mark in marks), default=0)


def add_mark(connection: Connection, rep: MarkedRep, mark: ReviewMark, *, version: int) -> int:
    """Write a mark and return its number.

    Parameters
    ----------
    connection
        In a write transaction.
    rep
        The rep.
    mark
        The mark.
    version
        `version_of` the marks shown to the author.

    Raises
    ------
    StaleMark
        Another mark was added since; nothing is written.
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
    """Undo a mark by a new row; returns its rep, or None if the rep is gone.

    Undoing a mark twice has no further effect.

    Raises
    ------
    LogError
        There is no such mark, or its kind cannot be undone.
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
    """Read the valid notes, cues and answers on a film, by the number of the rep.

    Parameters
    ----------
    connection
        To the log.
    digest
        SHA-256 of the film's file.
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
    """Read number and text of each listed cue, sorted by text."""
    query = select(CUES.c.id, CUES.c.text).where(CUES.c.taken_out_at.is_(None))
    return [(row.id, row.text) for row in connection.execute(query.order_by(CUES.c.text))]


def add_cue(connection: Connection, text: str, *, by: str, at: datetime) -> int:
    """Add a cue to the list and return its number; an equal cue is not added again."""
    there = {words.casefold(): number for number, words in cue_texts(connection)}
    if text.casefold() in there:
        return there[text.casefold()]
    return insert_row(connection, CUES, {"text": text, "by": by, "at": at})


def take_out_cue(connection: Connection, number: int, *, at: datetime) -> None:
    """Remove a cue from the list; marks that used it keep its text.

    Raises
    ------
    LogError
        There is no such cue in the list.
    """
    where = (CUES.c.id == number) & CUES.c.taken_out_at.is_(None)
    if not connection.execute(update(CUES).where(where).values(taken_out_at=at)).rowcount:
        raise LogError.of("no_such_cue")
