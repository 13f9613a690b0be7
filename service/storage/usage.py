"""What an outfit may store, what it has stored, and the counts that tell, kept with each write."""

from __future__ import annotations

import json
from dataclasses import dataclass

from sqlalchemy import ColumnElement, Text, and_, bindparam, cast, func, literal, select, update
from sqlalchemy.orm import Session

from service.storage.tables import (
    Base,
    Boat,
    BoatVersion,
    Booking,
    Calibration,
    Kept,
    Key,
    Once,
    Outfit,
    Rider,
    Run,
    Setup,
)

KINDS: tuple[type[Kept], ...] = (Boat, Rider, Calibration, Setup, Run, Booking)
_WIDE = ("document", "answer", "card", "log")
_TABLE = Base.metadata.tables["outfits"]
_OUTFITS = _TABLE.c
# Run with every write: put together once.
_CHARGE = (
    update(_TABLE)
    .where(_OUTFITS.id == bindparam("outfit"))
    .values(
        rows=_OUTFITS.rows + bindparam("more_rows"), bytes=_OUTFITS.bytes + bindparam("more_bytes")
    )
    .returning(_OUTFITS.rows, _OUTFITS.bytes)
)


@dataclass(frozen=True, slots=True)
class Quotas:
    """The most an outfit may store, and the readings of one boat that are fitted together.

    ``rows``: documents and keys. ``bytes``: of all documents and what was answered to them, with
    earlier versions of boats, what was deleted and is kept for the history, and the answers that
    are kept for a day to be given again.
    """

    rows: int = 200_000
    bytes: int = 1_000_000_000
    readings: int = 1_000


class QuotaError(ValueError):
    """The outfit would have more of ``kind`` than its quota ``most``; it has ``used``."""

    def __init__(self, kind: str, most: int, used: int) -> None:
        self.kind, self.most, self.used = kind, most, used
        super().__init__(f"{used} of {most} {kind}")


def quotas_of(session: Session) -> Quotas:
    """The quotas of the store that the session writes in."""
    found: Quotas = session.info.get("quotas") or Quotas()
    return found


def charge(session: Session, outfit: str, rows: int, bytes_: int) -> None:
    """Counts a write; :class:`QuotaError` for one that adds what the quota does not allow.

    Exact also where several write at once: the statement locks the outfit until they commit.
    """
    more = {"outfit": outfit, "more_rows": rows, "more_bytes": bytes_}
    used = session.execute(_CHARGE, more).one()
    quotas = quotas_of(session)
    if rows > 0 and used.rows > quotas.rows:
        raise QuotaError("rows", quotas.rows, used.rows - rows)
    if bytes_ > 0 and used.bytes > quotas.bytes:
        raise QuotaError("bytes", quotas.bytes, used.bytes - bytes_)


def size_of(row: Kept) -> int:
    """Bytes that a row takes in the store, as :func:`size` counts them there."""
    values = [getattr(row, name, None) for name in _WIDE]
    return sum(
        len(value) if isinstance(value, str) else len(json.dumps(value))
        for value in values
        if value is not None
    )


def size(session: Session, row: type[Kept], *where: ColumnElement[bool]) -> int:
    """Bytes that the rows take in the store, without indexes."""
    return int(session.scalar(select(func.coalesce(func.sum(_size_of(row)), 0)).where(*where)) or 0)


def recount(session: Session, outfit: str) -> None:
    """Counts again what the outfit has stored: after a change of many rows at once."""
    rows = session.scalar(select(func.count()).where(Key.outfit_id == outfit)) or 0
    versions = func.coalesce(func.sum(func.length(cast(BoatVersion.document, Text))), 0)
    bytes_ = int(session.scalar(select(versions).where(BoatVersion.outfit_id == outfit)) or 0)
    answers = func.coalesce(func.sum(func.length(Once.answer)), 0)
    bytes_ += int(session.scalar(select(answers).where(Once.outfit_id == outfit)) or 0)
    for kind in KINDS:
        live = and_(kind.outfit_id == outfit, kind.deleted.is_(None))
        rows += session.scalar(select(func.count()).select_from(kind).where(live)) or 0
        bytes_ += size(session, kind, kind.outfit_id == outfit)
    session.execute(
        update(Outfit)
        .where(Outfit.id == outfit)
        .values(rows=rows, bytes=bytes_)
        .execution_options(synchronize_session=False)
    )


def _size_of(row: type[Kept]) -> ColumnElement[int]:
    wide = [getattr(row, name) for name in _WIDE if hasattr(row, name)]
    total: ColumnElement[int] = literal(0)
    for column in wide:
        total = total + func.coalesce(func.length(cast(column, Text)), 0)
    return total
