"""What the rules want of the loading, in the terms of the solver."""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal

from rules.accounts import Line, quantised
from rules.model import Target
from service.advice.balance.problem import in_steps
from service.advice.case import Case
from service.advice.learned import FORWARD, begins_forward, is_of_log
from service.advice.loading_plan import Band, Practice, Wanted
from service.boats.model import Tank
from service.caches import MB, split_cache
from service.hydrostatics.equilibrium import equilibrium
from service.hydrostatics.hull import Hull
from service.hydrostatics.weights import Loading, combine


def level_trim(case: Case) -> float | None:
    """Trim (degrees) with tanks as the factory fills them and nobody aboard: the builder's."""
    condition = case.condition
    boat = condition.boat
    full = [case.base.number("ballast.factory_fill") / 100.0] * len(boat.tanks)
    weights = [*condition.lightship(), *condition.water_weights(full)]
    return _trim(boat.hull, combine(weights), condition.density)


@split_cache(
    kept=MB, inline=MB, is_kept=lambda hull, *_: hull.kept, key=lambda hull, *of: (hull.digest, *of)
)
def _trim(hull: Hull, loading: Loading, density: float) -> float | None:
    trim = equilibrium(hull, loading, density).trim
    return None if trim is None else math.degrees(trim)


def wanted(case: Case, level: float | None) -> Wanted:
    """Bands for lean and trim, fills to start from, and the limits. ``level``: see above."""
    number, base = case.reasoning.number, case.base
    return Wanted(
        practice=Practice.of(base, case.boat),
        lean=Band(number(Target.LEAN), base.number("balance.lean_band")),
        trim=Band((level or 0.0) + number(Target.BOW_UP), base.number("balance.bow_band")),
        fills=tuple(float(fill) / 100.0 for fill in starting_fills(case)),
        room=room(case),
        least_freeboard=base.number("attitude.freeboard_caution"),
        least_gm=base.number("attitude.gm_stop"),
        least_bow=base.number("attitude.bow_freeboard_caution"),
        most_lean=base.number("attitude.lean_caution"),
        ample_gm=base.number("attitude.gm_caution"),
    )


def starting_fills(case: Case) -> list[Decimal]:
    """Percent of capacity that is asked of each tank, before limits and balance."""
    return [sum((line.change for line in lines), Decimal(0)) for lines in asked_of_tanks(case)]


def asked_of_tanks(case: Case) -> list[tuple[Line, ...]]:
    """What asks for water in each tank, by the rules and by the boat's log (percent).

    The rules alone may ask for more than a tank holds, and are then told so; the log never does.
    """
    even, less = (
        account.lines if account else ()
        for account in map(case.reasoning.account, (Target.BALLAST, Target.OFF_SIDE_BALLAST))
    )
    off_side = [replace(line, kind="add") for line in less]
    log, facts = case.reasoning.log, case.reasoning.facts
    forward = log.lines(FORWARD, facts) if even else ()
    begins = begins_forward(case.condition.boat)
    asked = []
    for tank in case.condition.boat.tanks:
        further = [*(off_side if tank.y < 0 else ()), *(forward if tank.x > begins else ())]
        lines = (*even, *(line for line in further if line.change))
        asked.append(lines if log.learned is None else _held(lines, tank))
    return asked


def _held(lines: tuple[Line, ...], tank: Tank) -> tuple[Line, ...]:
    """The same with the log's part no further than the tank goes, empty or full."""
    by_rules = sum((line.change for line in lines if not is_of_log(line)), Decimal(0))
    wish = sum((line.change for line in lines), Decimal(0))
    most = quantised(100.0 * tank.max_fill, Decimal("0.1"))
    held = min(max(wish, min(by_rules, Decimal(0))), max(by_rules, most))
    if held == wish:
        return lines
    label = "no more than the tank holds" if held < wish else "no emptier than empty"
    return (*lines, Line("ballast.within_limits", label, held - wish, "bound"))


def water_wanted(case: Case) -> float:
    """Mass (kg) of water in the starting fills, in whole steps."""
    condition, step = case.condition, 100.0 * Practice.of(case.base, case.boat).step
    fills = [float(fill) / 100.0 for fill in starting_fills(case)]
    return condition.water_mass((in_steps(condition.boat.tanks, fills, step) / 100.0).tolist())


def room(case: Case) -> float | None:
    """Mass (kg) of ballast water that the maker's limit leaves with the rider aboard.

    ``None``: no limit is known, or it does not count the water.
    """
    limits = case.boat.limits
    if limits.load_mass is None or limits.includes_ballast is False:
        return None
    condition = case.condition
    people = condition.people_mass + case.rider.mass
    return max(limits.load_mass - people - condition.gear_mass, 0.0)
