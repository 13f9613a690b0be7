"""Seats that people keep to: while others ride, and on the way home."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from rules.base import RuleBase
from service.advice.case import open_case
from service.advice.loading_condition import LoadingCondition, bow_begins, unmoved
from service.advice.loading_plan import Band, Practice, Wanted, plan_loading
from service.advice.requests import AdviceRequest, Person, Rider
from service.advice.wanted import level_trim
from service.boats.model import Boat, Side
from service.outings.trip import Spot, Stand, Trip, beside_seats, spot_of, spots_of


def homes(
    condition: LoadingCondition, boat: Boat, sides: Sequence[Side], base: RuleBase
) -> tuple[Spot, ...]:
    """Seats from which few have to move for any rider: the mean of the leans that riders want.

    Whoever was given a seat has it: for the solver they are at a place, which is taken. Loads lie
    where they were given.
    """
    seats = {seat.id: seat for seat in condition.boat.seats}
    given = [p.seat for p in condition.people if p.seat is not None]
    settled = replace(
        condition,
        boat=replace(
            condition.boat,
            seats=tuple(
                replace(seat, places=max(seat.places - given.count(seat.id), 0))
                for seat in condition.boat.seats
            ),
        ),
        people=tuple(
            person
            if person.seat is None
            else replace(person, seat=None, x=seats[person.seat].x, y=seats[person.seat].y)
            for person in condition.people
        ),
        loads=unmoved(condition.loads),
    )
    bare = AdviceRequest(boat, Rider(), crew=(), water=condition.water, surf_side=sides[0])
    level = level_trim(replace(open_case(bare, base), condition=condition))
    lean = base.number("balance.lean") * math.fsum(
        1.0 if side is sides[0] else -1.0 for side in sides
    )
    aim = Wanted(
        practice=Practice.of(base, boat),
        lean=Band(lean / len(sides), base.number("balance.lean_band")),
        trim=Band(level or 0.0, base.number("balance.bow_band")),
        fills=(base.number("ballast.factory_fill") / 100.0,) * len(condition.boat.tanks),
        room=None,
        least_freeboard=base.number("attitude.freeboard_caution"),
    )
    found = plan_loading(settled, aim).people
    people = tuple(
        before if before.seat is not None else after
        for before, after in zip(condition.people, found, strict=True)
    )
    return spots_of(people, sides[0])


def way_home(trip: Trip, turns: Sequence[Stand]) -> tuple[Stand, bool]:
    """Level, drained, people aft; whether there are seats enough for everybody out of the bow.

    Less than a step that was there at the start, and stays in all ``turns``, is left to drain at
    the dock.
    """
    boat, base = trip.seen.boat, trip.base
    bow = bow_begins(boat.hull)
    aft = [seat for seat in boat.seats if seat.x <= bow]
    loose = sum(not isinstance(spot_of(person), tuple) for person in trip.people)
    enough = sum(seat.places for seat in aft) >= loose
    there = replace(boat, seats=tuple(aft)) if enough else boat
    people = [
        replace(person, seat=None) if _in_bow(person, boat, bow) else person
        for person in trip.people
    ]
    loads = trip.seen.loads
    home = replace(
        trip.seen,
        boat=there,
        people=tuple(trip.at(n, spot_of(person)) for n, person in enumerate(people)),
        loads=loads if trip.shifting else unmoved(loads),
        fills=_drained(trip, turns),
        fuel=trip.fuel,
    )
    aim = Wanted(
        practice=Practice.of(base, boat),
        lean=Band(0.0, base.number("balance.lean_band")),
        trim=Band(0.0, 90.0),
        fills=(0.0,) * len(boat.tanks),
        room=0.0,
        least_freeboard=base.number("attitude.freeboard_caution"),
    )
    plan = plan_loading(home, aim)
    bags = beside_seats(trip.seen, plan.loads)
    return Stand(spots_of(plan.people, trip.side), home.fills, bags=bags), enough


def _drained(trip: Trip, turns: Sequence[Stand]) -> tuple[float, ...]:
    """No water, but what is too little to pump."""
    step = Practice.of(trip.base, trip.boat).step
    return tuple(
        now if now < step and all(turn.fills[n] == now for turn in turns) else 0.0
        for n, now in enumerate(trip.now.fills)
    )


def _in_bow(person: Person, boat: Boat, bow: float) -> bool:
    return any(seat.id == person.seat and seat.x > bow for seat in boat.seats)
