"""An outfit and its keys."""

from __future__ import annotations

from zoneinfo import available_timezones

from marshmallow import Schema, fields

from schemas import error_texts as say
from schemas import plain
from schemas.fields import Choice, Count, Identifier, Text
from schemas.record import InputSchema
from service.outfits.keys import SCOPES, Scope

MOST_BOATS = 50
"""With values of their own: each has a rule base in memory."""


def _time_zone(name: str) -> None:
    if name not in available_timezones():
        raise plain.refused(name, say.TIME_ZONE)


class OutfitSchema(InputSchema):
    """Whoever runs the boats."""

    id = plain.String(dump_only=True)
    name = Text()
    time_zone = plain.String(
        validate=_time_zone,
        metadata={
            "description": "An IANA name. Times of bookings are "
            "told in it; while it is UTC, as at first, with the offset that each came with."
        },
    )
    retention_days = Count(
        1,
        3650,
        allow_none=True,
        metadata={
            "description": "Riders not needed for so many days are erased by `flask outfits "
            "sweep`; null keeps them until they are erased one by one."
        },
    )
    usage = plain.Dict(
        dump_only=True,
        metadata={
            "description": "What the outfit has stored and the most that it may, as `used` and "
            "`limit`: `rows` (documents and keys) and `bytes`."
        },
    )


class NewOutfitSchema(OutfitSchema):
    """An outfit to be made, by the operator."""

    id = Identifier(required=True)
    name = Text(required=True)


_VALUES = plain.Dict(
    keys=plain.String(),
    values=plain.Raw(),
    validate=plain.Length(max=500),
    metadata={"description": "`topic.parameter`: value, in the form that `/v1/rules` shows."},
)


class OutfitRulesSchema(InputSchema):
    """Values of the outfit's own for parameters of the rules."""

    version = fields.Integer(dump_only=True)
    fleet = plain.Dict(
        keys=plain.String(),
        values=plain.Raw(),
        load_default=dict,
        metadata={"description": "`topic.parameter`: value, in the form that `/v1/rules` shows."},
    )
    boats = plain.Dict(
        keys=plain.String(),
        values=_VALUES,
        load_default=dict,
        validate=plain.Length(max=MOST_BOATS),
        metadata={"description": "The same by id of a boat; these go before the fleet's."},
    )


class NewKeySchema(InputSchema):
    """A key to be made."""

    name = Text(required=True, metadata={"description": "What it is for."})
    scopes = plain.List(
        Choice(Scope),
        required=True,
        validate=plain.Length(1, len(Scope)),
        metadata={
            "description": "Levels, each with those before it: "
            + "; ".join(f"`{scope.value}` {adds}" for scope, adds in SCOPES.items())
            + "."
        },
    )
    days = Count(
        1, 3650, load_default=None, metadata={"description": "It expires after so many days."}
    )


class KeySchema(Schema):
    """A key; the token itself is in the answer to its making, and nowhere else."""

    id = plain.String(required=True)
    name = plain.String(required=True)
    scopes = plain.List(plain.String(validate=plain.OneOf(list(Scope))), required=True)
    created = fields.DateTime(required=True)
    expires = fields.DateTime(required=True, allow_none=True)
    last_used = fields.DateTime(required=True, allow_none=True)
    revoked = fields.DateTime(required=True, allow_none=True)


class IssuedKeySchema(KeySchema):
    """A key with its token."""

    token = plain.String(
        required=True,
        allow_none=True,
        metadata={
            "description": "Shown this once; null where the answer comes again under its "
            "`Idempotency-Key`."
        },
    )


class KeysSchema(Schema):
    """The keys of an outfit, the oldest first."""

    items = plain.List(plain.Nested(KeySchema()), required=True)
