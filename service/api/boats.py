"""``/v1/boats``: the boats of an outfit."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import ColumnElement

from schemas.boats import BoatFilterSchema, StoredBoatSchema
from service.api.body import Blueprint
from service.api.collection import Kind, collection
from service.boats.model import Boat
from service.storage import tables
from service.storage.tables import Document


def _columns(boat: Boat, _document: Document, _row: tables.Boat | None) -> dict[str, Any]:
    return {"name": boat.name, "propulsion": boat.propulsion.value}


def _where(asked: Mapping[str, Any]) -> list[ColumnElement[bool]]:
    row, conditions = tables.Boat, []
    if "name" in asked:
        conditions.append(row.name.istartswith(asked["name"], autoescape=True))
    if "propulsion" in asked:
        conditions.append(row.propulsion == asked["propulsion"].value)
    return conditions


def blueprint() -> Blueprint:
    """The resource."""
    kind = Kind(
        name="boat",
        row=tables.Boat,
        schema=StoredBoatSchema(),
        filters=BoatFilterSchema,
        about="The boats of an outfit.",
        columns=_columns,
        where=_where,
    )
    return collection(kind)
