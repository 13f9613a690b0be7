"""What the boat's log reads of a run, beside the whole answer."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

AT_ONCE = 200
MPH = 1.609344
POUND = 0.45359237


def upgrade() -> None:
    op.add_column("runs", sa.Column("log", sa.JSON(none_as_null=True), nullable=True))
    _read_the_runs_that_are_there()


def _read_the_runs_that_are_there() -> None:
    runs = sa.table(
        "runs",
        sa.column("number", sa.Integer()),
        sa.column("boat_id", sa.String()),
        sa.column("answer", sa.JSON()),
        sa.column("log", sa.JSON(none_as_null=True)),
    )
    connection, last = op.get_bind(), 0
    some = sa.select(runs.c.number, runs.c.answer).where(runs.c.boat_id.is_not(None))
    some = some.order_by(runs.c.number).limit(AT_ONCE)
    while rows := connection.execute(some.where(runs.c.number > last)).all():
        last = rows[-1].number
        for number, answer in rows:
            if "accounts" in answer:  # else the rider was erased
                kept = runs.update().where(runs.c.number == number)
                connection.execute(kept.values(log=_log(answer)))


def _log(answer: dict[str, Any]) -> dict[str, Any]:
    """Without water, whose shares go by the boat as she then was, and the rules' amounts."""
    setup, accounts = answer["setup"], answer["accounts"]
    us = answer["units"]["speed"] == "mph"
    mass = POUND if us else 1.0
    off = "starboard" if setup["surf_side"] == "port" else "port"
    alone, advised = {}, {}
    for name, account in (
        ("speed", "speed"), ("centre_plate", "plates.centre"), ("off_side_plate", f"plates.{off}"),
    ):  # fmt: skip
        if account in accounts:
            scale = MPH if us and name == "speed" else 1.0
            lines = accounts[account]["lines"]
            own = sum(line["change"] for line in lines if line["rule"].startswith("log."))
            advised[name] = scale * accounts[account]["value"]
            alone[name] = advised[name] - scale * own
    return {
        "side": setup["surf_side"],
        "context": [
            float(sum(group["people"] for group in setup["seating"])),
            mass * sum(tank["mass"] for tank in setup["tanks"]),
            mass * answer["rider"]["mass"],
        ],
        "alone": alone,
        "advised": advised,
        "tanks": [],
        "alone_in_tanks": [],
        "in_tanks": [],
        "water": {},
        "asked": [],
    }


def downgrade() -> None:
    # Not as a batch: that would rewrite the table, to which others refer.
    op.drop_column("runs", "log")
