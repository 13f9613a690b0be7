"""``/v1/setups``: settings that worked."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import ColumnElement

from schemas.setups import SetupFilterSchema, SetupSchema
from service.api.body import Blueprint
from service.api.collection import Kind, collection
from service.api.stored import StoredRiders
from service.boats.fleet import Boats
from service.storage import tables
from service.storage.tables import Document


def _columns(
    setup: Mapping[str, Any], document: Document, _row: tables.Setup | None
) -> dict[str, Any]:
    return {
        "boat_id": document["boat"],
        "rider_id": document.get("rider"),
        "rating": setup["rating"],
    }


def of_boat_and_rider(
    row: type[tables.Setup | tables.Run], asked: Mapping[str, Any]
) -> list[ColumnElement[bool]]:
    """The conditions that set-ups and runs share."""
    conditions = []
    if "boat" in asked:
        conditions.append(row.boat_id == asked["boat"])
    if "rider" in asked:
        conditions.append(row.rider_id == asked["rider"])
    if "rating" in asked:
        conditions.append(row.rating >= asked["rating"])
    return conditions


def blueprint(boats: Boats, riders: StoredRiders) -> Blueprint:
    """The resource; ``boats`` and ``riders`` are where ids are looked up."""
    kind = Kind(
        name="setup",
        row=tables.Setup,
        schema=SetupSchema(boats, riders),
        filters=SetupFilterSchema,
        about="Settings that worked, on a boat of the outfit.",
        columns=_columns,
        where=lambda asked: of_boat_and_rider(tables.Setup, asked),
    )
    return collection(kind)
