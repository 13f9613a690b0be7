"""``POST /v1/loading``: the hydrostatic check alone."""

from __future__ import annotations

from flask import Response, jsonify

from schemas.known import Riders
from schemas.loading_answer import present
from schemas.loading_request import LoadingRequestSchema
from schemas.loading_shapes import LoadingAnswerSchema
from schemas.request import Asked
from schemas.stability_answer import StabilityQuerySchema
from service.advice.loading import check_loading
from service.advice.requests import LoadingRequest
from service.api import limits, metrics, prices
from service.api.body import Blueprint
from service.api.rulebase import rules_for
from service.boats.fleet import Boats


def blueprint(boats: Boats, riders: Riders) -> Blueprint:
    """The resource; these are where ids are looked up."""
    resource = Blueprint("loading", __name__, url_prefix="/v1", description="How the boat lies.")

    @resource.route("/loading", methods=["POST"])
    @resource.arguments(LoadingRequestSchema(boats, riders))
    @resource.arguments(StabilityQuerySchema(), location="query")
    @resource.response(200, LoadingAnswerSchema())
    def loading(asked: Asked[LoadingRequest], wanted: dict[str, str]) -> Response:
        """Weights in; floating position, stability, freeboards and limits out."""
        limits.charge(prices.loading(asked.request))
        check = check_loading(
            asked.request, rules_for(asked.request.boat), stability=wanted["stability"] == "full"
        )
        metrics.told(check.verdict, check.firings)
        return jsonify(present(check, asked.system))

    return resource
