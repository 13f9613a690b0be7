"""Long work is kept as jobs, which processes of their own take from here."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "jobs",
        sa.Column(
            "number",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=True,
            nullable=False,
        ),
        sa.Column("id", sa.String(length=64), nullable=False),
        sa.Column("outfit_id", sa.String(length=64), nullable=True),
        sa.Column("payer", sa.String(length=64), nullable=False),
        sa.Column("kind", sa.String(length=200), nullable=False),
        sa.Column("price", sa.Double(), nullable=False),
        sa.Column("state", sa.String(length=16), nullable=False),
        sa.Column("request", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("answer", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("fault", sa.Text(), nullable=True),
        sa.Column("attempts", sa.Integer(), nullable=False),
        sa.Column("done", sa.Integer(), nullable=False),
        sa.Column("total", sa.Integer(), nullable=True),
        sa.Column("created", sa.DateTime(timezone=True), nullable=False),
        sa.Column("started", sa.DateTime(timezone=True), nullable=True),
        sa.Column("ended", sa.DateTime(timezone=True), nullable=True),
        sa.Column("expires", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["outfit_id"], ["outfits.id"], name=op.f("fk_jobs_outfit_id")),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_jobs")),
        sa.UniqueConstraint("id", name=op.f("uq_jobs_id")),
    )
    with op.batch_alter_table("jobs", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_jobs_expires"), ["expires"], unique=False)
        batch_op.create_index(batch_op.f("ix_jobs_state_number"), ["state", "number"], unique=False)


def downgrade() -> None:
    op.drop_table("jobs")
