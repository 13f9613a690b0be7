"""The tables. Everything but an outfit belongs to one, and is found only together with it."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import (
    JSON,
    BigInteger,
    DateTime,
    Dialect,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    Integer,
    MetaData,
    String,
    Text,
    UniqueConstraint,
)
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column
from sqlalchemy.schema import SchemaItem
from sqlalchemy.types import TypeDecorator

LONGEST_ID = 64
LONGEST_ROUTE = 200
Document = dict[str, Any]


class Moment(TypeDecorator[datetime]):
    """A moment in time: UTC in the store and in the program, whatever the database keeps."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        return None if value is None else value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


def now() -> datetime:
    return datetime.now(UTC)


class Base(DeclarativeBase):
    # Named, so that a migration can speak of a constraint on either database.
    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(table_name)s_%(column_0_N_name)s",
            "uq": "uq_%(table_name)s_%(column_0_N_name)s",
            "fk": "fk_%(table_name)s_%(column_0_N_name)s",
            "pk": "pk_%(table_name)s",
        }
    )
    # JSON, not JSONB: what was answered is kept word for word, in its order.
    type_annotation_map = {  # noqa: RUF012  # as SQLAlchemy declares it
        datetime: Moment(),
        Document: JSON(none_as_null=True),
        str: Text(),
    }


class Outfit(Base):
    """Whoever runs the boats. ``retention_days``: riders not used that long are erased.

    ``rows`` and ``bytes`` are what it has stored; see :mod:`service.storage.usage`.
    """

    __tablename__ = "outfits"

    id: Mapped[str] = mapped_column(String(LONGEST_ID), primary_key=True)
    name: Mapped[str]
    time_zone: Mapped[str] = mapped_column(default="UTC")
    retention_days: Mapped[int | None]
    created: Mapped[datetime] = mapped_column(default=now)
    rows: Mapped[int] = mapped_column(BigInteger(), default=0, server_default="0")
    bytes: Mapped[int] = mapped_column(BigInteger(), default=0, server_default="0")


class Key(Base):
    """An API key. The key itself is kept nowhere, only its hash."""

    __tablename__ = "keys"

    id: Mapped[str] = mapped_column(String(LONGEST_ID), primary_key=True)
    outfit_id: Mapped[str] = mapped_column(ForeignKey("outfits.id"), index=True)
    name: Mapped[str]
    hash: Mapped[str] = mapped_column(String(64), unique=True)
    scopes: Mapped[str]
    created: Mapped[datetime] = mapped_column(default=now)
    expires: Mapped[datetime | None]
    last_used: Mapped[datetime | None]
    revoked: Mapped[datetime | None]


class Kept(Base):
    """What the resources have in common: a document of an outfit, under an id, in a version.

    ``number`` is the order of a list and the key of its pages.
    """

    __abstract__ = True

    # An SQLite table counts by itself only where the key is exactly INTEGER.
    number: Mapped[int] = mapped_column(
        BigInteger().with_variant(Integer(), "sqlite"), primary_key=True, autoincrement=True
    )
    outfit_id: Mapped[str] = mapped_column(ForeignKey("outfits.id"))
    id: Mapped[str] = mapped_column(String(LONGEST_ID))
    version: Mapped[int] = mapped_column(default=1)
    document: Mapped[Document]
    created: Mapped[datetime] = mapped_column(default=now)
    updated: Mapped[datetime] = mapped_column(default=now)
    deleted: Mapped[datetime | None]


def _kept() -> tuple[SchemaItem, ...]:
    return UniqueConstraint("outfit_id", "id"), Index(None, "outfit_id", "number")


def _of(resource: str, *filters: str) -> tuple[SchemaItem, ...]:
    """Belongs to a boat or a rider of the same outfit, and is listed by it.

    ``filters`` are columns that such a list is often asked by, looked at without the wide rows.
    """
    return (
        ForeignKeyConstraint(
            ["outfit_id", f"{resource}_id"], [f"{resource}s.outfit_id", f"{resource}s.id"]
        ),
        Index(None, "outfit_id", f"{resource}_id", "number", *filters),
    )


class Boat(Kept):
    """``evidence`` counts the changes of her calibrations and runs, from which she is learned."""

    __tablename__ = "boats"
    __table_args__ = _kept()

    name: Mapped[str]
    propulsion: Mapped[str]
    evidence: Mapped[int] = mapped_column(default=0, server_default="0")


class BoatVersion(Base):
    """A boat as it once was: what a run of last year was reckoned with."""

    __tablename__ = "boat_versions"
    __table_args__ = (
        ForeignKeyConstraint(["outfit_id", "boat_id"], ["boats.outfit_id", "boats.id"]),
    )

    outfit_id: Mapped[str] = mapped_column(String(LONGEST_ID), primary_key=True)
    boat_id: Mapped[str] = mapped_column(String(LONGEST_ID), primary_key=True)
    version: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    document: Mapped[Document]
    created: Mapped[datetime] = mapped_column(default=now)


class Rider(Kept):
    """A person: no more is kept than the advice needs. ``used`` decides on retention."""

    __tablename__ = "riders"
    __table_args__ = _kept()

    name: Mapped[str | None]
    level: Mapped[str | None]
    used: Mapped[datetime] = mapped_column(default=now)


