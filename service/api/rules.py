"""``GET /v1/rules`` and ``/v1/rules/{id}``: the rule base, open to everybody."""

from __future__ import annotations

from flask import Response, jsonify, request
from werkzeug.exceptions import NotFound

import rules
from schemas.rule_answer import present_all, present_one
from schemas.shapes import OneRuleSchema, RulesSchema
from service.api.accept import HTML, JSON, media_type, offers
from service.api.body import Blueprint
from service.pages import rule_pages

blueprint = Blueprint("rules", __name__, url_prefix="/v1", description="The rule base.")


@blueprint.route("/rules")
@blueprint.response(200, RulesSchema())
@offers(JSON, HTML)
def every_rule() -> Response:
    """All topics with their parameters and rules."""
    if media_type() == HTML:
        words = request.args.get("q", "")[:80]
        return Response(rule_pages.all_rules(rules.load(), words), mimetype=HTML)
    return jsonify(present_all(rules.load()))


@blueprint.route("/rules/<rule_id>")
@blueprint.response(200, OneRuleSchema())
@offers(JSON, HTML)
def one_rule(rule_id: str) -> Response:
    """One rule with the parameters it uses."""
    try:
        if media_type() == HTML:
            return Response(rule_pages.one_rule(rules.load(), rule_id), mimetype=HTML)
        return jsonify(present_one(rules.load(), rule_id))
    except KeyError:
        raise NotFound(f'There is no rule "{rule_id[:64]}"; see /v1/rules.') from None
