"""One kind of document as a resource: create, list, read, replace, patch, delete."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from operator import attrgetter
from typing import Any, Generic, TypeVar

from flask import Response, current_app, request, url_for
from marshmallow import RAISE, Schema, ValidationError, fields
from sqlalchemy import ColumnElement

from schemas import error_texts as say
from schemas import stored
from schemas.stored import (
    StoredSchema,
    UnitsQuerySchema,
    document_of,
    merge_patch,
    system_of,
)
from schemas.units import System
from service.api import etag, idempotency, paging
from service.api.auth import needs, principal
from service.api.body import Blueprint, read
from service.api.stored import the_store
from service.outfits import people
from service.outfits.ids import riders_named
from service.outfits.keys import Scope
from service.storage.documents import Shelf
from service.storage.tables import Document, Kept

ONE = "/{}s/<row_id>"
PATCH_BODY = {
    "required": True,
    "description": "A JSON Merge Patch (RFC 7396): what is named is changed, null removes.",
    "content": {"application/merge-patch+json": {"schema": {"type": "object"}}},
}

RowT = TypeVar("RowT", bound=Kept)


@dataclass(frozen=True, slots=True)
class Kind(Generic[RowT]):
    """What tells one kind of document from another.

    ``columns`` gives the columns of a row beside the document, from what the schema loaded, the
    document, and the row as it was (``None`` for a new one); it may raise a ``ValidationError``.
    ``where`` turns the loaded filters into conditions. ``moment`` is the name of a column, by which
    a list is sorted that is asked with one of the filters ``timed``. ``beside`` is what an answer
    has beside the document. ``changes`` is the schema for what may be changed, where that is less
    than what a new one has; ``columns`` then puts the rest into the document.
    """

    name: str
    row: type[RowT]
    schema: StoredSchema
    filters: type[Schema]
    about: str
    columns: Callable[[Any, Document, RowT | None], dict[str, Any]]
    where: Callable[[Mapping[str, Any]], Sequence[ColumnElement[bool]]]
    beside: Callable[[RowT], Mapping[str, Any]] = lambda _row: {}
    changes: StoredSchema | None = None
    moment: str = ""
    timed: tuple[str, ...] = ()

    @property
    def changed(self) -> StoredSchema:
        return self.changes or self.schema

    def by_time(self, asked: Mapping[str, Any]) -> bool:
        """Whether a list with these filters is sorted by a moment."""
        return any(name in asked for name in self.timed)

    def page(self, asked: dict[str, Any]) -> Sequence[RowT]:
        """The rows that were asked for, one more than the limit."""
        limit, after = asked["limit"] + 1, asked["after"]
        with the_store().reading() as session:
            shelf = Shelf(session, self.row, principal().outfit)
            number = 0 if after is None else shelf.number(after.row_id, after.created)
            if not self.by_time(asked):
                return shelf.page(limit, number, self.where(asked))
            since = None if after is None else (after.moment, number)
            return shelf.page_by(getattr(self.row, self.moment), limit, since, self.where(asked))

    def shown(self, row: RowT, system: System) -> dict[str, Any]:
        """The row as it is answered."""
        return {
            "id": row.id,
            "version": row.version,
            "created": row.created.isoformat(),
            "updated": row.updated.isoformat(),
            "units": system.value,
            **stored.written(row.document, self.schema, system),
            **self.beside(row),
        }

    def response(self, row: RowT, system: System, status: int = 200) -> Response:
        body = current_app.json.dumps(self.shown(row, system))
        response = Response(body, status, mimetype="application/json")
        return etag.put_on(response, row.version, system)

    def created(self, row: RowT, system: System) -> Response:
        response = self.response(row, system, 201)
        response.headers["Location"] = url_for(f"{self.name}s.read_one", row_id=row.id)
        return response


def collection(kind: Kind[RowT], *, deletes: bool = True) -> Blueprint:
    """The resource ``/v1/<name>s``. Without ``deletes`` it is deleted in a way of its own."""
    plural = f"{kind.name}s"
    resource = Blueprint(plural, __name__, url_prefix="/v1", description=kind.about)
    _reading(resource, kind)
    _adding(resource, kind)
    _changing(resource, kind)
    if deletes:
        _deleting(resource, kind)
    return resource


def found(kind: Kind[RowT], row_id: str) -> RowT:
    """The document that is to be changed, in the version that the caller knows (404, 412, 428)."""
    with the_store().reading() as session:
        row = Shelf(session, kind.row, principal().outfit).find(row_id)
    etag.check(row.version)
    return row


def _reading(resource: Blueprint, kind: Kind[RowT]) -> None:
    @resource.route(f"/{kind.name}s")
    @resource.arguments(_list_schema(kind), location="query", unknown=RAISE)
    @resource.response(200, _page_schema(kind))
    @needs(Scope.READ)
    def read_all(asked: dict[str, Any]) -> Response:
        """The outfit's, in the order in which they came; those of a span of time by time."""
        rows = kind.page(asked)
        shown = [kind.shown(row, asked["units"]) for row in rows]
        at = attrgetter(kind.moment) if kind.by_time(asked) else None
        return paging.page(rows, shown, asked["limit"], at)

    @resource.route(ONE.format(kind.name))
    @resource.arguments(UnitsQuerySchema(), location="query", unknown=RAISE)
    @resource.response(200, kind.schema)
    @needs(Scope.READ)
    def read_one(asked: dict[str, Any], row_id: str) -> Response:
        """One of the outfit's."""
        with the_store().reading() as session:
            row = Shelf(session, kind.row, principal().outfit).find(row_id)
        response = kind.response(row, asked["units"])
        response.make_conditional(request)
        return response


