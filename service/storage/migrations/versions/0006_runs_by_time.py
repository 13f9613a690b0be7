"""Runs are listed by when they started, and a rating is looked up without the wide rows."""

from __future__ import annotations

from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

BEFORE = (
    ("outfit_id", "started"),
    ("outfit_id", "boat_id", "number"),
    ("outfit_id", "rider_id", "number"),
)
AFTER = (
    ("outfit_id", "started", "number"),
    ("outfit_id", "boat_id", "number", "rating"),
    ("outfit_id", "rider_id", "number", "rating"),
)


def upgrade() -> None:
    _exchange(BEFORE, AFTER)


def downgrade() -> None:
    _exchange(AFTER, BEFORE)


def _exchange(old: tuple[tuple[str, ...], ...], new: tuple[tuple[str, ...], ...]) -> None:
    with op.batch_alter_table("runs", schema=None) as batch_op:
        for columns in old:
            batch_op.drop_index(batch_op.f(f"ix_runs_{'_'.join(columns)}"))
        for columns in new:
            batch_op.create_index(
                batch_op.f(f"ix_runs_{'_'.join(columns)}"), list(columns), unique=False
            )
