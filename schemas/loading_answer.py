"""``POST /v1/loading``: what is answered, written in the request's units."""

from __future__ import annotations

from typing import Any

from schemas import written
from schemas.advice_answer import assumed, warned
from schemas.at_rest_answer import at_rest
from schemas.rule_answer import rule_set
from schemas.stability_answer import present_stability
from schemas.units import Dimension, System, unit_names
from service.advice.loading import Limit, LoadingCheck


def present(check: LoadingCheck, system: System) -> dict[str, Any]:
    """The whole answer as JSON-ready data."""
    answer = {
        "verdict": check.verdict.value,
        "boat": {"id": check.boat.id, "name": check.boat.name},
        **at_rest(check.at_rest, system),
        "gz": [
            {
                "angle": written.number(angle, Dimension.ANGLE, system),
                "gz": written.number(gz, Dimension.LENGTH, system),
            }
            for angle, gz in zip(check.angles, check.gz, strict=True)
        ],
        "limits": [_limit(limit, system) for limit in check.limits],
        "cautions": [warned(entry, check.base, check.facts, system) for entry in check.cautions],
        "assumed": [assumed(gap, system) for gap in check.assumed],
        "rule_set": rule_set(check.base),
        "units": unit_names(system),
    }
    if check.stability is not None:
        answer["stability"] = present_stability(check.stability, system)
    return answer


def _limit(limit: Limit, system: System) -> dict[str, Any]:
    def value(inside: float | None) -> float | None:
        if not limit.dimension:
            return inside
        return written.number(inside, Dimension(limit.dimension), system)

    return {
        "name": limit.name,
        "value": value(limit.value),
        "limit": value(limit.limit),
        "within": limit.within,
        "source": limit.source,
    }
