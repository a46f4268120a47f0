"""The tables of the review page: what to look at first, long work, the coach's short words."""

from __future__ import annotations

from sqlalchemy import (
    Boolean,
    Column,
    Date,
    Float,
    ForeignKey,
    Index,
    Integer,
    String,
    Table,
    Text,
)

from pipeline.log.column_types import Instant
from pipeline.log.schema import METADATA, column_of, id_column

FLAGS = Table(
    "flags",
    METADATA,
    Column("rep_id", ForeignKey("reps.id", ondelete="CASCADE"), primary_key=True),
    Column("kind", String(10), nullable=False),
    Column("open", Boolean, nullable=False),
    Column("score", Float, nullable=False),
    Column("measure", String(60)),
    Column("who", Integer, nullable=False),
    Column("move", String(40), nullable=False),
    Column("hand", String(5)),
    Column("day", Date, nullable=False),
    # Each holds all that the queue filters and sorts by, so that it never looks at the rows.
    Index("ix_flags_queue", "kind", "open", "score", "rep_id", "who", "move", "measure", "hand",
          "day"),
    Index("ix_flags_who", "who", "kind", "open", "score", "rep_id"),
)  # fmt: skip
"""What of a rep a coach should look at first, worked out when the rep is written: ``kind`` is
fault, close, unknown or none; ``open`` until somebody has said what is so; ``who`` the athlete."""

JOBS = Table(
    "jobs",
    METADATA,
    id_column(),
    column_of("athletes", nullable=True),
    Column("kind", String(10), nullable=False),
    Column("state", String(10), nullable=False),
    Column("file_name", String(255)),
    Column("film_path", Text),
    Column("asked", Text),
    Column("stage", String(40)),
    Column("done", Integer),
    Column("total", Integer),
    Column("said", Text),
    Column("result", Text),
    Column("by", String(60), nullable=False),
    Column("added_at", Instant, nullable=False),
    Column("started_at", Instant),
    Column("ended_at", Instant),
    Index("ix_jobs_state", "state"),
    Index("ix_jobs_athlete_id", "athlete_id"),
)
"""Long work that the review page was asked for. ``state`` is waiting, running, done, failed or
cancelled; ``asked`` and ``result`` are JSON, ``said`` is for the person who waits."""

CUES = Table(
    "cues",
    METADATA,
    id_column(),
    Column("text", String(200), nullable=False),
    Column("by", String(60), nullable=False),
    Column("at", Instant, nullable=False),
    Column("taken_out_at", Instant),
)
"""Short words of the coach for a player, to be chosen from while looking at a rep."""
