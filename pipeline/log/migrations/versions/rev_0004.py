"""Add corrections of reps, the settings of an analysis, and the source of each measure."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Add three columns, an index and a table."""
    op.add_column("clips", sa.Column("settings", sa.Text))
    op.add_column("measures", sa.Column("source", sa.String(10)))
    op.create_index("ix_reps_athlete_id_move_day", "reps", ["athlete_id", "move", "day"])
    op.create_table(
        "rep_changes",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("clip_id", sa.Integer, nullable=False),
        sa.Column("rep_number", sa.Integer, nullable=False),
        sa.Column("start_frame", sa.Integer, nullable=False),
        sa.Column("stop_frame", sa.Integer, nullable=False),
        sa.Column("kind", sa.String(10), nullable=False),
        sa.Column("before", sa.Text),
        sa.Column("after", sa.Text),
        sa.Column("by", sa.String(60), nullable=False),
        sa.Column("at", sa.DateTime, nullable=False),
        sa.Column("undoes", sa.Integer),
        sa.PrimaryKeyConstraint("id", name="pk_rep_changes"),
        sa.ForeignKeyConstraint(
            ["clip_id"], ["clips.id"], name="fk_rep_changes_clip_id", ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["undoes"], ["rep_changes.id"], name="fk_rep_changes_undoes", ondelete="CASCADE"
        ),
    )
    op.create_index("ix_rep_changes_clip_id", "rep_changes", ["clip_id"])
