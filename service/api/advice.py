"""``POST /v1/advice``: the main job."""

from __future__ import annotations

from flask import Response, current_app

import rules
from schemas.advice_answer import present
from schemas.advice_request import AdviceRequestSchema
from schemas.card import card
from schemas.request import Asked
from schemas.shapes import AdviceAnswerSchema
from service.advice.advise import advise
from service.advice.requests import AdviceRequest
from service.api.accept import JSON, TEXT, media_type, offers
from service.api.body import Blueprint
from service.boats.fleet import Boats


def blueprint(boats: Boats) -> Blueprint:
    """The resource; ``boats`` is where a boat's id is looked up."""
    resource = Blueprint("advice", __name__, url_prefix="/v1", description="The main job.")

    @resource.route("/advice", methods=["POST"])
    @resource.arguments(AdviceRequestSchema(boats))
    @resource.response(200, AdviceAnswerSchema())
    @offers(JSON, TEXT)
    def advice(asked: Asked[AdviceRequest]) -> Response:
        """Crew, ballast and rider in, an explained set-up for this rider out. Stores nothing."""
        found = advise(asked.request, rules.load())
        answer = present(found, asked.system)
        written = card(answer) if media_type() == TEXT else current_app.json.dumps(answer)
        response = Response(written, mimetype=media_type())
        response.headers["Rule-Set"] = f"{answer['rule_set']['version']}; {found.base.hash}"
        return response

    return resource
