"""``/v1/boats/{id}/calibrations`` and ``/v1/boats/{id}/model``: what is known of one boat."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from flask import Response, current_app, request, url_for
from marshmallow import RAISE, ValidationError
from sqlalchemy.orm import Session

from schemas import error_texts as say
from schemas.calibration import CalibrationSchema
from schemas.calibration_answer import present_fit, present_model
from schemas.calibration_shapes import (
    CalibrationAnswerSchema,
    CalibrationsSchema,
    ModelSchema,
)
from schemas.stored import UnitsQuerySchema, document_of, system_of, written
from schemas.units import System
from service.advice.dock import BoatModel, faults_of
from service.advice.dock_readings import Calibration
from service.api import etag, idempotency
from service.api.accept import HTML, JSON, media_type, offers
from service.api.auth import needs, principal
from service.api.body import Blueprint, read
from service.api.learning import CalibratedBoats
from service.api.rulebase import rules_for
from service.api.stored import the_store
from service.outfits.keys import Scope
from service.pages import boat_model
from service.storage import tables
from service.storage.documents import NotStoredError, Shelf, new_id

MOST_CALIBRATIONS = 100
"""Of one boat: all of them are fitted together."""

View = Callable[..., Response]

SCHEMA = CalibrationSchema()
ALL = "/boats/<boat_id>/calibrations"
ONE = "/boats/<boat_id>/calibrations/<row_id>"


def blueprint(boats: CalibratedBoats) -> Blueprint:
    """The resource; ``boats`` is where a boat's id is looked up."""
    resource = Blueprint(
        "calibrations", __name__, url_prefix="/v1", description="What was measured of a boat."
    )
    of_known_boat = _of_known(boats)
    _writing(resource, boats, of_known_boat)
    _reading(resource, of_known_boat)

    @resource.route("/boats/<boat_id>/model")
    @of_known_boat
    @resource.arguments(UnitsQuerySchema(), location="query", unknown=RAISE)
    @resource.response(200, ModelSchema())
    @offers(JSON, HTML)
    @needs(Scope.READ)
    def read_model(asked: dict[str, Any], boat_id: str) -> Response:
        """What is known of the boat, from where, how surely, and what to measure next."""
        answer = present_model(boats.model(boat_id), asked["units"])
        if media_type() == HTML:
            return Response(boat_model.page(answer), mimetype=HTML)
        return _response(answer)

    return resource


def _of_known(boats: CalibratedBoats) -> Callable[[View], View]:
    """Goes above what reads the body: a boat that is not there is a 404, whatever the body."""

    def decorate(view: View) -> View:
        @wraps(view)
        def checked(*args: Any, boat_id: str, **kwargs: Any) -> Response:
            boats.version(boat_id)
            return view(*args, boat_id=boat_id, **kwargs)

        return checked

    return decorate


def _writing(
    resource: Blueprint, boats: CalibratedBoats, of_known_boat: Callable[[View], View]
) -> None:
    @resource.route(ALL, methods=["POST"])
    @idempotency.once(resource)
    @of_known_boat
    @resource.arguments(SCHEMA)
    @resource.response(201, CalibrationAnswerSchema())
    @needs(Scope.WRITE)
    def add(loaded: Calibration, boat_id: str) -> Response:
        """Keep what was measured; answered with the fit of all that was ever measured of her."""
        sent = read(request)
        name = sent.get("id") or new_id()
        model = _with(boats, boat_id, name, loaded)
        document, system = document_of(sent, SCHEMA), system_of(sent)
        with the_store().writing() as session:
            row = _shelf(session).add(name, document, boat_id=boat_id)
            response = _response({**_shown(row, system), "fit": present_fit(model, system)}, 201)
            response.headers["Location"] = url_for(
                "calibrations.read_one", boat_id=boat_id, row_id=row.id
            )
            etag.put_on(response, row.version, system)
            idempotency.keep(session, response)
        return response

    @resource.route(ONE, methods=["DELETE"])
    @of_known_boat
    @resource.arguments(etag.IfMatchSchema(), location="headers")
    @resource.response(204)
    @needs(Scope.WRITE)
    def delete(_headers: dict[str, Any], boat_id: str, row_id: str) -> Response:
        """Take it back: the boat is then what all others say."""
        row = _found(boat_id, row_id)
        etag.check(row.version)
        with the_store().writing() as session:
            _shelf(session).remove(row_id, row.version)
        return Response(status=204)


def _reading(resource: Blueprint, of_known_boat: Callable[[View], View]) -> None:
    @resource.route(ALL)
    @of_known_boat
    @resource.arguments(UnitsQuerySchema(), location="query", unknown=RAISE)
    @resource.response(200, CalibrationsSchema())
    @needs(Scope.READ)
    def read_all(asked: dict[str, Any], boat_id: str) -> Response:
        """All that was measured of the boat, in the order in which it came."""
        with the_store().reading() as session:
            rows = _shelf(session).page(
                MOST_CALIBRATIONS, where=[tables.Calibration.boat_id == boat_id]
            )
        return _response({"items": [_shown(row, asked["units"]) for row in rows]})

    @resource.route(ONE)
    @of_known_boat
    @resource.arguments(UnitsQuerySchema(), location="query", unknown=RAISE)
    @resource.response(200, SCHEMA)
    @needs(Scope.READ)
    def read_one(asked: dict[str, Any], boat_id: str, row_id: str) -> Response:
        """What was measured on one occasion."""
        row = _found(boat_id, row_id)
        response = _response(_shown(row, asked["units"]))
        etag.put_on(response, row.version, asked["units"])
        response.make_conditional(request)
        return response


def _with(boats: CalibratedBoats, boat_id: str, name: str, measured: Calibration) -> BoatModel:
    """What the boat is with this too; a ``ValidationError`` where it is not of her."""
    boat = boats.entered(boat_id)
    if faults := faults_of(boat, measured):
        raise ValidationError(faults)
    if boats.calibrations(boat_id) >= MOST_CALIBRATIONS:
        raise ValidationError(say.TOO_MANY_CALIBRATIONS.format(most=MOST_CALIBRATIONS))
    model = boats.model_with(boat_id, rules_for(boat), name, measured)
    if name in model.left_out:
        raise ValidationError({"loadings": [model.left_out[name]]})
    return model


def _shown(row: tables.Calibration, system: System) -> dict[str, Any]:
    return {
        "id": row.id,
        "boat": row.boat_id,
        "version": row.version,
        "created": row.created.isoformat(),
        "updated": row.updated.isoformat(),
        "units": system.value,
        **written(row.document, SCHEMA, system),
    }


def _shelf(session: Session) -> Shelf[tables.Calibration]:
    return Shelf(session, tables.Calibration, principal().outfit)


def _found(boat_id: str, row_id: str) -> tables.Calibration:
    """The calibration of this boat; :class:`NotStoredError` where it is of none or another."""
    with the_store().reading() as session:
        row = _shelf(session).find(row_id)
    if row.boat_id != boat_id:
        raise NotStoredError("calibration", row_id)
    return row


def _response(answer: dict[str, Any], status: int = 200) -> Response:
    body = current_app.json.dumps(answer)
    return Response(body, status, mimetype="application/json")
