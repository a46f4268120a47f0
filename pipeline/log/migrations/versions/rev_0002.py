"""Add tables for review marks and for limits on training volume."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Create the two tables."""
    op.create_table(
        "review_marks",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("clip_id", sa.Integer, nullable=False),
        sa.Column("rep_number", sa.Integer),
        sa.Column("time_s", sa.Float),
        sa.Column("kind", sa.String(20), nullable=False),
        sa.Column("text", sa.Text),
        sa.Column("by", sa.String(60)),
        sa.Column("at", sa.DateTime, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_review_marks"),
        sa.ForeignKeyConstraint(
            ["clip_id"], ["clips.id"], name="fk_review_marks_clip_id", ondelete="CASCADE"
        ),
    )
    op.create_index("ix_review_marks_clip_id", "review_marks", ["clip_id"])
    op.create_table(
        "limits",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("athlete_id", sa.Integer),
        sa.Column("counted", sa.String(10), nullable=False),
        sa.Column("per", sa.String(10), nullable=False),
        sa.Column("hand", sa.String(5)),
        sa.Column("most", sa.Integer),
        sa.Column("set_by", sa.String(60), nullable=False),
        sa.Column("why", sa.Text, nullable=False),
        sa.Column("set_at", sa.DateTime, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_limits"),
        sa.ForeignKeyConstraint(
            ["athlete_id"], ["athletes.id"], name="fk_limits_athlete_id", ondelete="CASCADE"
        ),
    )
    op.create_index("ix_limits_athlete_id", "limits", ["athlete_id"])
