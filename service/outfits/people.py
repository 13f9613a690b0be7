"""Personal data: what is kept of a rider can be had, and can be taken away for good.

What stays when a rider is erased is the boat's: set-ups and how they rode, without the person.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any, TypeVar

from sqlalchemy import Text, cast, delete, select, update
from sqlalchemy.orm import Session

from service.storage import feedback
from service.storage.documents import NotStoredError
from service.storage.tables import Booking, Kept, Once, Outfit, Rider, Run, Setup, now

ABOUT_THE_BOAT = ("verdict", "boat", "setup", "predicted", "rule_set", "units")
"""Members of an answer that stay: reasons, cautions and accounts tell of the rider."""

RowT = TypeVar("RowT", bound=Kept)


def used(session: Session, outfit: str, rider_id: str | None) -> None:
    """Notes that the rider was needed just now; retention counts from here."""
    if rider_id is not None:
        session.execute(
            update(Rider).where(Rider.outfit_id == outfit, Rider.id == rider_id).values(used=now())
        )


def export(session: Session, outfit: str, rider_id: str) -> dict[str, Any]:
    """All that is kept of a rider, deleted or not (metric); :class:`NotStoredError` if nothing."""
    rider = _rider(session, outfit, rider_id)
    return {
        "rider": _whole(rider),
        "setups": [_whole(row) for row in _of(session, Setup, rider)],
        "runs": [{**_whole(row), "answer": row.answer} for row in _of(session, Run, rider)],
        "bookings": [_whole(row) for row in _bookings(session, rider)],
    }


def erase(session: Session, outfit: str, rider_id: str) -> None:
    """Takes the person out of everything that is kept; :class:`NotStoredError` if there is none."""
    rider = _rider(session, outfit, rider_id)
    for setup in _of(session, Setup, rider):
        setup.document = _without(setup.document, "rider", "notes")
        _changed(setup)
    for run in _of(session, Run, rider):
        request = _without(run.document["request"], "rider")
        run.document = {**_without(run.document, "notes", "overridden"), "request": request}
        feedback.forget(session, outfit, run.id)
        run.answer = {name: run.answer[name] for name in ABOUT_THE_BOAT if name in run.answer}
        run.card = run.log = None
        _changed(run)
    for booking in _bookings(session, rider):
        riders = [entry for entry in booking.document["riders"] if entry != rider_id]
        booking.document = {**booking.document, "riders": riders}
        booking.answer = booking.answer | {"summary": "", "reasons": [], "missing": []}
        _changed(booking)
    # Answers kept under an Idempotency-Key: that there was one stays, so nothing is made twice.
    session.execute(
        update(Once)
        .where(Once.outfit_id == outfit, Once.answer.contains(f'"{rider_id}"', autoescape=True))
        .values(answer=None, headers=None)
    )
    session.flush()
    session.execute(delete(Rider).where(Rider.number == rider.number))


def sweep(session: Session, at: datetime) -> int:
    """Erases the riders whom their outfit has not needed for as long as it keeps them; how many."""
    erased = 0
    outfits = session.scalars(select(Outfit).where(Outfit.retention_days.is_not(None))).all()
    for outfit in outfits:
        since = at - timedelta(days=outfit.retention_days or 0)
        query = select(Rider.id).where(Rider.outfit_id == outfit.id, Rider.used < since)
        for rider_id in session.scalars(query).all():
            erase(session, outfit.id, rider_id)
            erased += 1
    return erased


def _rider(session: Session, outfit: str, rider_id: str) -> Rider:
    found = session.scalar(select(Rider).where(Rider.outfit_id == outfit, Rider.id == rider_id))
    if found is None:
        raise NotStoredError("rider", rider_id)
    return found


def _of(session: Session, row: type[RowT], rider: Rider) -> list[RowT]:
    mine: Any = row
    query = select(row).where(row.outfit_id == rider.outfit_id, mine.rider_id == rider.id)
    return list(session.scalars(query.order_by(row.number)))


def _bookings(session: Session, rider: Rider) -> list[Booking]:
    # A booking may name several riders; so they are looked for in its document.
    named = cast(Booking.document, Text).contains(f'"{rider.id}"', autoescape=True)
    query = select(Booking).where(Booking.outfit_id == rider.outfit_id, named)
    return [
        booking
        for booking in session.scalars(query.order_by(Booking.number))
        if rider.id in booking.document.get("riders", ())
    ]


def _whole(row: Kept) -> dict[str, Any]:
    return {"id": row.id, "created": row.created.isoformat(), **row.document}


def _without(document: Mapping[str, Any], *names: str) -> dict[str, Any]:
    return {name: value for name, value in document.items() if name not in names}


def _changed(row: Kept) -> None:
    row.version += 1
    row.updated = now()
    if isinstance(row, Setup | Run):
        row.rider_id = None
