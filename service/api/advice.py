"""``POST /v1/advice``: the main job."""

from __future__ import annotations

from typing import Any

from flask import Response, current_app

from schemas.advice_answer import present
from schemas.advice_request import AdviceRequestSchema
from schemas.advice_shapes import AdviceAnswerSchema
from schemas.card import card
from schemas.known import Riders, Setups
from schemas.request import Asked
from schemas.trace_answer import TraceSchema, present_trace
from schemas.units import System
from service.advice.advise import advise
from service.advice.answer import Advice
from service.advice.requests import AdviceRequest
from service.advice.saved import beside
from service.api import accept, admission, metrics, prices
from service.api.accept import HTML, JSON, PNG, SVG, TEXT, media_type, offers
from service.api.body import Blueprint
from service.api.rulebase import rules_for
from service.boats.fleet import Boats
from service.pages.loading_plan import loading_plan
from service.pages.png import png
from service.pages.scene import scene_of
from service.pages.sheet import sheet


def _written(found: Advice, answer: dict[str, Any], system: System) -> str | bytes:
    """The answer in the form that was asked for."""
    match media_type():
        case accept.TEXT:
            return card(answer)
        case accept.HTML:
            return sheet(found, answer, system)
        case accept.SVG:
            return loading_plan(scene_of(found), system)
        case accept.PNG:
            return png(loading_plan(scene_of(found), system))
        case _:
            return current_app.json.dumps(answer)


def answered(asked: Asked[AdviceRequest]) -> tuple[Advice, dict[str, Any]]:
    """The advice and the answer that is written of it."""
    base = rules_for(asked.request.boat)
    found = advise(asked.request, base)
    saved = beside(asked.request, base, found.setup.surf_side)
    return found, present(found, asked.system, saved)


def blueprint(boats: Boats, riders: Riders, setups: Setups) -> Blueprint:
    """The resource; these are where ids are looked up."""
    resource = Blueprint("advice", __name__, url_prefix="/v1", description="The main job.")

    @resource.route("/advice", methods=["POST"])
    @resource.arguments(AdviceRequestSchema(boats, riders, setups))
    @resource.arguments(TraceSchema(), location="query")
    @resource.response(200, AdviceAnswerSchema())
    @admission.priced(resource, prices.advice)
    @offers(JSON, TEXT, HTML, SVG, PNG)
    def advice(asked: Asked[AdviceRequest], wanted: dict[str, str]) -> Response:
        """Crew, ballast and rider in, an explained set-up for this rider out. Stores nothing."""
        found, answer = answered(asked)
        metrics.advised(found)
        if wanted["trace"] == "full":
            answer["trace"] = present_trace(found)
        response = Response(_written(found, answer, asked.system), mimetype=media_type())
        response.headers["Rule-Set"] = f"{answer['rule_set']['version']}; {found.base.hash}"
        return response

    return resource
