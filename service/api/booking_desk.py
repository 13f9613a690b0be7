"""Takes a booking: what the API knows of it, put together for the use case."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime, timedelta, tzinfo
from typing import Any
from zoneinfo import ZoneInfo

from flask import url_for
from marshmallow import Schema, ValidationError
from sqlalchemy.orm import Session

from schemas import booking_answer, stored
from schemas import error_texts as say
from schemas.bookings import BookingSchema
from schemas.stored import document_of, system_of
from schemas.units import System
from service.api import metrics
from service.api.auth import principal
from service.api.rulebase import rules_for
from service.api.stored import StoredBoats, the_store
from service.boats.model import Boat
from service.bookings import register
from service.bookings.fit import ANY, Answer, Busy, Fit, Party, choose, fit
from service.bookings.register import Entry
from service.outfits import people
from service.storage.documents import NotStoredError
from service.storage.tables import Booking, Outfit

UNSET_ZONE = "UTC"
"""An outfit's time zone until it sets one."""


class Desk:
    """Takes bookings for one request: what was reckoned once for it is not reckoned again."""

    def __init__(self, boats: StoredBoats, schema: BookingSchema) -> None:
        self.schema = schema
        self._fits: dict[Any, Fit] = {}
        self._boats = boats.every()
        if not self._boats:
            raise ValidationError({"boat": [say.NO_BOATS]})
        self.zone = time_zone()

    def take(
        self, session: Session, reference: str, sent: Mapping[str, Any], loaded: Mapping[str, Any]
    ) -> tuple[Booking, bool]:
        """Keeps a booking whose body the schema has loaded; whether it is new, too."""
        party, system = party_of(loaded), system_of(sent)
        if loaded["boat"] != ANY and loaded["boat"] not in {boat.id for boat in self._boats}:
            raise NotStoredError("boat", loaded["boat"])
        document = document_of(sent, self.schema)
        entry = Entry(reference, document, party.starts, party.ends)

        def chosen(busy: Busy, before: str | None) -> Answer:
            found = choose(
                self._boats,
                loaded["boat"],
                busy,
                party,
                lambda boat: self._fit(boat, party),
                before,
            )
            metrics.booked(found)
            return found

        riders = [each for each in document.get("riders", ()) if isinstance(each, str)]
        people.used(session, principal().outfit, riders)
        return register.keep(
            session,
            principal().outfit,
            entry,
            chosen,
            lambda found: booking_answer.answer(found, party, system, zone_of(sent, self.zone)),
        )

    def warm(self, loaded: Mapping[str, Any]) -> None:
        """Reckons what :meth:`take` will most likely need, while no lock is held."""
        party = party_of(loaded)
        if loaded["boat"] in {ANY, *(boat.id for boat in self._boats)}:
            choose(self._boats, loaded["boat"], {}, party, lambda boat: self._fit(boat, party))

    def _fit(self, boat: Boat, party: Party) -> Fit:
        same = (boat.id, party.masses, party.staff, party.riders, party.water, party.fuel)
        if same not in self._fits:
            self._fits[same] = fit(boat, party, rules_for(boat))
        return self._fits[same]


def party_of(loaded: Mapping[str, Any]) -> Party:
    """The party of a booking that the schema has loaded."""
    guests = loaded["party"]
    masses = (None,) * guests if isinstance(guests, int) else tuple(g["mass"] for g in guests)
    return Party(
        starts=loaded["start"],
        ends=loaded["start"] + timedelta(seconds=loaded["duration"]),
        masses=masses,
        staff=loaded["staff"],
        riders=tuple(
            rider if rider.level is not None else replace(rider, level=loaded["level"])
            for rider in loaded["riders"]
        ),
        water=loaded["water"],
        fuel=loaded["fuel"],
    )


def shown(row: Booking, schema: Schema, system: System) -> dict[str, Any]:
    """A booking as it is answered."""
    sheet = url_for("bookings.read_sheet", reference=row.id) if row.answer.get("fits") else None
    notice = booking_answer.notice(row.starts, row.updated)
    return {
        "id": row.id,
        "version": row.version,
        "created": row.created.isoformat(),
        "updated": row.updated.isoformat(),
        "units": system.value,
        **stored.written(row.document, schema, system),
        "answer": {**row.answer, "notice": notice, "sheet": sheet} if row.answer else None,
    }


def zone_of(booking: Mapping[str, Any], outfits: ZoneInfo) -> tzinfo:
    """What times of a booking are told in: the outfit's time zone.

    While that is UTC, as it is until it is set, the offset that came with the booking.
    """
    if outfits.key != UNSET_ZONE:
        return outfits
    return datetime.fromisoformat(booking["start"]).tzinfo or outfits


def time_zone() -> ZoneInfo:
    """That of the outfit."""
    with the_store().reading() as session:
        return ZoneInfo(session.get_one(Outfit, principal().outfit).time_zone)
