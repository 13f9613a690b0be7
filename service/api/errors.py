"""Every error in one shape: application/problem+json (RFC 9457)."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from http import HTTPStatus
from typing import Any, Literal
from urllib.parse import quote

from flask import Flask, Response, current_app, request
from gunicorn.http.errors import ParseException
from marshmallow import Schema, ValidationError, fields
from marshmallow.exceptions import SCHEMA
from werkzeug.exceptions import (
    HTTPException,
    MethodNotAllowed,
    NotFound,
    RequestEntityTooLarge,
)

from schemas import error_texts as say
from service.api import etag
from service.api.logs import LOGGER
from service.boats.fleet import UnknownBoatError
from service.storage import STORE_FAULTS, is_locked
from service.storage.documents import AlreadyStoredError, NotStoredError, StaleError
from service.storage.usage import QuotaError

MEDIA_TYPE = "application/problem+json"
MOST_FAULTS = 100
"""Told in one answer; all those of 500 empty loads took a quarter of a megabyte."""

# Problem types of this API are tag URIs (RFC 4151): names, not addresses, as RFC 9457 allows.
# Every other problem is "about:blank": no more is meant than the status code says.
_TYPES = "tag:wavesetup.example,2025:"
INVALID_INPUT = _TYPES + "invalid-input"
UNKNOWN_BOAT = _TYPES + "unknown-boat"
ID_TAKEN = _TYPES + "id-taken"
QUOTA_EXCEEDED = _TYPES + "quota-exceeded"
_WAYS_OUT = {
    "rows": say.QUOTA_ROWS, "bytes": say.QUOTA_BYTES, "readings": say.QUOTA_READINGS,
}  # fmt: skip
STORE_LOCKED = _TYPES + "store-locked"
STORE_AWAY = _TYPES + "store-away"


class FaultSchema(Schema):
    """One fault in what was sent."""

    pointer = fields.String(
        metadata={"description": "JSON Pointer (RFC 6901) to the value; empty is the whole body."}
    )
    parameter = fields.String(metadata={"description": "The query parameter, if it is one."})
    detail = fields.String(required=True)


class QuotaSchema(Schema):
    """A quota that is used up."""

    name = fields.String(required=True, metadata={"enum": ["rows", "bytes", "readings"]})
    limit = fields.Integer(required=True)
    used = fields.Integer(required=True)


class ProblemSchema(Schema):
    """A problem as of RFC 9457."""

    type = fields.String(required=True, metadata={"format": "uri-reference"})
    title = fields.String(required=True)
    status = fields.Integer(required=True)
    detail = fields.String()
    instance = fields.String(metadata={"format": "uri-reference"})
    quota = fields.Nested(QuotaSchema())
    errors = fields.List(
        fields.Nested(FaultSchema()),
        metadata={
            "description": "The faults of invalid input, of more than a hundred the first hundred."
        },
    )


def problem(
    status: int,
    detail: str,
    *,
    type_: str = "about:blank",
    title: str | None = None,
    errors: list[dict[str, str]] | None = None,
    quota: dict[str, Any] | None = None,
    headers: list[tuple[str, str]] | None = None,
) -> Response:
    """The response for one problem."""
    body: dict[str, Any] = {
        "type": type_,
        "title": title or HTTPStatus(status).phrase,
        "status": status,
        "detail": detail,
        "instance": quote(request.path, safe="/:@!$&'()*+,;=~"),  # a path as of RFC 3986
    }
    if errors is not None:
        body["errors"] = errors
    if quota is not None:
        body["quota"] = quota
    return Response(current_app.json.dumps(body), status, headers, mimetype=MEDIA_TYPE)


def faults(tree: Any, pointer: str = "") -> Iterator[tuple[str, str]]:
    """A tree of messages from marshmallow → (JSON Pointer, message), in the order of the tree.

    A message about an object as a whole (``_schema``) points at the object.
    """
    if isinstance(tree, str):
        yield pointer, tree
    elif isinstance(tree, list):
        for message in tree:
            yield from faults(message, pointer)
    elif isinstance(tree, Mapping):
        for name, below in tree.items():
            step = "" if name == SCHEMA else "/" + str(name).replace("~", "~0").replace("/", "~1")
            yield from faults(below, pointer + step)


def invalid(messages: Mapping[str, Any], status: int, headers: list[tuple[str, str]]) -> Response:
    """The response for messages by location, as webargs gives them: ``{"json": tree}``."""
    found: list[dict[str, str]] = []
    for location, tree in messages.items():
        for pointer, message in faults(tree):
            if location == "json":
                found.append({"pointer": pointer, "detail": message})
            else:
                found.append({"parameter": pointer.removeprefix("/"), "detail": message})
    first = found[0]
    where = first.get("pointer", first.get("parameter")) or say.WHOLE_BODY
    words = say.FIRST_OF_FAULTS if len(found) > 1 else say.FIRST_FAULT
    return problem(
        status,
        words.format(where=where, fault=first["detail"], more=len(found) - 1),
        type_=INVALID_INPUT,
        title=say.INVALID_INPUT,
        errors=found[:MOST_FAULTS],
        headers=headers,
    )


def _told(error: HTTPException) -> str:
    """What it says, in place of werkzeug's own words where nobody gave it others."""
    if error.description != type(error).description:
        return str(error.description or "")
    match error:
        case MethodNotAllowed():
            methods = ", ".join(sorted(error.valid_methods or ()))
            return say.METHOD_NOT_HERE.format(method=request.method, methods=methods)
        case NotFound():
            return say.NOTHING_HERE
        case RequestEntityTooLarge():
            return say.BODY_TOO_LONG.format(most=request.max_content_length)
    return str(error.description or "")


