"""``POST /v1/tuning``: on the water, one change at a time; in a kept run, each call extends it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from flask import Response, current_app, request
from marshmallow import ValidationError

from rules import tuning as on_the_water
from schemas import error_texts as say
from schemas.known import Riders, Setups
from schemas.request import Asked
from schemas.tuning_answer import present, present_signs
from schemas.tuning_card import tuning_card
from schemas.tuning_history import entries
from schemas.tuning_request import TuningRequestSchema
from schemas.tuning_shapes import RUN_TUNING_BODY, SignsAnswerSchema, TuningAnswerSchema
from schemas.units import System
from service.advice.tuning.requests import TuningRequest
from service.advice.tuning.tune import tune
from service.api import admission, etag, idempotency, metrics, prices
from service.api.accept import JSON, TEXT, media_type, offers
from service.api.auth import needs, principal
from service.api.body import Blueprint, read
from service.api.learning import CalibratedBoats
from service.api.rulebase import rules_for
from service.api.stored import the_store
from service.outfits.keys import Scope
from service.storage import feedback, tables
from service.storage.documents import Shelf
from service.storage.tables import Document


def blueprint(boats: CalibratedBoats, riders: Riders, setups: Setups) -> Blueprint:
    """The resource; these are where ids are looked up."""
    resource = Blueprint("tuning", __name__, url_prefix="/v1", description="On the water.")
    schema = TuningRequestSchema(boats, riders, setups)

    @resource.route("/tuning", methods=["POST"])
    @resource.arguments(schema)
    @resource.response(200, TuningAnswerSchema())
    @admission.priced(resource, prices.tuning)
    @offers(JSON, TEXT)
    def tuning(asked: Asked[TuningRequest]) -> Response:
        """What is set and what is seen in, the one next change out. Stores nothing.

        What is not told is as `/v1/advice` would have it, and is listed under `assumed`. Loads lie
        where they are told; but where seats are not told, movable ones go along with the people.
        """
        return _written(_answer(asked))

    @resource.route("/tuning/signs")
    @resource.response(200, SignsAnswerSchema())
    def signs() -> dict[str, Any]:
        """What can be seen and how to tell it apart; what can be moved, in the order of attack."""
        return present_signs(on_the_water.load())

    @resource.route("/runs/<row_id>/tuning", methods=["POST"])
    @idempotency.once(resource)
    @resource.arguments(etag.IfMatchSchema(), location="headers")
    @resource.doc(requestBody=RUN_TUNING_BODY)
    @resource.response(200, TuningAnswerSchema())
    @offers(JSON, TEXT)
    @needs(Scope.WRITE)
    def tuning_of_run(_headers: dict[str, Any], row_id: str) -> Response:
        """The same in a kept run, which has the rest: `history` is what came since the last call.

        What came is added to the run in the version that If-Match names; the answer's ETag is that
        of the next one. So nothing is lost where two extend it at once: the later one gets a 412.
        """
        sent = read(request)
        with the_store().reading() as session:
            row = Shelf(session, tables.Run, principal().outfit).find(row_id)
        etag.check(row.version)
        asked: Asked[TuningRequest] = schema.load(
            _continued(row.document, sent, set(schema.fields))
        )
        if row.boat_id is not None:
            # Her log has this session's earlier looks: here they count as what was seen in it.
            boat = boats.without(row.boat_id, row.number)
            asked = replace(asked, request=replace(asked.request, boat=boat))
        answer = _answer(asked)
        response = _written(answer)
        document = {**row.document, KEPT: entries(asked.request.history)}
        with the_store().writing() as session:
            row = Shelf(session, tables.Run, principal().outfit).replace(
                row_id, row.version, document
            )
            feedback.note(session, principal().outfit, row_id, answer)
            etag.put_on(response, row.version)
            idempotency.keep(session, response)
        return response

    return resource


KEPT = "tuning"
"""Under this name a run keeps the session's changes."""


def _answer(asked: Asked[TuningRequest]) -> dict[str, Any]:
    found = tune(asked.request, rules_for(asked.request.boat), on_the_water.load())
    metrics.tuned(found)
    return present(found, asked.system)


def _written(answer: Mapping[str, Any]) -> Response:
    written = tuning_card(answer) if media_type() == TEXT else current_app.json.dumps(answer)
    response = Response(written, mimetype=media_type())
    sets = answer["rule_set"]
    response.headers["Rule-Set"] = f"{sets['version']}; {sets['tuning']}"
    return response


def _continued(run: Document, sent: Any, known: set[str]) -> dict[str, Any]:
    """The run's own request, as far as it is ``known`` here, with what is sent now, and all
    changes of the session.

    What was in the tanks when advice was asked is not what was set by it.
    """
    if not isinstance(sent, Mapping):
        raise ValidationError(say.GIVE_OBJECT)
    own = {name: value for name, value in run["request"].items() if name in known - {"ballast"}}
    for name in ("boat", "units"):
        if name in sent and sent[name] != own.get(name, System.METRIC):
            raise ValidationError({name: [say.RUNS_OWN]})
    now = sent.get("history", [])
    history = [*run.get(KEPT, []), *now] if isinstance(now, list) else now
    return {**own, **sent, "history": history}
