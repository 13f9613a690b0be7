"""Seats that people keep to: while others ride, and on the way home."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from rules.base import RuleBase
from service.advice.case import open_case
from service.advice.loading_plan import HELM, Band, Plan, Wanted, plan_loading
from service.advice.requests import AdviceRequest, Rider
from service.advice.situation import Cargo, Gaps, Occupant, cargo_of
from service.advice.wanted import level_trim
from service.advice.weighing import bow_begins, unmoved
from service.boats.model import Boat, Side
from service.outings.trip import Somebody, Spot, Stand, Trip, laid, persons, placed


def homes(
    cargo: Cargo, boat: Boat, people: Sequence[Somebody], sides: Sequence[Side], water: float,
    base: RuleBase,
) -> tuple[Spot, ...]:  # fmt: skip
    """Seats from which few have to move for any rider: the mean of the leans that riders want.

    Who has told a seat has it: for the solver they are at a spot, and their place is taken. Loads
    lie where they were told.
    """
    seats = cargo.boat.seats
    told = [p.seat for p in cargo.people if p.seat is not None and seats[p.seat].id != HELM]
    settled = replace(
        cargo,
        boat=replace(
            cargo.boat,
            seats=tuple(
                replace(seat, places=seat.places - told.count(n)) for n, seat in enumerate(seats)
            ),
        ),
        people=tuple(
            Occupant(p.mass, x=seats[p.seat].x, y=seats[p.seat].y)
            if p.seat is not None and p.seat in told
            else p
            for p in cargo.people
        ),
        loads=unmoved(cargo.loads),
    )
    bare = AdviceRequest(boat, Rider(), crew=(), water=cargo.water, surf_side=sides[0])
    level = level_trim(replace(open_case(bare, base), cargo=cargo))
    lean = base.number("balance.lean") * math.fsum(
        1.0 if side is sides[0] else -1.0 for side in sides
    )
    aim = Wanted(
        lean=Band(lean / len(sides), base.number("balance.lean_band")),
        trim=Band(level or 0.0, base.number("balance.bow_band")),
        fills=(base.number("ballast.factory_fill") / 100.0,) * len(cargo.boat.tanks),
        room=None,
        least_freeboard=base.number("attitude.freeboard_caution"),
        least_driver=base.number("watch.child"),
    )
    plan = plan_loading(settled, aim, water, base.number("defaults.fuel_density"))
    found = [
        before if before.seat is not None and before.seat in told else after
        for before, after in zip(cargo.people, plan.people, strict=True)
    ]
    return placed(people, cargo, found, sides[0])


def way_home(trip: Trip) -> tuple[Stand, bool]:
    """Level, drained, people aft; whether there are seats enough for everybody out of the bow."""
    boat, base = trip.seen.boat, trip.base
    bow = bow_begins(boat.hull)
    aft = [seat for seat in boat.seats if seat.x <= bow]
    loose = sum(not isinstance(person.home, tuple) for person in trip.people)
    enough = sum(seat.places for seat in aft) >= loose
    there = replace(boat, seats=tuple(aft)) if enough else boat
    people = [
        replace(person, home=None) if _in_bow(person, boat, bow) else person
        for person in trip.people
    ]
    request = AdviceRequest(
        there, Rider(), crew=persons(people), ballast={}, loads=(), water=trip.water, fuel=trip.fuel
    )
    cargo = cargo_of(request, Side.PORT, Gaps(base))
    if trip.side is Side.STARBOARD:
        # ``there`` is in the trip's frame already; so are seats, but not places told in metres.
        cargo = replace(
            cargo,
            people=tuple(p if p.y is None else replace(p, y=-p.y + 0.0) for p in cargo.people),
        )
    loads = trip.seen.loads
    cargo = replace(cargo, loads=loads if trip.shifting else unmoved(loads))
    aim = Wanted(
        lean=Band(0.0, base.number("balance.lean_band")),
        trim=Band(0.0, 90.0),
        fills=(0.0,) * len(boat.tanks),
        room=0.0,
        least_freeboard=base.number("attitude.freeboard_caution"),
        least_driver=base.number("watch.child"),
    )
    plan: Plan = plan_loading(cargo, aim, trip.density, trip.fuel_density)
    places = placed(people, cargo, plan.people, trip.side)
    bags = laid(trip.seen, trip.side, cargo, plan.bags, trip.side)
    return Stand(places, (0.0,) * len(boat.tanks), bags=bags), enough


def _in_bow(person: Somebody, boat: Boat, bow: float) -> bool:
    return any(seat.id == person.home and seat.x > bow for seat in boat.seats)
