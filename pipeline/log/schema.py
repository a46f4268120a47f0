"""The tables of the training log, the same on SQLite and on PostgreSQL.

Instants are UTC; rows that belong to a day also have the local date. A new column or table needs a
migration in ``migrations/versions`` and a new `HEAD`.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime, timezone
from typing import Any

from sqlalchemy import (
    Boolean,
    Column,
    Connection,
    Date,
    DateTime,
    Dialect,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
    insert,
)
from sqlalchemy.types import TypeDecorator

HEAD = "0006"
"""Newest migration: the version of the schema that this program reads and writes."""


class Instant(TypeDecorator[datetime]):
    """Instant, stored as UTC without a time zone, because SQLite has no time zones."""

    impl = DateTime
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Convert an aware instant into the stored value."""
        return None if value is None else value.astimezone(timezone.utc).replace(tzinfo=None)

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:  # noqa: ANN401
        """Convert the stored value into an aware instant."""
        return None if value is None else value.replace(tzinfo=timezone.utc)


class JsonText(TypeDecorator[Any]):
    """Plain values, stored as JSON text, so that both databases return the same."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: Any, dialect: Dialect) -> str | None:  # noqa: ANN401
        """Convert plain values into the stored text."""
        if value is None:
            return None
        return json.dumps(value, ensure_ascii=False, allow_nan=False, sort_keys=True)

    def process_result_value(self, value: str | None, dialect: Dialect) -> Any:  # noqa: ANN401
        """Convert the stored text into plain values."""
        return None if value is None else json.loads(value)


METADATA = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "pk": "pk_%(table_name)s",
    }
)


def id_column() -> Column[int]:
    """Return the primary key column."""
    return Column("id", Integer, primary_key=True)


def column_of(table: str, *, nullable: bool = False) -> Column[Any]:
    """Return a foreign key column to another table, with cascading deletion."""
    name = {"athletes": "athlete_id", "sessions": "session_id", "clips": "clip_id"}[table]
    return Column(name, ForeignKey(f"{table}.id", ondelete="CASCADE"), nullable=nullable)


ATHLETES = Table(
    "athletes",
    METADATA,
    id_column(),
    Column("name", String(60), nullable=False),
    Column("name_key", String(60), nullable=False, unique=True),
    Column("birth_year", Integer),
    Column("stick_hand", String(5)),
    Column("level", String(10)),
    Column("minor", Boolean),
    Column("added_at", Instant, nullable=False),
)
"""Athletes. ``name_key`` is the name normalised for case and blanks; ``minor`` empty = not set, so
the year of birth decides."""

STATURES = Table(
    "statures",
    METADATA,
    id_column(),
    column_of("athletes"),
    Column("stature_m", Float, nullable=False),
    Column("since", Date, nullable=False),
    UniqueConstraint("athlete_id", "since"),
)

CONSENTS = Table(
    "consents",
    METADATA,
    id_column(),
    column_of("athletes"),
    Column("given_by", String(60), nullable=False),
    Column("given_on", Date, nullable=False),
    Column("until", Date),
    Column("recorded_at", Instant, nullable=False),
    Index("ix_consents_athlete_id", "athlete_id"),
)
"""Consents to film an athlete; the newest row is valid. ``until`` empty = until withdrawn."""

SESSIONS = Table(
    "sessions",
    METADATA,
    id_column(),
    column_of("athletes"),
    Column("day", Date, nullable=False),
    Column("started_at", Instant),
    Column("ended_at", Instant),
    Column("place", String(120)),
    Column("surface", String(60)),
    Column("ball", String(10)),
    Column("exertion", Float),
    Column("minutes", Float),
    Column("notes", Text),
    Index("ix_sessions_athlete_id_day", "athlete_id", "day"),
)
"""Training sessions of an athlete. ``day`` is the local date of the start; ``exertion`` is
perceived, 0 to 10; ``ball`` is lacrosse or tennis."""

TARGET_VERSIONS = Table(
    "target_versions",
    METADATA,
    Column("digest", String(12), primary_key=True),
    Column("source", String(10), nullable=False),
    Column("changed", String(40)),
)

CLIPS = Table(
    "clips",
    METADATA,
    id_column(),
    column_of("athletes"),
    column_of("sessions"),
    Column("file_name", String(255), nullable=False),
    Column("file_digest", String(64), nullable=False),
    Column("stream_digest", String(64), nullable=False),
    Column("filmed_at", Instant),
    Column("dated_by", String(10), nullable=False),
    Column("duration_s", Float),
    Column("level", String(10)),
    Column("stature_m", Float),
    Column("grade", String(1)),
    Column("targets", ForeignKey("target_versions.digest")),
    Column("program", String(20), nullable=False),
    Column("analysed_at", Instant, nullable=False),
    Column("results_path", Text),
    Column("cache_path", Text),
    Column("earlier", Text),
    Column("film_path", Text),
    Column("settings", Text),
    UniqueConstraint("athlete_id", "stream_digest"),
    Index("ix_clips_file_digest", "file_digest"),
    Index("ix_clips_session_id", "session_id"),
)
"""Films, each once per athlete. ``stream_digest`` covers the coded pictures alone, so that renamed
copies and copies in another container are the same film. ``dated_by`` is the source of the date:
told (by the user), film (metadata) or file (modification time). ``earlier`` holds digests and
folders of earlier analyses (JSON), needed to erase an athlete's data. ``film_path`` and
``settings`` (JSON) are those of the analysis."""

REPS = Table(
    "reps",
    METADATA,
    id_column(),
    column_of("clips"),
    column_of("athletes"),
    column_of("sessions"),
    Column("day", Date, nullable=False),
    Column("number", Integer, nullable=False),
    Column("start_s", Float, nullable=False),
    Column("stop_s", Float, nullable=False),
    Column("move", String(40), nullable=False),
    Column("move_probability", Float, nullable=False),
    Column("move_by", String(10), nullable=False),
    Column("hand", String(5)),
    Column("side", String(10)),
    Column("throws", Integer, nullable=False),
    Column("shots", Integer, nullable=False),
    Column("dodges", Integer, nullable=False),
    Column("cuts", Integer, nullable=False),
    Column("contacts", Integer, nullable=False),
    UniqueConstraint("clip_id", "number"),
    # Covers all columns that a sum over days reads, so that it needs the index alone.
    Index(
        "ix_reps_volume",
        *("athlete_id", "day", "session_id", "hand", "side"),
        *("throws", "shots", "dodges", "cuts", "contacts"),
    ),
    Index("ix_reps_session_id", "session_id"),
    Index("ix_reps_athlete_id_move_day", "athlete_id", "move", "day"),
)
"""Filmed reps. Athlete, session and day repeat those of the clip for speed; counts are 0 or 1."""

MEASURES = Table(
    "measures",
    METADATA,
    Column("rep_id", ForeignKey("reps.id", ondelete="CASCADE"), primary_key=True),
    Column("key", String(60), primary_key=True),
    Column("value", Float),
    Column("u", Float),
    Column("unit", String(10), nullable=False),
    Column("reason", JsonText),
    Column("verdict", String(20)),
    Column("verdict_side", String(5)),
    Column("probability_inside", Float),
    Column("target_range", JsonText),
    Column("source", String(10)),
)
"""Values with standard uncertainties, or reasons for their absence, and verdicts. ``reason`` is a
``key`` of the catalogue with its ``values``. ``target_range`` has the bounds ``low`` and ``high``
as the coach wrote them, each a ``value`` with its ``unit``, or null. Either has only a ``text``
where no more is known. ``source`` is coach for values that depend on a person's correction."""

