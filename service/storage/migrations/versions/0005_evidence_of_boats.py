"""Counts what is kept of a boat, so that whether it changed is told by one look."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("boats", sa.Column("evidence", sa.Integer(), nullable=False, server_default="0"))


def downgrade() -> None:
    op.drop_column("boats", "evidence")  # not as a batch: others refer to the table
