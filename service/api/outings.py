"""``POST /v1/outing-plans``: several riders, who rides when, and what changes in between."""

from __future__ import annotations

from typing import Any

from flask import Response, current_app, request
from werkzeug.exceptions import UnprocessableEntity

from schemas import error_texts as say
from schemas.known import Riders, Setups
from schemas.outing_answer import present
from schemas.outing_calendar import calendar
from schemas.outing_card import card
from schemas.outing_page import context
from schemas.outing_request import OutingRequestSchema
from schemas.outing_shapes import OutingAnswerSchema
from schemas.request import Asked
from service.api import accept, admission, body, metrics, prices
from service.api.accept import HTML, JSON, TEXT, media_type, offers
from service.api.body import Blueprint
from service.api.rulebase import rules_for
from service.boats.fleet import Boats
from service.outings.outing import plan_outing
from service.outings.requests import OutingRequest
from service.pages.rendering import render

CALENDAR = "text/calendar"


def _written(answer: dict[str, Any]) -> str:
    """The answer in the form that was asked for."""
    match media_type():
        case accept.TEXT:
            return card(answer)
        case accept.HTML:
            return render("outing.html", **context(answer))
        case "text/calendar":
            return calendar(answer)
        case _:
            return current_app.json.dumps(answer)


def blueprint(boats: Boats, riders: Riders, setups: Setups) -> Blueprint:
    """The resource; these are where ids are looked up."""
    resource = Blueprint("outings", __name__, url_prefix="/v1", description="Several riders.")

    @resource.route("/outing-plans", methods=["POST"])
    @resource.arguments(OutingRequestSchema(boats, riders, setups))
    @resource.response(200, OutingAnswerSchema())
    @admission.priced(resource, prices.outing)
    @offers(JSON, TEXT, HTML, CALENDAR)
    def outing_plan(asked: Asked[OutingRequest]) -> Response:
        """Riders, crew, water and time in; their order, set-ups and change-overs out."""
        if media_type() == CALENDAR and asked.request.start is None:
            raise UnprocessableEntity(say.CALENDAR_WANTS_START)
        found = plan_outing(asked.request, rules_for(asked.request.boat))
        metrics.planned(found)
        answer = present(found, body.read(request), asked.system)
        response = Response(_written(answer), mimetype=media_type())
        response.headers["Rule-Set"] = f"{answer['rule_set']['version']}; {found.trip.base.hash}"
        return response

    return resource
