"""``POST /v1/bookings:batch``: a day's bookings in one call."""

from __future__ import annotations

import math
import time
from collections.abc import Iterator, Mapping
from contextlib import suppress
from typing import Any

from flask import Response, current_app, g, stream_with_context
from marshmallow import ValidationError
from werkzeug.exceptions import HTTPException, ServiceUnavailable

from schemas import error_texts as say
from schemas.bookings import BatchAnswerSchema, BatchSchema, BookingSchema
from schemas.stored import system_of
from service.api import admission, budget, errors, idempotency, jobs, limits, prices
from service.api.accept import JSON, media_type, offers
from service.api.at_work import working
from service.api.auth import needs
from service.api.body import Blueprint
from service.api.booking_desk import Desk, shown
from service.api.stored import StoredBoats, StoredRiders, the_store
from service.outfits.keys import Scope
from service.storage import STORE_FAULTS
from service.storage.documents import NotStoredError
from service.storage.usage import QuotaError

LINES = ("application/jsonl", "application/x-ndjson")
RESERVE = 1.0
"""Seconds of a request's time in which no other booking is begun."""
STREAMED = 20.0
"""Seconds that a batch may take line by line: the server ends a worker that it hears nothing of."""
_NOT_ATTEMPTED = ServiceUnavailable(say.NOT_ATTEMPTED)


def blueprint(boats: StoredBoats, riders: StoredRiders) -> Blueprint:
    """The resource; ``boats`` and ``riders`` are where ids are looked up."""
    resource = Blueprint("bookings_batch", __name__, url_prefix="/v1", description="Many bookings.")
    schema = BookingSchema(riders)

    @resource.route("/bookings:batch", methods=["POST"])
    @idempotency.once(resource)
    @resource.arguments(BatchSchema())
    @resource.arguments(jobs.PreferSchema(), location="headers", as_kwargs=True)
    @resource.response(200, BatchAnswerSchema())
    @resource.alt_response(202, schema=jobs.JobSchema(), description=jobs.LONG_WORK)
    @offers(JSON, *LINES)
    @needs(Scope.WRITE)
    def batch(asked: dict[str, Any], prefer: str | None) -> Response:
        """Each as by `PUT`, in their order; what fails does not hold up the rest.

        As JSON lines (`Accept: application/jsonl`) each result is sent as soon as it is kept. What
        there is no time left for gets a result with status 503, and nothing of it is kept.
        """
        price = prices.BOOKING * len(asked["bookings"])
        if admission.respond_async(prefer) and working() is None:
            return jobs.accepted(price, wished=True)
        limits.charge(price)
        bookings = [{"units": asked["units"].value, **sent} for sent in asked["bookings"]]
        desk = Desk(boats, schema)
        results = _all_or_nothing(desk, bookings) if asked["atomic"] else _each(desk, bookings)
        if media_type() in LINES:
            g.streams = True
            return Response(stream_with_context(_lines(results)), mimetype=media_type())
        body = current_app.json.dumps({"results": list(results)})
        response = Response(body, mimetype=JSON)
        _keep(response)
        return response

    return resource


def _each(desk: Desk, bookings: list[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    ends = time.monotonic() + STREAMED if media_type() in LINES else math.inf
    job = working()
    for number, sent in enumerate(bookings, 1):
        left = ends - time.monotonic() if media_type() in LINES else budget.left()
        yield _one(desk, sent) if left > RESERVE or job else _failed(sent, _NOT_ATTEMPTED)
        if job is not None:
            job.report(number, len(bookings))


def _one(desk: Desk, sent: dict[str, Any]) -> dict[str, Any]:
    try:
        loaded = _loaded(desk, sent)
        desk.warm(loaded)
        # Whether it is kept is known when this ends, also where the request's time runs out.
        with budget.unbroken():
            with the_store().writing() as session:
                row, new = desk.take(session, loaded["id"], sent, loaded)
            booking = shown(row, desk.schema, system_of(sent))
            return {"id": row.id, "status": 201 if new else 200, "booking": booking}
    except (ValidationError, LookupError, HTTPException, QuotaError) as error:
        return _failed(sent, error)
    except STORE_FAULTS as error:
        return _failed(sent, error)
    except Exception:
        if not budget.ran_out():
            raise
        return _failed(sent, _NOT_ATTEMPTED)


def _failed(sent: Mapping[str, Any], error: Exception) -> dict[str, Any]:
    problem, reference = _problem(error), sent.get("id")
    return {
        "id": reference if isinstance(reference, str) else None,
        "status": problem["status"],
        "problem": problem,
    }


def _all_or_nothing(desk: Desk, bookings: list[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    faults: dict[int, Any] = {}
    loaded: list[dict[str, Any]] = []
    for number, sent in enumerate(bookings):
        try:
            loaded.append(_loaded(desk, sent))
            desk.warm(loaded[-1])
        except ValidationError as error:
            faults[number] = error.messages
        except LookupError as error:
            faults[number] = [_problem(error)["detail"]]
    if faults:
        raise ValidationError({"bookings": faults})
    results = []
    with the_store().writing() as session:
        for sent, each in zip(bookings, loaded, strict=True):
            row, new = desk.take(session, each["id"], sent, each)
            booking = shown(row, desk.schema, system_of(sent))
            results.append({"id": row.id, "status": 201 if new else 200, "booking": booking})
    return iter(results)


def _loaded(desk: Desk, sent: Mapping[str, Any]) -> dict[str, Any]:
    loaded: dict[str, Any] = desk.schema.load(sent)
    if loaded["id"] is None:
        raise ValidationError({"id": [say.GIVE_REFERENCE]})
    return loaded


def _problem(error: Exception) -> dict[str, Any]:
    """The problem (RFC 9457) that the same booking would have got by itself."""
    if isinstance(error, ValidationError):
        response = errors.invalid({"json": error.messages}, 422, [])
    elif isinstance(error, QuotaError):
        response = errors.handle_quota(error)
    elif isinstance(error, HTTPException):
        response = errors.handle_http_exception(error)
    elif isinstance(error, STORE_FAULTS):
        response = errors.store_fault(error, stored=None)
    elif isinstance(error, NotStoredError):
        response = errors.problem(404, say.NOT_KEPT.format(kind=error.kind, id=error.row_id[:64]))
    else:
        response = errors.problem(404, say.NOTHING_OF_THE_KIND)
    problem: dict[str, Any] = response.get_json(force=True)
    return problem


def _keep(response: Response) -> None:
    """Where that cannot be kept what was stored is told all the same: sent again it is the same."""
    with budget.unbroken(), suppress(*STORE_FAULTS), the_store().writing() as session:
        idempotency.keep(session, response)


def _lines(results: Iterator[dict[str, Any]]) -> Iterator[str]:
    """One result a line; under an ``Idempotency-Key`` the whole is kept when it is through."""
    claim = g.get("claim")
    lines = []
    try:
        for result in results:
            line = current_app.json.dumps(result) + "\n"
            if claim is not None:
                lines.append(line)
            yield line
        if claim is not None:
            _keep(Response("".join(lines), mimetype=media_type()))
    finally:
        if claim is not None:
            claim.held.release()
