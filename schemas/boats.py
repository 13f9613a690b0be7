"""A boat that is kept."""

from __future__ import annotations

from typing import Any

from marshmallow import post_load

from schemas import plain
from schemas.boat import BoatSchema, seats_with_roles
from schemas.fields import Choice, Identifier
from schemas.record import InputSchema, as_record
from schemas.stored import StoredSchema
from service.boats.model import Boat, Propulsion


class StoredBoatSchema(StoredSchema, BoatSchema):
    """A boat of the outfit. Loads to a ``Boat``."""

    id = Identifier(
        load_default=None,
        metadata={"description": "Chosen by the caller or, left out, by the service."},
    )

    @post_load
    def _record(self, data: dict[str, Any], **_: Any) -> Boat:
        boat = {name: value for name, value in data.items() if name != "units"}
        boat |= {"id": boat["id"] or "new", "seats": seats_with_roles(boat)}
        return as_record(Boat, boat)


class BoatFilterSchema(InputSchema):
    """Which boats."""

    name = plain.String(metadata={"description": "Begins with this."})
    propulsion = Choice(Propulsion)
