"""``GET /v1/rules`` and ``/v1/rules/{id}``: the rule base, open to everybody."""

from __future__ import annotations

from typing import Any

from werkzeug.exceptions import NotFound

import rules
from schemas.rule_answer import present_all, present_one
from service.api.body import Blueprint

blueprint = Blueprint("rules", __name__, url_prefix="/v1", description="The rule base.")


@blueprint.route("/rules")
@blueprint.response(200)
def every_rule() -> dict[str, Any]:
    """All topics with their parameters and rules."""
    return present_all(rules.load())


@blueprint.route("/rules/<rule_id>")
@blueprint.response(200)
def one_rule(rule_id: str) -> dict[str, Any]:
    """One rule with the parameters it uses."""
    try:
        return present_one(rules.load(), rule_id)
    except KeyError:
        raise NotFound(f'There is no rule "{rule_id[:64]}"; see /v1/rules.') from None
