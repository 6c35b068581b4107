"""Add the table of what devices sent."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table."""
    op.create_table(
        "sent",
        sa.Column("key", sa.String(36), nullable=False),
        sa.Column("at", sa.String(40), nullable=False),
        sa.Column("entries", sa.Text, nullable=False),
        sa.Column("status", sa.Integer, nullable=False),
        sa.Column("address", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("key", name="pk_sent"),
    )


def downgrade() -> None:
    """Refuse: a sending that is forgotten could be kept twice."""
    raise NotImplementedError("open the copy made before the migration")
