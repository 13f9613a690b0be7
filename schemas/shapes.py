"""The shape of the answers, for the specification at ``/openapi.json``: what all have.

Answers are written by the presenters beside these modules and not dumped through them; a test
holds every answer to them.
"""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum
from typing import Any

from marshmallow import Schema, fields, validate

from rules.model import Severity
from schemas.units import System, unit_names
from service.advice.requests import Board, Level, Stance, Wish


def says(text: str) -> dict[str, Any]:
    return {"metadata": {"description": text}}


def word(
    kind: type[StrEnum] | Iterable[str], text: str = "", *, null: bool = False
) -> fields.String:
    """One of an enumeration's words."""
    words = [str(each) for each in kind]
    return fields.String(
        required=True, allow_none=null, validate=validate.OneOf(words), **says(text)
    )


def text(about: str = "", *, null: bool = False) -> fields.String:
    return fields.String(required=True, allow_none=null, **says(about))


def number(about: str = "", *, null: bool = False) -> fields.Float:
    return fields.Float(required=True, allow_none=null, **says(about))


def several(schema: Schema, about: str = "") -> fields.List[Any]:
    return fields.List(fields.Nested(schema), required=True, **says(about))


def one(schema: Schema, about: str = "", *, null: bool = False) -> fields.Nested:
    return fields.Nested(schema, required=True, allow_none=null, **says(about))


class RuleSetSchema(Schema):
    """The rule base that made the answer."""

    version = text()
    hash = text("Of the whole content of the rule base, local values included.")
    local = fields.List(
        fields.String(), required=True, **says("Parameters with a value of the outfit's own.")
    )


class NamedBoatSchema(Schema):
    """Which boat."""

    id = text(null=True)
    name = text()


class RiderShownSchema(Schema):
    """The rider as understood."""

    mass = number()
    stance = word(Stance, null=True)
    board = word(Board)
    level = word(Level)
    wants = fields.List(fields.String(validate=validate.OneOf(list(Wish))), required=True)


class PlatesShownSchema(Schema):
    """Percent of full travel, 0 is up; null where none is fitted."""

    centre = number(null=True)
    port = number(null=True)
    starboard = number(null=True)


class CautionSchema(Schema):
    """What people must know, and what to do."""

    severity = word(Severity)
    text = text()
    action = fields.String(required=True)
    source = fields.String(required=True)
    rule = fields.String(required=True)


class AssumedSchema(Schema):
    """A default that was used."""

    pointer = text("JSON Pointer (RFC 6901) of the gap; * stands for each entry.")
    value = fields.Raw(required=True, metadata={"type": ["number", "string"]})
    source = text()


class NotYetSchema(Schema):
    """While the verdict is not to go: set nothing up, fill no tank, and what comes first."""

    text = text("The whole of it for people.")
    first = fields.List(
        fields.String(), required=True, **says("What has to change; then ask again.")
    )


UnitNamesSchema = Schema.from_dict(
    {name: fields.String(required=True) for name in unit_names(System.METRIC)},
    name="UnitNamesSchema",
)
