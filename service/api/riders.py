"""``/v1/riders``: people, so they can be had out and taken out again."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flask import Response, jsonify
from marshmallow import RAISE, Schema
from sqlalchemy import ColumnElement

from schemas import plain
from schemas.record import InputSchema
from schemas.riders import RiderFilterSchema, StoredRiderSchema
from service.api import etag
from service.api.auth import needs, principal
from service.api.body import Blueprint
from service.api.collection import Kind, collection, found
from service.api.stored import the_store
from service.outfits import people
from service.outfits.keys import Scope
from service.storage import tables
from service.storage.documents import Shelf
from service.storage.tables import Document, now


class EraseSchema(InputSchema):
    """How a rider is deleted."""

    erase = plain.Boolean(
        load_default=False,
        metadata={
            "description": "Take the person out of everything that is kept, for good. What rode "
            "well on a boat stays, without the person."
        },
    )


class ExportSchema(Schema):
    """All that is kept of a rider, in metric units."""

    rider = plain.Dict(required=True)
    setups = plain.List(plain.Dict(), required=True)
    runs = plain.List(plain.Dict(), required=True)
    bookings = plain.List(plain.Dict(), required=True)


def _columns(
    rider: Mapping[str, Any], _document: Document, _row: tables.Rider | None
) -> dict[str, Any]:
    level = rider["level"]
    return {"name": rider["name"], "level": level and level.value, "used": now()}


def _where(asked: Mapping[str, Any]) -> list[ColumnElement[bool]]:
    row, conditions = tables.Rider, []
    if "name" in asked:
        conditions.append(row.name.istartswith(asked["name"], autoescape=True))
    if "level" in asked:
        conditions.append(row.level == asked["level"].value)
    return conditions


def blueprint() -> Blueprint:
    """The resource."""
    kind = Kind(
        name="rider",
        row=tables.Rider,
        schema=StoredRiderSchema(),
        filters=RiderFilterSchema,
        about="Riders, with what the advice needs of them and no more.",
        columns=_columns,
        where=_where,
    )
    resource = collection(kind, deletes=False)

    @resource.route("/riders/<row_id>/export")
    @resource.response(200, ExportSchema())
    @needs(Scope.READ)
    def export(row_id: str) -> Response:
        """All that is kept of this rider."""
        with the_store().reading() as session:
            return jsonify(people.export(session, principal().outfit, row_id))

    @resource.route("/riders/<row_id>", methods=["DELETE"])
    @resource.arguments(EraseSchema(), location="query", unknown=RAISE)
    @resource.arguments(etag.IfMatchSchema(), location="headers")
    @resource.response(204)
    @needs(Scope.WRITE)
    def delete(asked: dict[str, bool], _headers: dict[str, Any], row_id: str) -> Response:
        """Delete the rider; set-ups and runs go on naming this id, unless it is erased."""
        if asked["erase"]:
            # Also of one that was deleted before; and of whatever version: nothing is left.
            with the_store().writing() as session:
                people.erase(session, principal().outfit, row_id)
            return Response(status=204)
        row = found(kind, row_id)
        with the_store().writing() as session:
            Shelf(session, tables.Rider, principal().outfit).remove(row_id, row.version)
        return Response(status=204)

    return resource
