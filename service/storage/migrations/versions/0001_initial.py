"""Outfits, keys, boats, riders, set-ups, runs, bookings and idempotency."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "outfits",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("time_zone", sa.Text(), nullable=False),
        sa.Column("retention_days", sa.Integer(), nullable=True),
        sa.Column("created", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_outfits")),
    )
    op.create_table(
        "boats",
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("propulsion", sa.Text(), nullable=False),
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
        sa.ForeignKeyConstraint(["outfit_id"], ["outfits.id"], name=op.f("fk_boats_outfit_id")),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_boats")),
        sa.UniqueConstraint("outfit_id", "id", name=op.f("uq_boats_outfit_id_id")),
    )
    with op.batch_alter_table("boats", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_boats_outfit_id_number"), ["outfit_id", "number"], unique=False
        )

    op.create_table(
        "idempotency",
        sa.Column("outfit_id", sa.String(length=64), nullable=False),
        sa.Column("route", sa.String(length=200), nullable=False),
        sa.Column("key", sa.String(length=255), nullable=False),
        sa.Column("body_hash", sa.String(length=64), nullable=False),
        sa.Column("claimed", sa.DateTime(timezone=True), nullable=False),
        sa.Column("expires", sa.DateTime(timezone=True), nullable=False),
        sa.Column("status", sa.Integer(), nullable=True),
        sa.Column("headers", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("answer", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(
            ["outfit_id"], ["outfits.id"], name=op.f("fk_idempotency_outfit_id")
        ),
        sa.PrimaryKeyConstraint("outfit_id", "route", "key", name=op.f("pk_idempotency")),
    )
    with op.batch_alter_table("idempotency", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_idempotency_expires"), ["expires"], unique=False)

    op.create_table(
        "keys",
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("outfit_id", sa.String(length=64), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("hash", sa.String(length=64), nullable=False),
        sa.Column("scopes", sa.Text(), nullable=False),
        sa.Column("created", sa.DateTime(timezone=True), nullable=False),
        sa.Column("expires", sa.DateTime(timezone=True), nullable=True),
        sa.Column("last_used", sa.DateTime(timezone=True), nullable=True),
        sa.Column("revoked", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["outfit_id"], ["outfits.id"], name=op.f("fk_keys_outfit_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_keys")),
        sa.UniqueConstraint("hash", name=op.f("uq_keys_hash")),
    )
    with op.batch_alter_table("keys", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_keys_outfit_id"), ["outfit_id"], unique=False)

    op.create_table(
        "riders",
        sa.Column("name", sa.Text(), nullable=True),
        sa.Column("level", sa.Text(), nullable=True),
        sa.Column("used", sa.DateTime(timezone=True), nullable=False),
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
        sa.ForeignKeyConstraint(["outfit_id"], ["outfits.id"], name=op.f("fk_riders_outfit_id")),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_riders")),
        sa.UniqueConstraint("outfit_id", "id", name=op.f("uq_riders_outfit_id_id")),
    )
    with op.batch_alter_table("riders", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_riders_outfit_id_number"), ["outfit_id", "number"], unique=False
        )

    op.create_table(
        "boat_versions",
        sa.Column("outfit_id", sa.String(length=64), nullable=False),
        sa.Column("boat_id", sa.String(length=64), nullable=False),
        sa.Column("version", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("document", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("created", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["outfit_id", "boat_id"],
            ["boats.outfit_id", "boats.id"],
            name=op.f("fk_boat_versions_outfit_id_boat_id"),
        ),
        sa.PrimaryKeyConstraint("outfit_id", "boat_id", "version", name=op.f("pk_boat_versions")),
    )
    op.create_table(
        "bookings",
        sa.Column("boat_id", sa.String(length=64), nullable=True),
        sa.Column("starts", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ends", sa.DateTime(timezone=True), nullable=False),
        sa.Column("answer", sa.JSON(none_as_null=True), nullable=False),
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
            name=op.f("fk_bookings_outfit_id_boat_id"),
        ),
        sa.ForeignKeyConstraint(["outfit_id"], ["outfits.id"], name=op.f("fk_bookings_outfit_id")),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_bookings")),
        sa.UniqueConstraint("outfit_id", "id", name=op.f("uq_bookings_outfit_id_id")),
    )
    with op.batch_alter_table("bookings", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_bookings_outfit_id_boat_id_number"),
            ["outfit_id", "boat_id", "number"],
            unique=False,
        )
        batch_op.create_index(
            batch_op.f("ix_bookings_outfit_id_number"), ["outfit_id", "number"], unique=False
        )
        batch_op.create_index(
            batch_op.f("ix_bookings_outfit_id_starts"), ["outfit_id", "starts"], unique=False
        )

    op.create_table(
        "runs",
        sa.Column("boat_id", sa.String(length=64), nullable=True),
        sa.Column("boat_version", sa.Integer(), nullable=True),
        sa.Column("rider_id", sa.String(length=64), nullable=True),
        sa.Column("rating", sa.Integer(), nullable=True),
        sa.Column("started", sa.DateTime(timezone=True), nullable=False),
        sa.Column("rule_set", sa.String(length=64), nullable=False),
        sa.Column("answer", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("card", sa.Text(), nullable=True),
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
            name=op.f("fk_runs_outfit_id_boat_id"),
        ),
        sa.ForeignKeyConstraint(
            ["outfit_id", "rider_id"],
            ["riders.outfit_id", "riders.id"],
            name=op.f("fk_runs_outfit_id_rider_id"),
        ),
        sa.ForeignKeyConstraint(["outfit_id"], ["outfits.id"], name=op.f("fk_runs_outfit_id")),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_runs")),
        sa.UniqueConstraint("outfit_id", "id", name=op.f("uq_runs_outfit_id_id")),
    )
    with op.batch_alter_table("runs", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_runs_outfit_id_boat_id_number"),
            ["outfit_id", "boat_id", "number"],
            unique=False,
        )
        batch_op.create_index(
            batch_op.f("ix_runs_outfit_id_number"), ["outfit_id", "number"], unique=False
        )
        batch_op.create_index(
            batch_op.f("ix_runs_outfit_id_rider_id_number"),
            ["outfit_id", "rider_id", "number"],
            unique=False,
        )
        batch_op.create_index(
            batch_op.f("ix_runs_outfit_id_started"), ["outfit_id", "started"], unique=False
        )

    op.create_table(
        "setups",
        sa.Column("boat_id", sa.String(length=64), nullable=False),
        sa.Column("rider_id", sa.String(length=64), nullable=True),
        sa.Column("rating", sa.Integer(), nullable=True),
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
            name=op.f("fk_setups_outfit_id_boat_id"),
        ),
        sa.ForeignKeyConstraint(
            ["outfit_id", "rider_id"],
            ["riders.outfit_id", "riders.id"],
            name=op.f("fk_setups_outfit_id_rider_id"),
        ),
        sa.ForeignKeyConstraint(["outfit_id"], ["outfits.id"], name=op.f("fk_setups_outfit_id")),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_setups")),
        sa.UniqueConstraint("outfit_id", "id", name=op.f("uq_setups_outfit_id_id")),
    )
    with op.batch_alter_table("setups", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_setups_outfit_id_boat_id_number"),
            ["outfit_id", "boat_id", "number"],
            unique=False,
        )
        batch_op.create_index(
            batch_op.f("ix_setups_outfit_id_number"), ["outfit_id", "number"], unique=False
        )
        batch_op.create_index(
            batch_op.f("ix_setups_outfit_id_rider_id_number"),
            ["outfit_id", "rider_id", "number"],
            unique=False,
        )


def downgrade() -> None:
    with op.batch_alter_table("setups", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_setups_outfit_id_rider_id_number"))
        batch_op.drop_index(batch_op.f("ix_setups_outfit_id_number"))
        batch_op.drop_index(batch_op.f("ix_setups_outfit_id_boat_id_number"))

    op.drop_table("setups")
    with op.batch_alter_table("runs", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_runs_outfit_id_started"))
        batch_op.drop_index(batch_op.f("ix_runs_outfit_id_rider_id_number"))
        batch_op.drop_index(batch_op.f("ix_runs_outfit_id_number"))
        batch_op.drop_index(batch_op.f("ix_runs_outfit_id_boat_id_number"))

    op.drop_table("runs")
    with op.batch_alter_table("bookings", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_bookings_outfit_id_starts"))
        batch_op.drop_index(batch_op.f("ix_bookings_outfit_id_number"))
        batch_op.drop_index(batch_op.f("ix_bookings_outfit_id_boat_id_number"))

    op.drop_table("bookings")
    op.drop_table("boat_versions")
    with op.batch_alter_table("riders", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_riders_outfit_id_number"))

    op.drop_table("riders")
    with op.batch_alter_table("keys", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_keys_outfit_id"))

    op.drop_table("keys")
    with op.batch_alter_table("idempotency", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_idempotency_expires"))

    op.drop_table("idempotency")
    with op.batch_alter_table("boats", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_boats_outfit_id_number"))

    op.drop_table("boats")
    op.drop_table("outfits")
