"""A booking, as the outfit's own system sends it, and what is answered."""

from __future__ import annotations

from datetime import date
from typing import Any

from marshmallow import Schema, ValidationError, fields, post_load, validates_schema

from schemas import error_texts as say
from schemas import plain
from schemas.advice_request import RiderSchema
from schemas.fields import Choice, Count, Either, Flag, Identifier, Quantity
from schemas.known import KnownRider, Riders
from schemas.record import InputSchema
from schemas.request import MOST_PEOPLE, UnitsSchema, WaterSchema
from schemas.stored import StoredSchema, When
from schemas.units import Dimension
from service.advice.requests import Level, Water
from service.bookings.fit import ANY

MOST_RIDERS = 40
MOST_BOOKINGS = 500


class GuestSchema(InputSchema):
    """Someone who comes."""

    mass = Quantity(Dimension.MASS, 3, 250, load_default=None)


class BookingReasonSchema(Schema):
    """Why not, or not quite."""

    code = plain.String(required=True)
    text = plain.String(required=True, metadata={"description": "For a customer."})


class BookingMissingSchema(Schema):
    """What is not known."""

    pointer = plain.String(required=True, metadata={"description": "JSON Pointer (RFC 6901)."})
    text = plain.String(required=True)


class BookingAnswerSchema(Schema):
    """Whether the party fits, on which boat, and why not."""

    fits = plain.Boolean(required=True)
    boat = plain.String(
        required=True, allow_none=True, metadata={"description": "Id of the boat it is on."}
    )
    summary = plain.String(required=True, metadata={"description": "One sentence for a customer."})
    reasons = plain.List(plain.Nested(BookingReasonSchema()), required=True)
    most = fields.Integer(
        required=True,
        allow_none=True,
        metadata={"description": "Guests that this boat takes with full tanks."},
    )
    missing = plain.List(plain.Nested(BookingMissingSchema()), required=True)
    notice = plain.String(
        required=True,
        allow_none=True,
        metadata={"description": "That it had begun when it was last told; else null."},
    )
    sheet = plain.String(
        required=True, allow_none=True, metadata={"description": "Address of the sheet."}
    )


class BookingSchema(StoredSchema):
    """A booking. It keeps no names: its reference leads to them in the outfit's own system."""

    def __init__(self, riders: Riders, **kwargs: Any) -> None:
        self.riders = riders  # type: ignore[assignment]
        super().__init__(**kwargs)

    id = Identifier(
        load_default=None, metadata={"description": "The reference; needed only in a batch."}
    )
    boat = Identifier(
        load_default=ANY,
        metadata={"description": 'Id of a boat, or "any" for the smallest that does.'},
    )
    start = When(required=True, metadata={"description": "With its offset from UTC."})
    duration = Quantity(
        Dimension.TIME, 5, 1440, required=True, metadata={"examples": ["120 min", "2 h"]}
    )
    party = Either(
        {
            int: Count(1, MOST_PEOPLE),
            list: plain.List(plain.Nested(GuestSchema()), validate=plain.Length(1, MOST_PEOPLE)),
        },
        say.GUESTS_FORM,
        required=True,
        metadata={"description": "The guests, the riders among them: how many, or each one."},
    )
    staff = Count(
        0, 10, load_default=0, metadata={"description": "The outfit's own people who go along."}
    )
    # marshmallow takes fields out of the class, so self.riders stays where ids are looked up.
    riders = plain.List(
        Either(
            {str: KnownRider(), dict: plain.Nested(RiderSchema())},
            say.RIDER_FORM,
        ),
        load_default=list,
        validate=plain.Length(max=MOST_RIDERS),
        metadata={"description": "Who of the guests rides: ids, or riders."},
    )
    level = Choice(
        Level, load_default=None, metadata={"description": "Of riders whose own was not told."}
    )
    water = plain.Nested(WaterSchema(), load_default=Water)
    fuel = Quantity(Dimension.PERCENT, 0, 100, load_default=None)
    answer = plain.Nested(BookingAnswerSchema(), dump_only=True)

    @validates_schema
    def _riders_are_guests(self, data: dict[str, Any], **_: Any) -> None:
        guests = data["party"] if isinstance(data["party"], int) else len(data["party"])
        if len(data["riders"]) > guests:
            raise ValidationError({"riders": [say.MORE_RIDE_THAN_COME]})

    @post_load
    def _dict(self, data: dict[str, Any], **_: Any) -> dict[str, Any]:
        return data


class BatchSchema(UnitsSchema):
    """Bookings of a day, at most 500. Each is done by itself unless ``atomic``."""

    atomic = Flag(
        load_default=False,
        metadata={"description": "All or nothing: a fault in one, and none is kept (422)."},
    )
    bookings = plain.List(
        plain.Dict(),
        required=True,
        validate=plain.Length(1, MOST_BOOKINGS),
        metadata={
            "description": "Bookings as for `PUT`, each with its reference as `id`; what names no "
            "units is in those of the batch."
        },
    )


class BatchResultSchema(Schema):
    """What became of one booking."""

    id = plain.String(required=True, allow_none=True)
    status = fields.Integer(required=True, metadata={"description": "As of a `PUT` of it."})
    booking = plain.Dict(metadata={"description": "If it was kept."})
    problem = plain.Dict(metadata={"description": "If it was not (RFC 9457)."})


class BatchAnswerSchema(Schema):
    """What became of each, in their order. As JSON lines: one result a line."""

    results = plain.List(plain.Nested(BatchResultSchema()), required=True)


class Day(plain.Date):
    """A day on which a booking may start: of this century, and in some time zones just beside."""

    says = say.GIVE_DAY

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> date:
        day = super()._deserialize(value, attr, data, **kwargs)
        if not date(1999, 12, 31) <= day <= date(2100, 1, 1):
            raise self.make_error("invalid")
        return day


class BookingFilterSchema(InputSchema):
    """Which bookings."""

    date = Day(metadata={"description": "Of one day of the outfit's time zone, by their start."})
    boat = plain.String(metadata={"description": "Id of the boat."})
