"""Add what finds entries by kind and by what they correct: a home of half a million entries is not read as a whole."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make two indices; no row changes."""
    op.create_index("ix_entries_kind_engine_seq", "entries", ["kind", "engine", "seq"])
    there = sa.text("corrects IS NOT NULL")
    op.create_index("ix_entries_corrects", "entries", ["corrects"], sqlite_where=there, postgresql_where=there)


def downgrade() -> None:
    """Take them away."""
    op.drop_index("ix_entries_corrects", "entries")
    op.drop_index("ix_entries_kind_engine_seq", "entries")
