"""Create the training log."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None

COUNTS = ("throws", "shots", "dodges", "cuts", "contacts")


def upgrade() -> None:
    """Create the tables."""
    op.create_table(
        "athletes",
        _id(),
        sa.Column("name", sa.String(60), nullable=False),
        sa.Column("name_key", sa.String(60), nullable=False),
        sa.Column("birth_year", sa.Integer),
        sa.Column("stick_hand", sa.String(5)),
        sa.Column("level", sa.String(10)),
        sa.Column("minor", sa.Boolean),
        sa.Column("added_at", sa.DateTime, nullable=False),
        *_keys("athletes"),
        sa.UniqueConstraint("name_key", name="uq_athletes_name_key"),
    )
    op.create_table(
        "statures",
        _id(),
        sa.Column("athlete_id", sa.Integer, nullable=False),
        sa.Column("stature_m", sa.Float, nullable=False),
        sa.Column("since", sa.Date, nullable=False),
        *_keys("statures", "athlete"),
        sa.UniqueConstraint("athlete_id", "since", name="uq_statures_athlete_id_since"),
    )
    op.create_table(
        "consents",
        _id(),
        sa.Column("athlete_id", sa.Integer, nullable=False),
        sa.Column("given_by", sa.String(60), nullable=False),
        sa.Column("given_on", sa.Date, nullable=False),
        sa.Column("until", sa.Date),
        sa.Column("recorded_at", sa.DateTime, nullable=False),
        *_keys("consents", "athlete"),
    )
    op.create_index("ix_consents_athlete_id", "consents", ["athlete_id"])
    op.create_table(
        "sessions",
        _id(),
        sa.Column("athlete_id", sa.Integer, nullable=False),
        sa.Column("day", sa.Date, nullable=False),
        sa.Column("started_at", sa.DateTime),
        sa.Column("ended_at", sa.DateTime),
        sa.Column("place", sa.String(120)),
        sa.Column("surface", sa.String(60)),
        sa.Column("ball", sa.String(10)),
        sa.Column("exertion", sa.Float),
        sa.Column("minutes", sa.Float),
        sa.Column("notes", sa.Text),
        *_keys("sessions", "athlete"),
    )
    op.create_index("ix_sessions_athlete_id_day", "sessions", ["athlete_id", "day"])
    op.create_table(
        "target_versions",
        sa.Column("digest", sa.String(12), nullable=False),
        sa.Column("source", sa.String(10), nullable=False),
        sa.Column("changed", sa.String(40)),
        sa.PrimaryKeyConstraint("digest", name="pk_target_versions"),
    )
    _make_clips()
    _make_reps()
    op.create_table(
        "work",
        _id(),
        sa.Column("athlete_id", sa.Integer, nullable=False),
        sa.Column("session_id", sa.Integer, nullable=False),
        sa.Column("day", sa.Date, nullable=False),
        sa.Column("kind", sa.String(40)),
        sa.Column("hand", sa.String(5)),
        *(sa.Column(name, sa.Integer, nullable=False) for name in COUNTS),
        sa.Column("estimated", sa.Boolean, nullable=False),
        sa.Column("notes", sa.Text),
        sa.Column("added_at", sa.DateTime, nullable=False),
        *_keys("work", "athlete", "session"),
    )
    op.create_index("ix_work_athlete_id_day", "work", ["athlete_id", "day"])
    op.create_index("ix_work_session_id", "work", ["session_id"])


def _make_clips() -> None:
    op.create_table(
        "clips",
        _id(),
        sa.Column("athlete_id", sa.Integer, nullable=False),
        sa.Column("session_id", sa.Integer, nullable=False),
        sa.Column("file_name", sa.String(255), nullable=False),
        sa.Column("file_digest", sa.String(64), nullable=False),
        sa.Column("stream_digest", sa.String(64), nullable=False),
        sa.Column("filmed_at", sa.DateTime),
        sa.Column("dated_by", sa.String(10), nullable=False),
        sa.Column("duration_s", sa.Float),
        sa.Column("level", sa.String(10)),
        sa.Column("stature_m", sa.Float),
        sa.Column("grade", sa.String(1)),
        sa.Column("targets", sa.String(12)),
        sa.Column("program", sa.String(20), nullable=False),
        sa.Column("analysed_at", sa.DateTime, nullable=False),
        sa.Column("results_path", sa.Text),
        sa.Column("cache_path", sa.Text),
        sa.Column("earlier", sa.Text),
        *_keys("clips", "athlete", "session"),
        sa.ForeignKeyConstraint(["targets"], ["target_versions.digest"], name="fk_clips_targets"),
        sa.UniqueConstraint(
            "athlete_id", "stream_digest", name="uq_clips_athlete_id_stream_digest"
        ),
    )
    op.create_index("ix_clips_file_digest", "clips", ["file_digest"])
    op.create_index("ix_clips_session_id", "clips", ["session_id"])


def _make_reps() -> None:
    op.create_table(
        "reps",
        _id(),
        sa.Column("clip_id", sa.Integer, nullable=False),
        sa.Column("athlete_id", sa.Integer, nullable=False),
        sa.Column("session_id", sa.Integer, nullable=False),
        sa.Column("day", sa.Date, nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("start_s", sa.Float, nullable=False),
        sa.Column("stop_s", sa.Float, nullable=False),
        sa.Column("move", sa.String(40), nullable=False),
        sa.Column("move_probability", sa.Float, nullable=False),
        sa.Column("move_by", sa.String(10), nullable=False),
        sa.Column("hand", sa.String(5)),
        sa.Column("side", sa.String(10)),
        *(sa.Column(name, sa.Integer, nullable=False) for name in COUNTS),
        *_keys("reps", "clip", "athlete", "session"),
        sa.UniqueConstraint("clip_id", "number", name="uq_reps_clip_id_number"),
    )
    read = ["athlete_id", "day", "session_id", "hand", "side", *COUNTS]
    op.create_index("ix_reps_volume", "reps", read)
    op.create_index("ix_reps_session_id", "reps", ["session_id"])
    op.create_table(
        "measures",
        sa.Column("rep_id", sa.Integer, nullable=False),
        sa.Column("key", sa.String(60), nullable=False),
        sa.Column("value", sa.Float),
        sa.Column("u", sa.Float),
        sa.Column("unit", sa.String(10), nullable=False),
        sa.Column("reason", sa.Text),
        sa.Column("verdict", sa.String(20)),
        sa.Column("verdict_side", sa.String(5)),
        sa.Column("probability_inside", sa.Float),
        sa.Column("range_words", sa.String(120)),
        sa.PrimaryKeyConstraint("rep_id", "key", name="pk_measures"),
        sa.ForeignKeyConstraint(
            ["rep_id"], ["reps.id"], name="fk_measures_rep_id", ondelete="CASCADE"
        ),
    )


def _id() -> sa.Column[int]:
    return sa.Column("id", sa.Integer, nullable=False)


def _keys(table: str, *parents: str) -> list[sa.Constraint]:
    """Return the primary key, and foreign keys with cascading deletion."""
    return [
        sa.PrimaryKeyConstraint("id", name=f"pk_{table}"),
        *(
            sa.ForeignKeyConstraint(
                [f"{parent}_id"],
                [f"{parent}s.id"],
                name=f"fk_{table}_{parent}_id",
                ondelete="CASCADE",
            )
            for parent in parents
        ),
    ]
