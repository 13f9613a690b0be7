"""What a small change would do: one person more on a seat, a tenth more in a tank.

First order, from the exact Jacobian of the equilibrium (implicit function theorem).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TypeVar

import numpy as np

from service.advice.answer import Sensitivity
from service.advice.balance.linear import surface_height
from service.advice.case import Case
from service.advice.loading_plan import Plan
from service.boats.model import Seat, Tank
from service.hydrostatics.equilibrium import Floating, response, sheer_heights
from service.hydrostatics.hull import Hull

ONE_PERSON = "one more person"
TENTH_OF_TANK = "10 % more in the tank"
TENTH = 0.1

Part = TypeVar("Part", Seat, Tank)


def sensitivities(case: Case, plan: Plan) -> Iterator[Sensitivity]:
    """For each seat and each tank, in the boat's own axes (heel positive to starboard).

    Nothing where the boat does not float.
    """
    floating = plan.attitude.floating
    if floating.heel is None or floating.trim is None or floating.sinkage is None:
        return
    condition, person_mass = case.condition, case.base.number("defaults.person_mass")
    seats = _as_listed(case.boat.seats, condition.boat.seats)
    tanks = _as_listed(case.boat.tanks, condition.boat.tanks)
    fills = {t.id: fill for t, fill in zip(condition.boat.tanks, plan.fills, strict=True)}
    spots = [(seat.x, seat.y, seat.z) for seat in seats]
    # The next water comes in at the surface of what is there.
    spots += [
        (t.x, t.y, surface_height(t.capacity, t.length, t.width, t.z, fills[t.id])) for t in tanks
    ]
    masses = [person_mass] * len(seats) + [TENTH * t.capacity * case.density for t in tanks]
    names = [(ONE_PERSON, s.id) for s in seats] + [(TENTH_OF_TANK, t.id) for t in tanks]
    if not spots:
        return
    x, y, z = np.array(spots).T
    moved = np.array(masses) * np.stack(response(floating, 1.0, x, y, z))
    freeboard = _least_slope(condition.boat.hull, floating) @ moved
    heel = (case.side.sign * moved[2] + 0.0).tolist()
    for (change, where), *of_each in zip(
        names, heel, moved[1].tolist(), freeboard.tolist(), strict=True
    ):
        yield Sensitivity(change, where, *of_each)


def _as_listed(listed: Sequence[Part], seen: Sequence[Part]) -> list[Part]:
    """The parts as seen in the surf frame, in the order in which the boat lists them."""
    by_id = {part.id: part for part in seen}
    return [by_id[part.id] for part in listed]


def _least_slope(hull: Hull, floating: Floating) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Change of the least freeboard with sinkage, trim and heel, at its lowest point."""
    c, trim, heel = floating.sinkage or 0.0, floating.trim or 0.0, floating.heel or 0.0
    heights = sheer_heights(hull, c, trim, heel)
    row, station = np.unravel_index(int(np.argmin(heights)), heights.shape)
    x, y, z = hull.sheer[station]
    y = y if row == 0 else -y
    up = y * math.sin(heel) + z * math.cos(heel)
    return np.array(
        (
            -1.0,
            math.cos(trim) * x - math.sin(trim) * up,
            math.cos(trim) * (y * math.cos(heel) - z * math.sin(heel)),
        )
    )
