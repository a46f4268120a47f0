"""Stores the corrections of a film's reps, with author, time, and state before and after."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import (
    Column,
    Connection,
    ForeignKey,
    Index,
    Integer,
    String,
    Table,
    Text,
    select,
)

from pipeline.core.errors import LogError
from pipeline.log.schema import METADATA, Instant, column_of, id_column, insert_row

UNDONE = "undone"
"""Kind of a row that undoes another one."""

REP_CHANGES = Table(
    "rep_changes",
    METADATA,
    id_column(),
    column_of("clips"),
    Column("rep_number", Integer, nullable=False),
    Column("start_frame", Integer, nullable=False),
    Column("stop_frame", Integer, nullable=False),
    Column("kind", String(10), nullable=False),
    Column("before", Text),
    Column("after", Text),
    Column("by", String(60), nullable=False),
    Column("at", Instant, nullable=False),
    Column("undoes", ForeignKey("rep_changes.id", ondelete="CASCADE")),
    Index("ix_rep_changes_clip_id", "clip_id"),
)
"""Changes in order of time; rows are never altered. ``before`` and ``after`` are JSON; ``undoes``
is the change that a row undoes. The frames are those of the rep as the program found it: they
identify the rep when a new analysis renumbers the reps."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredChange:
    """A stored change of a rep, in force or undone.

    Attributes
    ----------
    id
        Its number in the log.
    rep_number, start_frame, stop_frame
        The rep when the change was made.
    before, after
        JSON: the state before, and the change.
    by, at
        Author and time.
    undone
        Whether it was undone.
    """

    id: int
    rep_number: int
    start_frame: int
    stop_frame: int
    before: str | None
    after: str
    by: str
    at: datetime
    undone: bool


def changes_of(connection: Connection, clip_id: int) -> list[StoredChange]:
    """Read the changes of a film in order of time, including undone ones."""
    query = select(REP_CHANGES).where(REP_CHANGES.c.clip_id == clip_id).order_by(REP_CHANGES.c.id)
    rows = connection.execute(query).mappings().all()
    undone = {row["undoes"] for row in rows}
    return [
        StoredChange(
            **{name: row[name] for name in StoredChange.__slots__ if name != "undone"},
            undone=row["id"] in undone,
        )
        for row in rows
        if row["undoes"] is None
    ]


def add_change(connection: Connection, clip_id: int, row: Mapping[str, Any]) -> int:
    """Store a change and return its number; `row` holds the other columns."""
    return insert_row(connection, REP_CHANGES, {"clip_id": clip_id, **row})


def undo_change(
    connection: Connection, clip_id: int, change_id: int, *, by: str, at: datetime
) -> None:
    """Undo a change by a new row.

    Raises
    ------
    LogError
        The film has no such change, or it is undone already.
    """
    known = {change.id: change for change in changes_of(connection, clip_id)}
    change = known.get(change_id)
    if change is None or change.undone:
        raise LogError.of("no_change_to_take_back")
    row = {
        "rep_number": change.rep_number, "start_frame": change.start_frame,
        "stop_frame": change.stop_frame, "kind": UNDONE, "before": change.after,
        "after": change.before, "by": by, "at": at, "undoes": change_id,
    }  # fmt: skip
    add_change(connection, clip_id, row)
