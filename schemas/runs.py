"""A run: what was asked and advised, word for word, and how it rode."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from marshmallow import ValidationError, fields, validates_schema

from schemas import plain
from schemas.advice_request import AdviceRequestSchema
from schemas.fields import Flag, Text
from schemas.known import Riders, Setups
from schemas.record import InputSchema
from schemas.riders import Note
from schemas.setups import Rating, SettingsSchema, at_least, settings_faults
from schemas.stored import StoredSchema, When
from service.boats.fleet import Boats
from service.boats.model import Boat

MOST_CHANGES = 50


def _settings(says: str) -> plain.Nested:
    return plain.Nested(
        SettingsSchema(), load_default=None, allow_none=True, metadata={"description": says}
    )


def run_faults(boat: Boat, loaded: Mapping[str, Any]) -> dict[str, Any]:
    """Settings of a run, in the end or of a change, that this boat has not."""
    faults: dict[str, Any] = {}
    if loaded["settings"] is not None and (found := settings_faults(boat, loaded["settings"])):
        faults["settings"] = found
    for number, change in enumerate(loaded["changes"]):
        for when in ("before", "after"):
            if change[when] is not None and (found := settings_faults(boat, change[when])):
                faults.setdefault("changes", {}).setdefault(number, {})[when] = found
    return faults


class RunChangeSchema(InputSchema):
    """One thing that was changed on the water."""

    seen = Text(load_default=None, metadata={"description": "What was seen before."})
    target = Text(required=True, metadata={"description": "What was changed, such as speed."})
    change = Text(required=True, metadata={"description": "By how much, in words or numbers."})
    helped = Flag(load_default=None)
    before = _settings("What was set before, of what was changed.")
    after = _settings("What was set then. With `before` and `helped` the boat's log learns of it.")


class OverriddenSchema(InputSchema):
    """One piece of the advice that was not followed."""

    rule = Text(
        required=True, metadata={"description": "The rule behind it, one of the advice's reasons."}
    )
    reason = Text(required=True, metadata={"description": "Why it was not followed."})


class RunSchema(StoredSchema):
    """A run. The service adds the advice, which never changes; the rest may be filled in later."""

    request = plain.Nested(
        AdviceRequestSchema,
        dump_only=True,
        metadata={"description": "What was asked of `/v1/advice`, as it was sent, in its units."},
    )
    stood_for = plain.Dict(
        dump_only=True,
        metadata={
            "description": "What the ids in the request stood for on that day, in metric units: "
            "boats, riders and setups, each by id, with its version."
        },
    )
    answer = plain.Dict(
        dump_only=True, metadata={"description": "What was advised, word for word."}
    )
    tuning = plain.List(
        plain.Dict(),
        dump_only=True,
        metadata={
            "description": "The session on the water, as `/v1/runs/{row_id}/tuning` extends it; "
            "may be sent as `history` to `/v1/tuning`."
        },
    )
    rule_set = plain.String(
        dump_only=True, metadata={"description": "Hash of the rule base that advised it."}
    )
    boat_version = fields.Integer(
        dump_only=True, allow_none=True, metadata={"description": "Of the boat, if it is kept."}
    )
    started = When(
        load_default=None, metadata={"description": "With its offset from UTC; left out: now."}
    )
    settings = _settings("What was set in the end, where it differs from the advice.")
    changes = plain.List(
        plain.Nested(RunChangeSchema()),
        load_default=list,
        validate=plain.Length(max=MOST_CHANGES),
        metadata={"description": "The changes that led there, in their order."},
    )
    overridden = plain.List(
        plain.Nested(OverriddenSchema()),
        load_default=None,
        allow_none=True,
        validate=plain.Length(max=MOST_CHANGES),
        metadata={
            "description": "Which rules of the advice were not followed, and why. Empty: it was "
            "taken as advised. Left out: nobody said."
        },
    )
    rating = Rating()
    notes = Note(load_default=None)

    def __init__(self, boats: Boats, riders: Riders, setups: Setups, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        request: Any = self.fields["request"]
        request.nested = AdviceRequestSchema(boats, riders, setups)


class NewRunSchema(RunSchema):
    """A run, with a whole request of `/v1/advice`; the advice to it is kept with it."""

    request = plain.Nested(AdviceRequestSchema, required=True)

    @validates_schema
    def _the_boat_has_them(self, data: dict[str, Any], **_: Any) -> None:
        if faults := run_faults(data["request"].request.boat, data):
            raise ValidationError(faults)


class RunFilterSchema(InputSchema):
    """Which runs."""

    boat = plain.String(metadata={"description": "Id of the boat."})
    rider = plain.String(metadata={"description": "Id of the rider."})
    rating = at_least()
    since = When(metadata={"description": "Started then or later."})
    until = When(metadata={"description": "Started before."})
