"""``POST /v1/tuning``: on the water, one change at a time."""

from __future__ import annotations

from typing import Any

from flask import Response, current_app

from rules import tuning as on_the_water
from schemas.known import Riders, Setups
from schemas.request import Asked
from schemas.tuning_answer import present, present_signs
from schemas.tuning_card import tuning_card
from schemas.tuning_request import TuningRequestSchema
from schemas.tuning_shapes import SignsAnswerSchema, TuningAnswerSchema
from service.advice.tuning.requests import TuningRequest
from service.advice.tuning.tune import tune
from service.api import metrics
from service.api.accept import JSON, TEXT, media_type, offers
from service.api.body import Blueprint
from service.api.rulebase import rules_for
from service.boats.fleet import Boats


def blueprint(boats: Boats, riders: Riders, setups: Setups) -> Blueprint:
    """The resource; these are where ids are looked up."""
    resource = Blueprint("tuning", __name__, url_prefix="/v1", description="On the water.")

    @resource.route("/tuning", methods=["POST"])
    @resource.arguments(TuningRequestSchema(boats, riders, setups))
    @resource.response(200, TuningAnswerSchema())
    @offers(JSON, TEXT)
    def tuning(asked: Asked[TuningRequest]) -> Response:
        """What is set and what is seen in, the one next change out. Stores nothing."""
        found = tune(asked.request, rules_for(asked.request.boat), on_the_water.load())
        metrics.tuned(found)
        answer = present(found, asked.system)
        written = tuning_card(answer) if media_type() == TEXT else current_app.json.dumps(answer)
        response = Response(written, mimetype=media_type())
        response.headers["Rule-Set"] = f"{answer['rule_set']['version']}; {found.tuning.hash}"
        return response

    @resource.route("/tuning/signs")
    @resource.response(200, SignsAnswerSchema())
    def signs() -> dict[str, Any]:
        """What can be seen and how to tell it apart; what can be moved, in the order of attack."""
        return present_signs(on_the_water.load())

    return resource
