"""Add the tables of an office: people, their sessions, what was done at the door."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the three tables."""
    op.create_table(
        "people",
        sa.Column("name", sa.String(400), nullable=False),
        sa.Column("role", sa.String(20), nullable=False),
        sa.Column("password", sa.String(400), nullable=False),
        sa.Column("since", sa.String(40), nullable=False),
        sa.Column("barred", sa.String(40)),
        sa.PrimaryKeyConstraint("name", name="pk_people"),
    )
    op.create_table(
        "sessions",
        sa.Column("token", sa.String(64), nullable=False),
        sa.Column("name", sa.String(400), nullable=False),
        sa.Column("until", sa.String(40), nullable=False),
        sa.PrimaryKeyConstraint("token", name="pk_sessions"),
        sa.ForeignKeyConstraint(["name"], ["people.name"], name="fk_sessions_name"),
    )
    op.create_table(
        "doings",
        sa.Column("seq", sa.BigInteger().with_variant(sa.Integer, "sqlite"), nullable=False, autoincrement=True),
        sa.Column("at", sa.String(40), nullable=False),
        sa.Column("name", sa.String(400), nullable=False),
        sa.Column("what", sa.String(40), nullable=False),
        sa.Column("says", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("seq", name="pk_doings"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_doings_name_at", "doings", ["name", "at"])


def downgrade() -> None:
    """Refuse: who signed in is part of the record of an office."""
    raise NotImplementedError("open the copy made before the migration")
