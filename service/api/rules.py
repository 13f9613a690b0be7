"""``GET /v1/rules`` and ``/v1/rules/{id}``: the rule base, open to everybody."""

from __future__ import annotations

from flask import Response, jsonify
from werkzeug.exceptions import NotFound

import rules
from schemas.rule_answer import present_all, present_one
from schemas.shapes import OneRuleSchema, RulesSchema
from service.api.body import Blueprint

blueprint = Blueprint("rules", __name__, url_prefix="/v1", description="The rule base.")


@blueprint.route("/rules")
@blueprint.response(200, RulesSchema())
def every_rule() -> Response:
    """All topics with their parameters and rules."""
    return jsonify(present_all(rules.load()))


@blueprint.route("/rules/<rule_id>")
@blueprint.response(200, OneRuleSchema())
def one_rule(rule_id: str) -> Response:
    """One rule with the parameters it uses."""
    try:
        return jsonify(present_one(rules.load(), rule_id))
    except KeyError:
        raise NotFound(f'There is no rule "{rule_id[:64]}"; see /v1/rules.') from None
