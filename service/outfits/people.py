"""Personal data: what is kept of a rider can be had, and can be taken away for good.

What stays when a rider is erased is the boat's: set-ups and how they rode, without the person.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from typing import Any, TypeVar

from sqlalchemy import ColumnElement, Text, cast, delete, or_, select, update
from sqlalchemy.orm import Session

from service.outfits.ids import without_rider
from service.storage import feedback, usage
from service.storage.documents import NotStoredError, count_evidence, hold
from service.storage.tables import Booking, Job, Kept, Once, Outfit, Rider, Run, Setup, now

ABOUT_THE_BOAT = ("verdict", "boat", "setup", "predicted", "rule_set", "units")
"""Members of an answer that stay: reasons, cautions and accounts tell of the rider.

Of the seats it stays how many sat there, not who they were nor what they weigh.
"""

RowT = TypeVar("RowT", bound=Kept)


def used(session: Session, outfit: str, rider_ids: Iterable[str]) -> None:
    """Notes that these riders were needed just now; retention counts from here.

    :class:`NotStoredError` for one who is gone by now: nothing is kept of someone who was erased
    since the id was looked up.
    """
    hold(session, outfit)
    for rider_id in sorted({*rider_ids}):
        noted = session.execute(
            update(Rider)
            .where(Rider.outfit_id == outfit, Rider.id == rider_id, Rider.deleted.is_(None))
            .values(used=now())
            .returning(Rider.number)
        ).scalar()
        if noted is None:
            raise NotStoredError("rider", rider_id)


def export(session: Session, outfit: str, rider_id: str) -> dict[str, Any]:
    """All that is kept of a rider, deleted or not (metric); :class:`NotStoredError` if nothing."""
    rider = _rider(session, outfit, rider_id)
    return {
        "rider": _whole(rider),
        "setups": [_whole(row) for row in _naming(session, Setup, rider)],
        "runs": [{**_whole(row), "answer": row.answer} for row in _naming(session, Run, rider)],
        "bookings": [_whole(row) for row in _naming(session, Booking, rider)],
    }


def erase(session: Session, outfit: str, rider_id: str) -> None:
    """Takes the person out of everything that is kept; :class:`NotStoredError` if there is none.

    An advice goes also where the person was one of the crew: what one weighs can be told from a
    sum and the others.
    """
    hold(session, outfit)
    rider = _rider(session, outfit, rider_id)
    for setup in _naming(session, Setup, rider):
        if setup.rider_id == rider_id:
            setup.document, setup.rider_id = _without(setup.document, "notes"), None
        _changed(setup, rider_id)
    for run in _naming(session, Run, rider):
        if run.rider_id == rider_id:
            run.document, run.rider_id = _without(run.document, "notes", "overridden"), None
            feedback.forget(session, outfit, run.id)
        run.answer = _of_the_boat(run.answer)
        run.card = run.log = None
        _changed(run, rider_id)
        _forget_answers(session, outfit, Once.route.contains(f"/{run.id}/", autoescape=True))
        if run.boat_id is not None:
            count_evidence(session, outfit, run.boat_id)
    for booking in _naming(session, Booking, rider):
        booking.answer = booking.answer | {"summary": "", "reasons": [], "missing": []}
        _changed(booking, rider_id)
    _forget_answers(session, outfit, Once.answer.contains(f'"{rider_id}"', autoescape=True))
    # Nobody knows any more whom an answer was about. Of those to come the body is text within JSON,
    # so a quote has a backslash before it there.
    named = cast(Job.request, Text).contains(f'"{rider_id}\\', autoescape=True)
    of = (Job.outfit_id == outfit, or_(Job.ended.is_not(None), named))
    session.execute(delete(Job).where(*of))
    session.flush()
    session.execute(delete(Rider).where(Rider.number == rider.number))
    usage.recount(session, outfit)


def sweep(session: Session, at: datetime) -> int:
    """Erases the riders whom their outfit has not needed for as long as it keeps them; how many.

    Who is booked to ride yet is needed.
    """
    erased = 0
    outfits = session.scalars(select(Outfit).where(Outfit.retention_days.is_not(None))).all()
    for outfit in outfits:
        since = at - timedelta(days=outfit.retention_days or 0)
        query = select(Rider.id).where(Rider.outfit_id == outfit.id, Rider.used < since)
        hold(session, outfit.id)
        for rider_id in session.scalars(query).all():
            if not _booked(session, _rider(session, outfit.id, rider_id), at):
                erase(session, outfit.id, rider_id)
                erased += 1
    return erased


def _booked(session: Session, rider: Rider, at: datetime) -> bool:
    bookings = _naming(session, Booking, rider)
    return any(booking.deleted is None and booking.ends > at for booking in bookings)


def _forget_answers(session: Session, outfit: str, of: ColumnElement[bool]) -> None:
    """Answers kept under an Idempotency-Key: that there was one stays, so nothing is made twice."""
    values = {"answer": None, "headers": None}
    session.execute(update(Once).where(Once.outfit_id == outfit, of).values(values))


def _rider(session: Session, outfit: str, rider_id: str) -> Rider:
    found = session.scalar(select(Rider).where(Rider.outfit_id == outfit, Rider.id == rider_id))
    if found is None:
        raise NotStoredError("rider", rider_id)
    return found


def _naming(session: Session, row: type[RowT], rider: Rider) -> list[RowT]:
    """The documents that name the rider, or tell what the id stood for."""
    # The database finds the word, whatever it stands for there; the document itself decides.
    word = cast(row.document, Text).contains(f'"{rider.id}"', autoescape=True)
    query = select(row).where(row.outfit_id == rider.outfit_id, word).order_by(row.number)
    query = query.execution_options(populate_existing=True)  # as it stands with the hold
    return [
        found
        for found in session.scalars(query)
        if without_rider(found.document, rider.id) != found.document
    ]


def _whole(row: Kept) -> dict[str, Any]:
    return {"id": row.id, "created": row.created.isoformat(), **row.document}


def _of_the_boat(answer: Mapping[str, Any]) -> dict[str, Any]:
    left = {name: answer[name] for name in ABOUT_THE_BOAT if name in answer}
    if "setup" in left:
        seating = [_without(group, "mass", "name") for group in left["setup"]["seating"]]
        left["setup"] = left["setup"] | {"seating": seating}
    return left


def _without(document: Mapping[str, Any], *names: str) -> dict[str, Any]:
    return {name: value for name, value in document.items() if name not in names}


def _changed(row: Kept, rider_id: str) -> None:
    row.document = without_rider(row.document, rider_id)
    row.version += 1
    row.updated = now()