WORK = Table(
    "work",
    METADATA,
    id_column(),
    column_of("athletes"),
    column_of("sessions"),
    Column("day", Date, nullable=False),
    Column("kind", String(40)),
    Column("hand", String(5)),
    Column("throws", Integer, nullable=False),
    Column("shots", Integer, nullable=False),
    Column("dodges", Integer, nullable=False),
    Column("cuts", Integer, nullable=False),
    Column("contacts", Integer, nullable=False),
    Column("estimated", Boolean, nullable=False),
    Column("notes", Text),
    Column("added_at", Instant, nullable=False),
    Index("ix_work_athlete_id_day", "athlete_id", "day"),
    Index("ix_work_session_id", "session_id"),
)
"""Work that was not filmed, counted or estimated by a person."""

REVIEW_MARKS = Table(
    "review_marks",
    METADATA,
    id_column(),
    column_of("clips"),
    Column("rep_number", Integer),
    Column("time_s", Float),
    Column("kind", String(20), nullable=False),
    Column("text", Text),
    Column("by", String(60)),
    Column("at", Instant, nullable=False),
    Column("measure", String(60)),
    Column("why", String(20)),
    Column("move", String(40)),
    Column("program", String(20)),
    Column("undoes", ForeignKey("review_marks.id", ondelete="CASCADE")),
    Column("detail", Text),
    Index("ix_review_marks_clip_id", "clip_id"),
)
"""Review marks on a film. They survive a new analysis and are never altered: ``undoes`` is the mark
that a later row undoes. ``program`` is the program's verdict on ``measure`` at the time; ``move``
is the correct move; ``detail`` is JSON."""

