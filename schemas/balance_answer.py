"""How to get from what is there now to the set-up, and what stands in its way, in words."""

from __future__ import annotations

import math
from typing import Any

from schemas import written
from schemas.units import Dimension, System
from service.advice.answer import Advice
from service.advice.changeover import Step
from service.advice.loading_plan import Help, HelpKind, Limit, Obstacle
from service.boats.model import Boat

WHAT = {
    Limit.FLOATS: "The boat does not float safely",
    Limit.FREEBOARD: "The side comes too low",
    Limit.BOW: "The bow comes too low",
    Limit.GM: "There is too little stability",
    Limit.MOST_LEAN: "The boat leans too far",
    Limit.LEAN: "The lean is outside its band",
    Limit.TRIM: "The trim is outside its band",
    Limit.ROOM: "The maker's limit leaves no room for all the water",
    Limit.WATER: "Water is left out to hold the limits",
    Limit.PLACES: "There are not enough places to sit",
}
_UNITS = {
    Limit.FREEBOARD: "m", Limit.BOW: "m", Limit.GM: "m", Limit.MOST_LEAN: "°", Limit.LEAN: "°",
    Limit.TRIM: "°", Limit.ROOM: "kg", Limit.WATER: "kg", Limit.PLACES: "people",
}  # fmt: skip


def obstacle(advice: Advice, found: Obstacle, system: System) -> dict[str, Any]:
    """What could not be had, by how much, and what would help."""
    unit = _UNITS.get(found.limit)
    by = f" by {written.quantity(abs(found.off), unit, system)}" if unit else ""
    return {
        "limit": found.limit.value,
        "text": f"{WHAT[found.limit]}{by}.",
        "help": [_help(advice, entry, system) for entry in found.help],
    }


def _help(advice: Advice, entry: Help, system: System) -> str:
    mass = written.quantity(entry.amount, "kg", system)
    match entry.kind:
        case HelpKind.BAG:
            return f"Bags of {mass} {_spot(advice, entry)}."
        case HelpKind.FEWER:
            count = written.quantity(math.ceil(entry.amount - 1e-9), "people", system)
            seat = "" if entry.seat is None else f" on the seat {advice.seats[entry.seat]}"
            return f"{count} fewer{seat}."
        case HelpKind.LESS_WATER:
            return f"{mass} less water."
        case HelpKind.MORE_ROOM:
            return f"{mass} more room under the maker's limit: people or gear ashore."


def _spot(advice: Advice, entry: Help) -> str:
    """``at the stern on the port side``, from a place in the surf frame."""
    hull = advice.boat.hull
    along = ((entry.x or 0.0) - hull.x_min) / hull.length
    where = "at the stern" if along < 1 / 3 else "amidships" if along < 2 / 3 else "in the bow"
    y = entry.y or 0.0
    if abs(y) < 0.1 * advice.boat.beam / 2:
        return f"{where} on the centreline"
    surf = advice.setup.surf_side
    side = surf if y > 0 else surf.other
    return f"{where} on the {side.value} side"


def changeover(advice: Advice, system: System) -> dict[str, Any] | None:
    """Who moves and what is pumped, in the order in which to do it; ``None`` where not asked."""
    found = advice.changeover
    if found is None:
        return None
    return {
        "steps": [_step(advice, step, system) for step in found.steps],
        "minutes": {
            "in_sequence": _minutes(found.in_sequence, system),
            "at_once": _minutes(found.at_once, system),
        },
        "breaks": [
            {"step": entry.step, "limit": entry.limit.value, "text": f"{WHAT[entry.limit]}."}
            for entry in found.breaks
        ],
    }


def _step(advice: Advice, step: Step, system: System) -> dict[str, Any]:
    lean, side = step.after.lean, advice.setup.surf_side
    after = {
        "heel": None if lean is None else round(-side.across(lean), 2) + 0.0,
        "least_freeboard": written.number(step.after.least_freeboard, Dimension.LENGTH, system),
    }
    if step.tank is not None:
        return {
            "do": "pump",
            "tank": advice.tanks[step.tank],
            "from": written.number(step.fill, Dimension.PERCENT, system),
            "to": written.number(step.to_fill, Dimension.PERCENT, system),
            "volume": written.number(step.volume, Dimension.VOLUME, system),
            "minutes": _minutes(step.seconds, system),
            "together": step.batch,
            "after": after,
        }
    if step.load is not None:
        return {
            "do": "shift",
            "load": advice.loads[step.load].name,
            "from": None,
            "to": step.goal,
            "after": after,
        }
    return {
        "do": "move",
        "people": len(step.who),
        "persons": [advice.setup.seating[who].person.number for who in step.who],
        "from": step.origin,
        "to": step.goal,
        "after": after,
    }


def _minutes(seconds: float | None, system: System) -> float | None:
    return written.number(seconds, Dimension.TIME, system)


def pumping(boat: Boat, tank_id: str, change: float, system: System) -> dict[str, float | None]:
    """Water in, or out where negative, for one tank, and minutes at its pump's rate.

    ``change`` in m³; minutes are ``None`` where the rate is unknown.
    """
    tank = next(tank for tank in boat.tanks if tank.id == tank_id)
    rate = tank.fill_rate if change > 0 else tank.drain_rate
    seconds = 0.0 if change == 0 else None if not rate else abs(change) / rate
    return {
        "change": written.number(change, Dimension.VOLUME, system),
        "minutes": _minutes(seconds, system),
    }