def _adding(resource: Blueprint, kind: Kind[RowT]) -> None:
    @resource.route(f"/{kind.name}s", methods=["POST"])
    @idempotency.once(resource)
    @resource.arguments(kind.schema)
    @resource.response(201, kind.schema)
    @needs(Scope.WRITE)
    def add(loaded: Any) -> Response:
        """Keep a new one."""
        sent = read(request)
        document = document_of(sent, kind.schema)
        columns = kind.columns(loaded, document, None)
        outfit = principal().outfit
        with the_store().writing() as session:
            people.used(session, outfit, riders_named(document))
            row = Shelf(session, kind.row, outfit).add(sent.get("id"), document, **columns)
            response = kind.created(row, system_of(sent))
            idempotency.keep(session, response)
        return response


def _changing(resource: Blueprint, kind: Kind[RowT]) -> None:
    def change(row: RowT, document: Document, loaded: Any, system: System) -> Response:
        columns = kind.columns(loaded, document, row)
        with the_store().writing() as session:
            outfit = principal().outfit
            people.used(session, outfit, riders_named(document) - riders_named(row.document))
            shelf = Shelf(session, kind.row, outfit)
            return kind.response(shelf.replace(row.id, row.version, document, **columns), system)

    @resource.route(ONE.format(kind.name), methods=["PUT"])
    @resource.arguments(kind.changed)
    @resource.arguments(etag.IfMatchSchema(), location="headers")
    @resource.response(200, kind.schema)
    @needs(Scope.WRITE)
    def replace(loaded: Any, _headers: dict[str, Any], row_id: str) -> Response:
        """Put another document in the place of this one."""
        sent = read(request)
        row = found(kind, row_id)
        _same_id(sent, row_id)
        return change(row, document_of(sent, kind.changed), loaded, system_of(sent))

    @resource.route(ONE.format(kind.name), methods=["PATCH"])
    @resource.arguments(etag.IfMatchSchema(), location="headers")
    @resource.doc(requestBody=PATCH_BODY)
    @resource.response(200, kind.schema)
    @needs(Scope.WRITE)
    def patch(_headers: dict[str, Any], row_id: str) -> Response:
        """Change a part of this document."""
        sent = read(request)
        row = found(kind, row_id)
        if not isinstance(sent, Mapping):
            raise ValidationError(say.GIVE_OBJECT)
        _same_id(sent, row_id)
        changes = document_of(sent, kind.changed)
        document = merge_patch(row.document, changes)
        # What is kept is metric; the units of the patch are those of the patch alone.
        if sent.get("units") not in (None, *System):
            raise ValidationError({"units": [say.GIVE_ONE_OF.format(choices=", ".join(System))]})
        return change(row, document, kind.changed.load(document), system_of(sent))


def _deleting(resource: Blueprint, kind: Kind[RowT]) -> None:
    @resource.route(ONE.format(kind.name), methods=["DELETE"])
    @resource.arguments(etag.IfMatchSchema(), location="headers")
    @resource.response(204)
    @needs(Scope.WRITE)
    def delete(_headers: dict[str, Any], row_id: str) -> Response:
        """Delete it; what was made with it before keeps it."""
        row = found(kind, row_id)
        with the_store().writing() as session:
            Shelf(session, kind.row, principal().outfit).remove(row_id, row.version)
        return Response(status=204)


def _same_id(sent: Mapping[str, Any], row_id: str) -> None:
    if sent.get("id") not in (None, row_id):
        raise ValidationError({"id": [say.ID_STAYS]})


def _list_schema(kind: Kind[Any]) -> Schema:
    bases = (paging.PageSchema, UnitsQuerySchema, kind.filters)
    members = {"by_time": lambda _self, asked: kind.by_time(asked)}
    made: Schema = type(f"{kind.name.title()}ListSchema", bases, members)()
    return made


def _page_schema(kind: Kind[Any]) -> Schema:
    members: dict[str, Any] = {
        "items": fields.List(fields.Nested(kind.schema), required=True),
        "next": fields.String(
            required=True, allow_none=True, metadata={"description": "Address of the next page."}
        ),
    }
    return Schema.from_dict(members, name=f"{kind.name.title()}Page")()
