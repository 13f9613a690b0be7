"""How a boat lies, written in the request's units."""

from __future__ import annotations

from typing import Any

from schemas import written
from schemas.units import Dimension, System
from service.advice.answer import AtRest
from service.hydrostatics.stability import Freeboard, Hydrostatics


def at_rest(rest: AtRest, system: System) -> dict[str, Any]:
    """The floating position and its stability; ``null`` where the boat does not float."""
    return {
        "status": rest.status.value,
        "displacement": written.number(rest.displacement, Dimension.MASS, system),
        "draft": {
            "origin": written.number(rest.draft_origin, Dimension.LENGTH, system),
            "amidships": written.number(rest.draft_amidships, Dimension.LENGTH, system),
        },
        "heel": written.number(rest.heel, Dimension.ANGLE, system),
        "trim": written.number(rest.trim, Dimension.ANGLE, system),
        "freeboard": _freeboard(rest.freeboard, system),
        **_stability(rest.hydrostatics, system),
    }


def _freeboard(board: Freeboard | None, system: System) -> dict[str, float | None] | None:
    if board is None:
        return None
    return {
        side: written.number(getattr(board, side), Dimension.LENGTH, system)
        for side in ("bow", "stern", "port", "starboard", "least")
    }


def _stability(found: Hydrostatics | None, system: System) -> dict[str, Any]:
    """KB, BM, KM, GM and the rest of the upright figures; ``null`` where there are none."""

    def length(value: float | None) -> float | None:
        return written.number(value, Dimension.LENGTH, system)

    if found is None:
        return dict.fromkeys(("kb", "bm", "km", "gm", "bm_long", "moment_to_change_trim"))
    return {
        "kb": length(found.kb),
        "bm": length(found.bm),
        "km": length(found.km),
        "gm": {"solid": length(found.gm_solid), "fluid": length(found.gm_fluid)},
        "bm_long": length(found.bm_long),
        "moment_to_change_trim": _moment_to_change_trim(found.moment_to_change_trim, system),
    }


def _moment_to_change_trim(per_cm: float, system: System) -> dict[str, Any]:
    """kg·m for 1 cm, or lb·ft for 1 in."""
    if system is System.METRIC:
        return {"value": round(per_cm, 2), "unit": "kg·m/cm"}
    per_inch = per_cm * 2.54 / (0.45359237 * 0.3048)
    return {"value": round(per_inch, 1), "unit": "lb·ft/in"}
