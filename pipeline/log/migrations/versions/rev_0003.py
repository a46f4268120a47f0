"""Extend review marks, and add tables for review flags, background jobs and cues."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Add columns to marks and clips, and create three tables."""
    op.add_column("clips", sa.Column("film_path", sa.Text))
    with op.batch_alter_table("review_marks") as table:
        table.add_column(sa.Column("measure", sa.String(60)))
        table.add_column(sa.Column("why", sa.String(20)))
        table.add_column(sa.Column("move", sa.String(40)))
        table.add_column(sa.Column("program", sa.String(20)))
        table.add_column(sa.Column("undoes", sa.Integer))
        table.add_column(sa.Column("detail", sa.Text))
        table.create_foreign_key(
            "fk_review_marks_undoes", "review_marks", ["undoes"], ["id"], ondelete="CASCADE"
        )
    op.create_table(
        "flags",
        sa.Column("rep_id", sa.Integer, nullable=False),
        sa.Column("kind", sa.String(10), nullable=False),
        sa.Column("open", sa.Boolean, nullable=False),
        sa.Column("score", sa.Float, nullable=False),
        sa.Column("measure", sa.String(60)),
        sa.Column("who", sa.Integer, nullable=False),
        sa.Column("move", sa.String(40), nullable=False),
        sa.Column("hand", sa.String(5)),
        sa.Column("day", sa.Date, nullable=False),
        sa.PrimaryKeyConstraint("rep_id", name="pk_flags"),
        sa.ForeignKeyConstraint(
            ["rep_id"], ["reps.id"], name="fk_flags_rep_id", ondelete="CASCADE"
        ),
    )
    queue = ["kind", "open", "score", "rep_id", "who", "move", "measure", "hand", "day"]
    op.create_index("ix_flags_queue", "flags", queue)
    op.create_index("ix_flags_who", "flags", ["who", "kind", "open", "score", "rep_id"])
    op.create_table(
        "jobs",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("athlete_id", sa.Integer),
        sa.Column("kind", sa.String(10), nullable=False),
        sa.Column("state", sa.String(10), nullable=False),
        sa.Column("file_name", sa.String(255)),
        sa.Column("film_path", sa.Text),
        sa.Column("asked", sa.Text),
        sa.Column("stage", sa.String(40)),
        sa.Column("done", sa.Integer),
        sa.Column("total", sa.Integer),
        sa.Column("said", sa.Text),
        sa.Column("result", sa.Text),
        sa.Column("by", sa.String(60), nullable=False),
        sa.Column("added_at", sa.DateTime, nullable=False),
        sa.Column("started_at", sa.DateTime),
        sa.Column("ended_at", sa.DateTime),
        sa.PrimaryKeyConstraint("id", name="pk_jobs"),
        sa.ForeignKeyConstraint(
            ["athlete_id"], ["athletes.id"], name="fk_jobs_athlete_id", ondelete="CASCADE"
        ),
    )
    op.create_index("ix_jobs_state", "jobs", ["state"])
    op.create_index("ix_jobs_athlete_id", "jobs", ["athlete_id"])
    op.create_table(
        "cues",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("text", sa.String(200), nullable=False),
        sa.Column("by", sa.String(60), nullable=False),
        sa.Column("at", sa.DateTime, nullable=False),
        sa.Column("taken_out_at", sa.DateTime),
        sa.PrimaryKeyConstraint("id", name="pk_cues"),
    )