LIMITS = Table(
    "limits",
    METADATA,
    id_column(),
    column_of("athletes", nullable=True),
    Column("counted", String(10), nullable=False),
    Column("per", String(10), nullable=False),
    Column("hand", String(5)),
    Column("most", Integer),
    Column("set_by", String(60), nullable=False),
    Column("why", Text, nullable=False),
    Column("set_at", Instant, nullable=False),
    Index("ix_limits_athlete_id", "athlete_id"),
)
"""Limits set by coaches and trainers. The newest row of a kind is valid; one without a number
removes the limit. No athlete = everybody without a limit of their own."""

BY_ATHLETE = (STATURES, CONSENTS, SESSIONS, CLIPS, REPS, WORK, LIMITS)
"""Tables with a column ``athlete_id``."""


def insert_row(connection: Connection, table: Table, row: Mapping[str, Any]) -> int:
    """Write one row and return its number."""
    key = connection.execute(insert(table).values(**row)).inserted_primary_key
    return 0 if key is None else int(key[0])


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
    # Each covers all columns that the queue filters and sorts by, so that it needs no rows.
    Index("ix_flags_queue", "kind", "open", "score", "rep_id", "who", "move", "measure", "hand",
          "day"),
    Index("ix_flags_who", "who", "kind", "open", "score", "rep_id"),
)  # fmt: skip
"""Review priority of each rep, computed when the rep is written. ``kind`` is fault, close, unknown
or none; ``open`` is true until a person has answered; ``who`` is the athlete."""

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
"""Background jobs of the review page. ``state`` is waiting, running, done, failed or cancelled;
``asked`` (the request) and ``result`` are JSON; ``said`` is a message to the user."""

CUES = Table(
    "cues",
    METADATA,
    id_column(),
    Column("text", String(200), nullable=False),
    Column("by", String(60), nullable=False),
    Column("at", Instant, nullable=False),
    Column("taken_out_at", Instant),
)
"""Short phrases from the coach to a player, offered for selection during review."""


FILM_FOLDERS = Table(
    "film_folders",
    METADATA,
    id_column(),
    column_of("athletes", nullable=True),
    Column("file_digest", String(64)),
    Column("kind", String(10), nullable=False),
    Column("path", Text, nullable=False),
    Index("ix_film_folders_athlete_id", "athlete_id"),
    Index("ix_film_folders_file_digest", "file_digest"),
)
"""Folders in which the program wrote files about a film, other than those of `CLIPS`. ``kind`` is
results or cache. No athlete = none was named; no digest = a folder that was unreachable when its
athlete's data was erased."""
