"""Bookings in the store: kept under the outfit's own reference, each boat out once at a time."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import and_, or_, select
from sqlalchemy.orm import Session

from service.bookings.fit import Answer, Busy
from service.storage import usage
from service.storage.documents import hold
from service.storage.tables import Booking, Document, now


@dataclass(frozen=True, slots=True)
class Entry:
    """A booking to be kept, as it was sent (metric), and when it is."""

    reference: str
    document: Document
    starts: datetime
    ends: datetime


def busy(session: Session, outfit: str, entry: Entry) -> Busy:
    """When the outfit's boats are out meanwhile, the booking itself left aside."""
    rows = session.execute(
        select(Booking.boat_id, Booking.starts, Booking.ends).where(
            Booking.outfit_id == outfit,
            Booking.deleted.is_(None),
            Booking.boat_id.is_not(None),
            Booking.id != entry.reference,
            Booking.starts < entry.ends,
            Booking.ends > entry.starts,
        )
    )
    found: dict[str, list[tuple[datetime, datetime]]] = defaultdict(list)
    for boat_id, starts, ends in rows:
        found[str(boat_id)].append((starts, ends))
    return found


def earlier(session: Session, outfit: str, reference: str) -> Booking | None:
    """The booking under this reference, cancelled or not.

    Who is going to change it has the outfit's hold already: what was read before is out of date.
    """
    return session.scalar(
        select(Booking).where(Booking.outfit_id == outfit, Booking.id == reference)
    )


def keep(
    session: Session,
    outfit: str,
    entry: Entry,
    choose: Callable[[Busy, str | None], Answer],
    written: Callable[[Answer], dict[str, Any]],
) -> tuple[Booking, bool]:
    """The booking as it is kept now, and whether it is new.

    One booking of an outfit is decided at a time, so no boat goes out twice. One that is sent
    again and comes to the same answer is left as it is, in the same version.
    """
    hold(session, outfit)
    row = earlier(session, outfit, entry.reference)
    had = row.boat_id if row is not None and row.deleted is None else None
    found = choose(busy(session, outfit, entry), had)
    values: dict[str, Any] = {
        "document": entry.document,
        "starts": entry.starts,
        "ends": entry.ends,
        "boat_id": found.fit.boat.id if found.fit.fits else None,
        "answer": written(found),
        "deleted": None,
    }
    if row is None:
        row = Booking(outfit_id=outfit, id=entry.reference, version=1, **values)
        session.add(row)
        session.flush()
        usage.charge(session, outfit, 1, usage.size_of(row))
        return row, True
    new = row.deleted is not None
    if any(getattr(row, name) != value for name, value in values.items()):
        before = usage.size_of(row)
        for name, value in values.items():
            setattr(row, name, value)
        row.version += 1
        row.updated = now()
        session.flush()
        usage.charge(session, outfit, int(new), usage.size_of(row) - before)
    return row, new


def of_day(
    session: Session, outfit: str, since: datetime, until: datetime, boat: str | None,
    limit: int | None = None, after: tuple[datetime, int] | None = None,
) -> Sequence[Booking]:  # fmt: skip
    """The bookings that start in a span of time, by their start and then as they came.

    At most ``limit``, beginning after the start and the number of one of them.
    """
    query = select(Booking).where(
        Booking.outfit_id == outfit,
        Booking.deleted.is_(None),
        Booking.starts >= since,
        Booking.starts < until,
    )
    if boat is not None:
        query = query.where(Booking.boat_id == boat)
    if after is not None:
        starts, number = after
        later = and_(Booking.starts == starts, Booking.number > number)
        query = query.where(or_(Booking.starts > starts, later))
    query = query.order_by(Booking.starts, Booking.number).limit(limit)
    return session.scalars(query).all()