class Calibration(Kept):
    """What was measured of a boat on one occasion; what it tells is reckoned anew from all."""

    __tablename__ = "calibrations"
    __table_args__ = (*_kept(), *_of("boat"))

    boat_id: Mapped[str] = mapped_column(String(LONGEST_ID))


class Setup(Kept):
    """Settings that worked."""

    __tablename__ = "setups"
    __table_args__ = (*_kept(), *_of("boat"), *_of("rider"))

    boat_id: Mapped[str] = mapped_column(String(LONGEST_ID))
    rider_id: Mapped[str | None] = mapped_column(String(LONGEST_ID))
    rating: Mapped[int | None]


class Run(Kept):
    """What was advised, word for word, and how it rode."""

    __tablename__ = "runs"
    __table_args__ = (
        *_kept(), *_of("boat", "rating"), *_of("rider", "rating"),
        Index(None, "outfit_id", "started", "number"),
        # A boat's log is looked through whenever it has changed: without the wide rows.
        Index("ix_runs_log", "outfit_id", "boat_id", "deleted", "version", "rating", "number"),
    )  # fmt: skip

    boat_id: Mapped[str | None] = mapped_column(String(LONGEST_ID))
    boat_version: Mapped[int | None]
    rider_id: Mapped[str | None] = mapped_column(String(LONGEST_ID))
    rating: Mapped[int | None]
    started: Mapped[datetime]
    rule_set: Mapped[str] = mapped_column(String(64))
    answer: Mapped[Document]
    card: Mapped[str | None]
    log: Mapped[Document | None]
    """What the boat's log reads of it: a small part, since it reads thousands."""


class RunRule(Base):
    """A rule that fired in a kept run; ``overridden``: when it was said not to be followed."""

    __tablename__ = "run_rules"
    __table_args__ = (
        ForeignKeyConstraint(["outfit_id", "run_id"], ["runs.outfit_id", "runs.id"]),
        Index(None, "outfit_id", "rule", "overridden"),
    )

    outfit_id: Mapped[str] = mapped_column(String(LONGEST_ID), primary_key=True)
    run_id: Mapped[str] = mapped_column(String(LONGEST_ID), primary_key=True)
    rule: Mapped[str] = mapped_column(String(100), primary_key=True)
    overridden: Mapped[datetime | None]
    reason: Mapped[str | None]


class LocalRules(Base):
    """An outfit's own values for parameters of the rules, for its fleet and for single boats."""

    __tablename__ = "local_rules"

    outfit_id: Mapped[str] = mapped_column(ForeignKey("outfits.id"), primary_key=True)
    version: Mapped[int]
    document: Mapped[Document]
    updated: Mapped[datetime] = mapped_column(default=now)


class Booking(Kept):
    """A booking under the outfit's own reference, which is its ``id``."""

    __tablename__ = "bookings"
    __table_args__ = (*_kept(), *_of("boat"), Index(None, "outfit_id", "starts"))

    boat_id: Mapped[str | None] = mapped_column(String(LONGEST_ID))
    starts: Mapped[datetime]
    ends: Mapped[datetime]
    answer: Mapped[Document]


class Once(Base):
    """A POST under an ``Idempotency-Key``: claimed, and then with the answer that was given."""

    __tablename__ = "idempotency"

    outfit_id: Mapped[str] = mapped_column(ForeignKey("outfits.id"), primary_key=True)
    route: Mapped[str] = mapped_column(String(LONGEST_ROUTE), primary_key=True)
    key: Mapped[str] = mapped_column(String(255), primary_key=True)
    body_hash: Mapped[str] = mapped_column(String(64))
    claimed: Mapped[datetime]
    expires: Mapped[datetime] = mapped_column(index=True)
    status: Mapped[int | None]
    headers: Mapped[Document | None]
    answer: Mapped[str | None]


class Job(Base):
    """Long work: what was asked, how far it is, and what came of it.

    ``outfit_id`` is null for whoever asked without a key, and then the id is what opens it.
    ``payer`` is whose turn it is among those who wait; ``price`` in seconds of processor time.
    """

    __tablename__ = "jobs"
    __table_args__ = (Index(None, "state", "number"),)

    number: Mapped[int] = mapped_column(
        BigInteger().with_variant(Integer(), "sqlite"), primary_key=True, autoincrement=True
    )
    id: Mapped[str] = mapped_column(String(LONGEST_ID), unique=True)
    outfit_id: Mapped[str | None] = mapped_column(ForeignKey("outfits.id"))
    payer: Mapped[str] = mapped_column(String(64))
    kind: Mapped[str] = mapped_column(String(LONGEST_ROUTE))
    price: Mapped[float]
    state: Mapped[str] = mapped_column(String(16))
    request: Mapped[Document | None]
    answer: Mapped[Document | None]
    fault: Mapped[str | None]
    attempts: Mapped[int] = mapped_column(default=0)
    done: Mapped[int] = mapped_column(default=0)
    total: Mapped[int | None]
    created: Mapped[datetime] = mapped_column(default=now)
    started: Mapped[datetime | None]
    ended: Mapped[datetime | None]
    expires: Mapped[datetime] = mapped_column(index=True)
