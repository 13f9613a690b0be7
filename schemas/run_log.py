"""A kept run as the log reads it: what was advised without the log, and what was set in the end."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from schemas.units import Dimension, System, unit
from service.calibration.log import Context, Ridden

_LOG = "log."


def logged(
    document: Mapping[str, Any], answer: Mapping[str, Any], rating: int | None, rider: str | None,
    started: datetime,
) -> Ridden | None:  # fmt: skip
    """``None`` for a run that tells nothing: not rated, on the other side, its accounts erased."""
    setup, accounts = answer["setup"], answer.get("accounts")
    set_to = document.get("settings") or {}
    side = setup["surf_side"]
    if rating is None or accounts is None or set_to.get("surf_side") not in (None, side):
        return None
    system = System.US if answer["units"]["speed"] == "mph" else System.METRIC
    off_side = "starboard" if side == "port" else "port"
    plates = set_to.get("plates") or {}
    advised, final = {}, {}
    for name, account, given in (
        ("speed", "speed", set_to.get("speed")),
        ("centre_plate", "plates.centre", plates.get("centre")),
        ("off_side_plate", f"plates.{off_side}", plates.get(off_side)),
    ):
        if account not in accounts:
            continue
        scale = _kmh(system) if name == "speed" else 1.0
        value = float(accounts[account]["value"]) * scale
        own = sum(
            float(line["change"]) * scale
            for line in accounts[account]["lines"]
            if line["rule"].startswith(_LOG)
        )
        advised[name] = value - own
        final[name] = value if given is None else float(given)
    day = started.timestamp() / 86400.0
    return Ridden(_context(answer, system), advised, final, rating, rider, day)


def _context(answer: Mapping[str, Any], system: System) -> Context:
    kg = float(unit(Dimension.MASS, system).scale)
    setup = answer["setup"]
    return Context(
        people=float(sum(group["people"] for group in setup["seating"])),
        water=kg * sum(tank["mass"] for tank in setup["tanks"]),
        rider_mass=kg * answer["rider"]["mass"],
    )


def _kmh(system: System) -> float:
    """One unit of speed of the system in km/h."""
    metric = unit(Dimension.SPEED, System.METRIC)
    return float(metric.outward(unit(Dimension.SPEED, system).inward(1)))  # type: ignore[arg-type]
