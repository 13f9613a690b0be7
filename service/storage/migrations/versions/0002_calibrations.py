"""Calibrations, and an index by which a boat's log is known to be unchanged."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "calibrations",
        sa.Column("boat_id", sa.String(length=64), nullable=False),
        sa.Column(
            "number",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=True,
            nullable=False,
        ),
        sa.Column("outfit_id", sa.String(length=64), nullable=False),
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("document", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("created", sa.DateTime(timezone=True), nullable=False),
        sa.Column("updated", sa.DateTime(timezone=True), nullable=False),
        sa.Column("deleted", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(
            ["outfit_id", "boat_id"],
            ["boats.outfit_id", "boats.id"],
            name=op.f("fk_calibrations_outfit_id_boat_id"),
        ),
        sa.ForeignKeyConstraint(
            ["outfit_id"], ["outfits.id"], name=op.f("fk_calibrations_outfit_id")
        ),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_calibrations")),
        sa.UniqueConstraint("outfit_id", "id", name=op.f("uq_calibrations_outfit_id_id")),
    )
    with op.batch_alter_table("calibrations", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_calibrations_outfit_id_boat_id_number"),
            ["outfit_id", "boat_id", "number"],
            unique=False,
        )
        batch_op.create_index(
            batch_op.f("ix_calibrations_outfit_id_number"), ["outfit_id", "number"], unique=False
        )
    with op.batch_alter_table("runs", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_runs_log"),
            ["outfit_id", "boat_id", "deleted", "version", "rating", "number"],
            unique=False,
        )


def downgrade() -> None:
    with op.batch_alter_table("runs", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_runs_log"))

    with op.batch_alter_table("calibrations", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_calibrations_outfit_id_number"))
        batch_op.drop_index(batch_op.f("ix_calibrations_outfit_id_boat_id_number"))

    op.drop_table("calibrations")
