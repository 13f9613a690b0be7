"""``/v1/bookings``: put as often as one likes under one's own reference."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, time, timedelta
from operator import attrgetter
from typing import Any
from zoneinfo import ZoneInfo

from flask import Response, current_app, request, url_for
from marshmallow import RAISE, Schema, ValidationError, fields
from werkzeug.exceptions import Conflict

from schemas import booking_answer, booking_sheet
from schemas import error_texts as say
from schemas.bookings import BookingFilterSchema, BookingSchema
from schemas.stored import UnitsQuerySchema, system_of
from schemas.units import System, using
from service.api import accept, etag, metrics, paging
from service.api.accept import HTML, JSON, TEXT, media_type, offers
from service.api.auth import needs, principal
from service.api.body import Blueprint, read
from service.api.booking_desk import Desk, party_of, shown, time_zone, zone_of
from service.api.rulebase import rules_for
from service.api.stored import AsFarAsKept, StoredBoats, StoredRiders, StoredSetups, the_store
from service.bookings import register
from service.bookings.sheet import prepare
from service.outfits.keys import Scope
from service.pages.bookings import Line, day_sheet, preparation_sheet
from service.storage.documents import Shelf, hold
from service.storage.tables import Booking


class BookingListSchema(paging.PageSchema, UnitsQuerySchema, BookingFilterSchema):
    """Which bookings, and which part of them."""

    def by_time(self, asked: Mapping[str, Any]) -> bool:
        return "date" in asked


def blueprint(boats: StoredBoats, riders: StoredRiders, setups: StoredSetups) -> Blueprint:
    """The resource; these are where ids are looked up."""
    resource = Blueprint(
        "bookings", __name__, url_prefix="/v1", description="Bookings under one's own reference."
    )
    schema = BookingSchema(riders)
    _one(resource, boats, schema)
    _sheet(resource, boats, setups, BookingSchema(AsFarAsKept(riders)))
    _all(resource, schema)
    return resource


def _one(resource: Blueprint, boats: StoredBoats, schema: BookingSchema) -> None:
    def response(row: Booking, system: System, status: int = 200) -> Response:
        body = current_app.json.dumps(shown(row, schema, system))
        made = Response(body, status, mimetype=JSON)
        return etag.put_on(made, row.version, system)

    @resource.route("/bookings/<reference>", methods=["PUT"])
    @resource.arguments(schema)
    @resource.arguments(etag.IfMatchSchema(), location="headers")
    @resource.response(200, schema)
    @resource.alt_response(201, schema=schema, description="It is new.")
    @needs(Scope.WRITE)
    def put(loaded: dict[str, Any], _headers: dict[str, Any], reference: str) -> Response:
        """Book, or book anew: does the party fit, on which boat, and if not, why?

        The same as often as one likes. `If-Match` is minded where it is sent, and not needed;
        with `If-None-Match: *` only a new one is kept.
        """
        sent = read(request)
        _check_reference(schema, reference, sent)
        desk = Desk(boats, schema)
        desk.warm(loaded)
        with the_store().writing() as session:
            hold(session, principal().outfit)
            before = register.earlier(session, principal().outfit, reference)
            version = None if before is None or before.deleted else before.version
            etag.check(version, required=False)
            row, new = desk.take(session, reference, sent, loaded)
            made = response(row, system_of(sent), 201 if new else 200)
        if new:
            made.headers["Location"] = url_for("bookings.read_one", reference=row.id)
        return made

    @resource.route("/bookings/<reference>")
    @resource.arguments(UnitsQuerySchema(), location="query", unknown=RAISE)
    @resource.response(200, schema)
    @needs(Scope.READ)
    def read_one(asked: dict[str, Any], reference: str) -> Response:
        """One booking with its answer."""
        made = response(_find(reference), asked["units"])
        made.make_conditional(request)
        return made

    @resource.route("/bookings/<reference>", methods=["DELETE"])
    @resource.arguments(etag.IfMatchSchema(), location="headers")
    @resource.response(204)
    @needs(Scope.WRITE)
    def cancel(_headers: dict[str, Any], reference: str) -> Response:
        """Cancel a booking; its boat is free again. `If-Match` is minded where it is sent."""
        with the_store().writing() as session:
            hold(session, principal().outfit)
            shelf = Shelf(session, Booking, principal().outfit)
            row = shelf.find(reference)
            etag.check(row.version, required=False)
            shelf.remove(reference, row.version)
        return Response(status=204)


def _sheet(
    resource: Blueprint, boats: StoredBoats, setups: StoredSetups, schema: BookingSchema
) -> None:
    @resource.route("/bookings/<reference>/sheet")
    @resource.arguments(UnitsQuerySchema(), location="query", unknown=RAISE)
    @resource.response(200, booking_sheet.BookingSheetSchema())
    @offers(JSON, TEXT, HTML)
    @needs(Scope.READ)
    def read_sheet(asked: dict[str, Any], reference: str) -> Response:
        """What to prepare, on the boat as it is now.

        A rider who was deleted since is reckoned as someone of whom nothing was told: `kept` is
        false there, and `check` says what is taken instead.
        """
        row, system = _find(reference), asked["units"]
        if row.boat_id is None:
            raise Conflict(say.ON_NO_BOAT)
        with using(System.METRIC):
            party = party_of(schema.load(row.document))
        boat = boats.find(row.boat_id)
        own = {
            number: setups.of_rider(rider.id, boat.id)
            for number, rider in enumerate(party.riders)
            if rider.id is not None
        }
        named = enumerate(row.document.get("riders", ()))
        gone = [n for n, rider in named if isinstance(rider, str) and party.riders[n].id is None]
        found = prepare(boat, party, rules_for(boat), own, gone)
        for turn in found.turns:
            metrics.advised(turn.advice)
        zone = zone_of(row.document, time_zone())
        starts, ends = row.starts.astimezone(zone), row.ends.astimezone(zone)
        data = booking_sheet.sheet(
            found, shown(row, schema, system), starts, ends, party.people + party.staff, system
        )
        summary = str(row.answer.get("summary", ""))
        match media_type():
            case accept.TEXT:
                written = booking_sheet.as_text(data, starts, ends, summary)
            case accept.HTML:
                written = preparation_sheet(data, starts, ends, summary)
            case _:
                written = current_app.json.dumps(data)
        return Response(written, mimetype=media_type())


def _all(resource: Blueprint, schema: BookingSchema) -> None:
    page_schema = Schema.from_dict(
        {
            "items": fields.List(fields.Nested(schema), required=True),
            "next": fields.String(required=True, allow_none=True),
        },
        name="BookingPage",
    )()

    @resource.route("/bookings")
    @resource.arguments(BookingListSchema(), location="query", unknown=RAISE)
    @resource.response(200, page_schema)
    @offers(JSON, TEXT, HTML)
    @needs(Scope.READ)
    def read_all(asked: dict[str, Any]) -> Response:
        """With `date` those of that day by time, else all as they came; in pages.

        As text or HTML a day is the day sheet of the dock: whole, whatever the limit.
        """
        system, limit, day, zone = asked["units"], asked["limit"], asked.get("date"), time_zone()
        at = None if day is None else attrgetter("starts")
        rows = _as_they_came(asked) if day is None else _of_day(asked, zone)
        if day is not None:
            limit = limit if media_type() == JSON else len(rows)
        shown_rows = [shown(row, schema, system) for row in rows[:limit]]
        if media_type() == JSON:
            return paging.page(rows, shown_rows, limit, at)
        lines = [
            Line(each, *(moment.astimezone(own) for moment in (row.starts, row.ends)))
            for each, row in zip(shown_rows, rows, strict=False)
            for own in [zone_of(row.document, zone)]
        ]
        text = day_sheet(lines, day) if media_type() == HTML else _as_text(lines)
        made = Response(text, mimetype=media_type())
        return paging.linked(made, paging.following(rows, limit, at))


def _as_they_came(asked: Mapping[str, Any]) -> Sequence[Booking]:
    where = [] if "boat" not in asked else [Booking.boat_id == asked["boat"]]
    mark = asked["after"]
    with the_store().reading() as session:
        shelf = Shelf(session, Booking, principal().outfit)
        number = 0 if mark is None else shelf.number(mark.row_id, mark.created)
        return shelf.page(asked["limit"] + 1, number, where)


def _of_day(asked: Mapping[str, Any], zone: ZoneInfo) -> Sequence[Booking]:
    since = datetime.combine(asked["date"], time(), zone)
    until = datetime.combine(asked["date"] + timedelta(days=1), time(), zone)
    limit, after = None, None
    with the_store().reading() as session:
        if media_type() == JSON:
            limit, mark = asked["limit"] + 1, asked["after"]
            if mark is not None:
                shelf = Shelf(session, Booking, principal().outfit)
                after = (mark.moment, shelf.number(mark.row_id, mark.created))
        return register.of_day(
            session, principal().outfit, since, until, asked.get("boat"), limit, after
        )


def _check_reference(schema: BookingSchema, reference: str, sent: Mapping[str, Any]) -> None:
    try:
        schema.fields["id"].deserialize(reference)
    except ValidationError as error:
        raise ValidationError({"id": error.messages}) from None
    if sent.get("id") not in (None, reference):
        raise ValidationError({"id": [say.NOT_THE_REFERENCE]})


def _find(reference: str) -> Booking:
    with the_store().reading() as session:
        return Shelf(session, Booking, principal().outfit).find(reference)


def _as_text(lines: Sequence[Line]) -> str:
    written = [booking_answer.line(line.booking, line.starts, line.ends) for line in lines]
    return "\n".join(written or ["No bookings."]) + "\n"
