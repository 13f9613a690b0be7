"""Which rules fired in a kept run and which were overridden; an outfit's own values for rules."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

AT_ONCE = 200


def upgrade() -> None:
    op.create_table(
        "run_rules",
        sa.Column("outfit_id", sa.String(length=64), nullable=False),
        sa.Column("run_id", sa.String(length=64), nullable=False),
        sa.Column("rule", sa.String(length=100), nullable=False),
        sa.Column("overridden", sa.DateTime(timezone=True), nullable=True),
        sa.Column("reason", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(
            ["outfit_id", "run_id"],
            ["runs.outfit_id", "runs.id"],
            name=op.f("fk_run_rules_outfit_id_run_id"),
        ),
        sa.PrimaryKeyConstraint("outfit_id", "run_id", "rule", name=op.f("pk_run_rules")),
    )
    with op.batch_alter_table("run_rules", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_run_rules_outfit_id_rule_overridden"),
            ["outfit_id", "rule", "overridden"],
            unique=False,
        )
    op.create_table(
        "local_rules",
        sa.Column("outfit_id", sa.String(length=64), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("document", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("updated", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["outfit_id"], ["outfits.id"], name=op.f("fk_local_rules_outfit_id")
        ),
        sa.PrimaryKeyConstraint("outfit_id", name=op.f("pk_local_rules")),
    )
    _count_the_runs_that_are_there()


def _count_the_runs_that_are_there() -> None:
    runs = sa.table(
        "runs",
        sa.column("number", sa.Integer()),
        sa.column("outfit_id", sa.String()),
        sa.column("id", sa.String()),
        sa.column("deleted", sa.DateTime(timezone=True)),
        sa.column("answer", sa.JSON()),
    )
    target = sa.table("run_rules", *map(sa.column, ("outfit_id", "run_id", "rule")))
    connection, last = op.get_bind(), 0
    some = sa.select(runs).where(runs.c.deleted.is_(None)).order_by(runs.c.number).limit(AT_ONCE)
    while rows := connection.execute(some.where(runs.c.number > last)).all():
        last = rows[-1].number
        fired = [
            {"outfit_id": row.outfit_id, "run_id": row.id, "rule": rule}
            for row in rows
            for rule in dict.fromkeys(reason["rule"] for reason in row.answer.get("reasons", ()))
        ]
        if fired:
            connection.execute(target.insert(), fired)


def downgrade() -> None:
    op.drop_table("local_rules")
    with op.batch_alter_table("run_rules", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_run_rules_outfit_id_rule_overridden"))

    op.drop_table("run_rules")
