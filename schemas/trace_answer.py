"""Why, and why not: everything the rules saw and did, for ``?trace=full``."""

from __future__ import annotations

from typing import Any

from rules.model import Stage
from rules.trace import NotFired, Why, trace
from schemas import plain
from schemas.record import InputSchema
from schemas.rule_answer import present_parameter
from service.advice.answer import Advice

SAYS = {
    Why.UNKNOWN: "not told",
    Why.NOT_YET: "not known at that stage",
    Why.NOT_FOUND: "nothing of the kind was found",
    Why.FOUND: "it was found",
}


class TraceSchema(InputSchema):
    """Whether the answer is to carry its trace."""

    trace = plain.String(
        load_default="none",
        validate=plain.OneOf(["none", "full"]),
        metadata={"description": "full: every fact, rule and parameter, and why not."},
    )


def present_trace(advice: Advice) -> dict[str, Any]:
    """Facts, every rule that fired in order, every one that did not and why, parameters used.

    In the units in which the rules are written, whatever the request's are.
    """
    found = trace(advice.base, advice.facts, advice.firings, list(Stage))
    return {
        "facts": {kind: dict(fields) for kind, fields in advice.facts.items()},
        "found": sorted(advice.found),
        "fired": [
            {
                "rule": fired.rule.id,
                "stage": fired.rule.stage.value,
                "conditions": list(fired.conditions),
                "bound": dict(fired.bound),
            }
            for fired in found.fired
        ],
        "not_fired": [
            {
                "rule": missed.rule.id,
                "stage": missed.rule.stage.value,
                "condition": missed.condition,
                "because": _because(missed),
            }
            for missed in found.not_fired
        ],
        "parameters": [present_parameter(parameter) for parameter in found.parameters],
    }


def _because(missed: NotFired) -> str:
    if missed.why is Why.OTHERWISE:
        return f"{missed.fact} was {missed.value}"
    return f"{missed.fact}: {SAYS[missed.why]}" if missed.fact else SAYS[missed.why]
