"""``GET /v1/rules`` and ``/v1/rules/{id}``: the rule base, open to everybody."""

from __future__ import annotations

from flask import Response, g, jsonify, request
from werkzeug.exceptions import NotFound

from rules import tuning as on_the_water
from schemas import error_texts as say
from schemas.rule_answer import present_all, present_feedback, present_one, rule_sets
from schemas.rule_shapes import OneRuleSchema, RulesSchema
from service.api.accept import HTML, JSON, media_type, offers
from service.api.body import Blueprint
from service.api.rulebase import rules_for_fleet
from service.api.stored import the_store
from service.outfits.keys import Scope
from service.pages import rule_pages
from service.storage import feedback
from service.storage.feedback import Feedback

blueprint = Blueprint("rules", __name__, url_prefix="/v1", description="The rule base.")


@blueprint.route("/rules")
@blueprint.response(200, RulesSchema())
@offers(JSON, HTML)
def every_rule() -> Response:
    """All topics with their parameters and rules, for the set-up and for the tuning."""
    base, tuning = rules_for_fleet(), on_the_water.load()
    if media_type() == HTML:
        words = request.args.get("q", "")[:80]
        return Response(rule_pages.all_rules(base, tuning, words), mimetype=HTML)
    return jsonify(present_all(base, tuning))


@blueprint.route("/rules/<rule_id>")
@blueprint.response(200, OneRuleSchema())
@offers(JSON, HTML)
def one_rule(rule_id: str) -> Response:
    """One rule with its parameters and cases; with a key, how often it was overridden."""
    base, tuning = rules_for_fleet(), on_the_water.load()
    own = next((each for each in (base, tuning.rules) if rule_id in each.rules), None)
    if own is None:
        raise NotFound(say.NO_SUCH_RULE.format(id=rule_id[:64]))
    found = _feedback(rule_id)
    if media_type() == HTML:
        return Response(rule_pages.one_rule(own, rule_id, found), mimetype=HTML)
    shown = present_one(own, rule_id, rule_sets(base, tuning))
    if found is not None:
        shown["feedback"] = present_feedback(found)
    return jsonify(shown)


def _feedback(rule_id: str) -> Feedback | None:
    """What the outfit's runs say of the rule, where a key that may read them was given."""
    if g.principal is None or Scope.READ not in g.principal.scopes:
        return None
    with the_store().reading() as session:
        return feedback.of_rule(session, g.principal.outfit, rule_id)