def handle_http_exception(error: HTTPException) -> Response:
    """Any HTTP error, with the headers it carries (``Allow``, ``Retry-After``, …)."""
    data = getattr(error, "data", None) or {}
    headers = [pair for pair in error.get_headers() if pair[0].lower() != "content-type"]
    headers += list((data.get("headers") or {}).items())
    status = error.code or 500
    if messages := data.get("messages"):
        return invalid(messages, status, headers)
    detail = data.get("message") or _told(error) or HTTPStatus(status).phrase
    return problem(status, str(detail), headers=headers)


def _handle_unknown_boat(error: UnknownBoatError) -> Response:
    known = ", ".join(error.known) or say.NONE_KNOWN
    return problem(
        404,
        say.NO_SUCH_BOAT.format(id=error.boat_id[:64], known=known),
        type_=UNKNOWN_BOAT,
        title=say.UNKNOWN_BOAT,
    )


def _handle_not_stored(error: NotStoredError) -> Response:
    return problem(404, say.NOT_KEPT.format(kind=error.kind, id=error.row_id[:64]))


def _handle_already_stored(error: AlreadyStoredError) -> Response:
    return problem(
        409,
        say.ID_IS_TAKEN.format(kind=error.kind, id=error.row_id),
        type_=ID_TAKEN,
        title=say.ID_TAKEN,
    )


def handle_quota(error: QuotaError) -> Response:
    """A 403 that says the quota and what is used: to send it again later does not help."""
    way_out = _WAYS_OUT[error.kind]
    return problem(
        403,
        say.QUOTA_USED.format(used=error.used, most=error.most, kind=error.kind, way_out=way_out),
        type_=QUOTA_EXCEEDED,
        title=say.QUOTA_EXCEEDED,
        quota={"name": error.kind, "limit": error.most, "used": error.used},
    )


def _handle_stale(_error: StaleError) -> Response:
    return handle_http_exception(etag.changed())


def _handle_validation(error: ValidationError) -> Response:
    return invalid({"json": error.messages}, 422, [])


def _handle_unreadable(_error: Exception) -> Response:
    """A chunked body is parsed only when it is read."""
    return problem(400, say.BAD_CHUNKS)


def store_fault(error: Exception, stored: Literal[False] | None = False) -> Response:
    """The problem for a store that is locked or does not answer.

    ``stored`` is ``None`` where something may be stored all the same.
    """
    if is_locked(error):
        LOGGER.warning("the store is locked")
        headers = [("Retry-After", "2")]
        return problem(503, say.STORE_LOCKED, type_=STORE_LOCKED, title=say.LOCKED, headers=headers)
    LOGGER.error("the store does not answer", exc_info=error)
    detail = say.STORE_AWAY if stored is False else say.MAYBE_STORED
    headers = [("Retry-After", "10")]
    return problem(503, detail, type_=STORE_AWAY, title=say.AWAY, headers=headers)


def init_app(app: Flask) -> None:
    """Errors of the domain that have a status of their own."""
    app.register_error_handler(ParseException, _handle_unreadable)
    app.register_error_handler(UnknownBoatError, _handle_unknown_boat)
    app.register_error_handler(NotStoredError, _handle_not_stored)
    app.register_error_handler(AlreadyStoredError, _handle_already_stored)
    app.register_error_handler(StaleError, _handle_stale)
    app.register_error_handler(QuotaError, handle_quota)
    app.register_error_handler(ValidationError, _handle_validation)
    for fault in STORE_FAULTS:
        app.register_error_handler(fault, store_fault)
