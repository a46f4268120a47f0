"""Keeps what a person put right in a film: who, when, how it was and how it is; nothing is lost."""

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
from pipeline.log.column_types import Instant
from pipeline.log.schema import METADATA, column_of, id_column, insert_row

UNDONE = "undone"
"""Kind of the row that takes another one back."""

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
"""Changes in the order in which they were made; rows are only ever added. ``before`` and ``after``
are JSON; ``undoes`` names the change that a row takes back. The frames are those of the rep as the
program found it, so that the change finds its rep again when an analysis numbers them anew."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredChange:
    """A change that stands, or stood.

    Attributes
    ----------
    id
        Its number in the log.
    rep_number, start_frame, stop_frame
        The rep as it was when the change was made.
    before, after
        JSON: how it was, and the change.
    by, at
        Who, and when.
    undone
        Whether it was taken back.
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
    """Read the changes in a film in the order in which they were made, those undone too."""
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
    """Keep a change and return its number; `row` holds the other columns."""
    return insert_row(connection, REP_CHANGES, {"clip_id": clip_id, **row})


def undo_change(
    connection: Connection, clip_id: int, change_id: int, *, by: str, at: datetime
) -> None:
    """Take a change back, by a row of its own.

    Raises
    ------
    LogError
        There is no such change in this film, or it was taken back before.
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
