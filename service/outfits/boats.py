"""Boats that are kept and cannot be driven as they stand."""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.boats.model import SeatRole
from service.storage.tables import Boat


def without_drivers_seat(session: Session) -> Iterator[tuple[str, str]]:
    """Outfit and id of each boat of every outfit in which no seat is the driver's."""
    query = select(Boat.outfit_id, Boat.id, Boat.document).where(Boat.deleted.is_(None))
    for row in session.execute(query.order_by(Boat.outfit_id, Boat.number)):
        seats = row.document.get("seats") or ()
        if not any(seat.get("role") == SeatRole.DRIVER for seat in seats):
            yield row.outfit_id, row.id
