"""The coach's short words for players: a list that grows and shrinks, of which nothing is lost."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import Connection, select, update

from pipeline.core.errors import LogError
from pipeline.log.review_tables import CUES
from pipeline.log.schema import insert_row

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
