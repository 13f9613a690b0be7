"""A rider who is kept: personal data, so no more than the advice needs."""

from __future__ import annotations

from typing import Any

from marshmallow import post_load

from schemas import error_texts as say
from schemas import plain
from schemas.advice_request import RiderSchema
from schemas.fields import Choice, Text, is_printable
from schemas.record import InputSchema
from schemas.stored import StoredSchema
from service.advice.requests import Level

LONGEST_NOTE = 2000


def _writable(text: str) -> None:
    if not is_printable(text.replace("\n", "").replace("\t", "")):
        raise plain.refused(text, say.PRINTABLE_LINES)


class Note(plain.String):
    """Free text of several lines."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(validate=[plain.Length(max=LONGEST_NOTE), _writable], **kwargs)


class StoredRiderSchema(StoredSchema, RiderSchema):
    """A rider. A name is not needed; an initial, or the outfit's own number, will do."""

    name = Text(load_default=None, metadata={"description": "What the crew calls the rider."})
    notes = Note(load_default=None)

    @post_load
    def _record(self, data: dict[str, Any], **_: Any) -> dict[str, Any]:
        return data


class RiderFilterSchema(InputSchema):
    """Which riders."""

    name = plain.String(metadata={"description": "Begins with this."})
    level = Choice(Level)
