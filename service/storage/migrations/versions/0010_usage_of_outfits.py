"""An outfit's rows and bytes are counted with each write, for its quotas."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None

WIDE = {
    "boats": ["document"],
    "riders": ["document"],
    "calibrations": ["document"],
    "setups": ["document"],
    "runs": ["document", "answer", "card", "log"],
    "bookings": ["document", "answer"],
}


def upgrade() -> None:
    # Not in a batch: that would rewrite the table, which others refer to.
    for name in ("rows", "bytes"):
        op.add_column(
            "outfits", sa.Column(name, sa.BigInteger(), server_default="0", nullable=False)
        )
    rows = ["(SELECT count(*) FROM keys WHERE outfit_id = outfits.id)"]
    sizes = [_sum("boat_versions", ["document"])]
    for table, columns in WIDE.items():
        rows.append(
            f"(SELECT count(*) FROM {table} "  # noqa: S608  # names of this file
            "WHERE outfit_id = outfits.id AND deleted IS NULL)"
        )
        sizes.append(_sum(table, columns))
    op.execute(
        f"UPDATE outfits SET rows = {' + '.join(rows)}, bytes = {' + '.join(sizes)}"  # noqa: S608
    )


def downgrade() -> None:
    for name in ("bytes", "rows"):
        op.drop_column("outfits", name)


def _sum(table: str, columns: list[str]) -> str:
    each = " + ".join(f"coalesce(length(CAST({column} AS TEXT)), 0)" for column in columns)
    return f"(SELECT coalesce(sum({each}), 0) FROM {table} WHERE outfit_id = outfits.id)"  # noqa: S608
