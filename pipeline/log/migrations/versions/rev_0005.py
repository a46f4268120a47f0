"""Add the folders in which the program wrote files about a film, for erasing personal data."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    """Add a table and its indexes."""
    op.create_table(
        "film_folders",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("athlete_id", sa.Integer),
        sa.Column("file_digest", sa.String(64)),
        sa.Column("kind", sa.String(10), nullable=False),
        sa.Column("path", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_film_folders"),
        sa.ForeignKeyConstraint(
            ["athlete_id"], ["athletes.id"], name="fk_film_folders_athlete_id", ondelete="CASCADE"
        ),
    )
    op.create_index("ix_film_folders_athlete_id", "film_folders", ["athlete_id"])
    op.create_index("ix_film_folders_file_digest", "film_folders", ["file_digest"])
