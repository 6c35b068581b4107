"""Make the tables of entries and files."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make both tables."""
    op.create_table(
        "entries",
        sa.Column("seq", sa.BigInteger().with_variant(sa.Integer, "sqlite"), nullable=False, autoincrement=True),
        sa.Column("id", sa.String(36), nullable=False),
        sa.Column("at", sa.String(40), nullable=False),
        sa.Column("who", sa.String(400), nullable=False),
        sa.Column("device", sa.String(400), nullable=False),
        sa.Column("engine", sa.String(36)),
        sa.Column("visit", sa.String(36)),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("content", sa.Text, nullable=False),
        sa.Column("corrects", sa.String(36)),
        sa.PrimaryKeyConstraint("seq", name="pk_entries"),
        sa.UniqueConstraint("id", name="uq_entries_id"),
        sa.ForeignKeyConstraint(["engine"], ["entries.id"], name="fk_entries_engine"),
        sa.ForeignKeyConstraint(["visit"], ["entries.id"], name="fk_entries_visit"),
        sa.ForeignKeyConstraint(["corrects"], ["entries.id"], name="fk_entries_corrects"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_entries_engine_seq", "entries", ["engine", "seq"])
    op.create_index("ix_entries_visit_kind", "entries", ["visit", "kind"])
    op.create_table(
        "files",
        sa.Column("digest", sa.String(64), nullable=False),
        sa.Column("content", sa.LargeBinary, nullable=False),
        sa.PrimaryKeyConstraint("digest", name="pk_files"),
    )


def downgrade() -> None:
    """Refuse: entries only grow."""
    raise NotImplementedError("a record is not taken back to nothing; open the copy made before the migration")
