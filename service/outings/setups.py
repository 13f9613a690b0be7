"""The set-up of one rider's turn: by the rules, from a saved set-up, or as a compromise."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from enum import StrEnum
from functools import partial

from service.advice import saved as before
from service.advice.balance.way import put
from service.advice.case import Case
from service.advice.loading_plan import Plan, plan_loading
from service.advice.requests import AdviceRequest, Person
from service.advice.wanted import water_wanted
from service.boats.model import SeatRole, Side
from service.outings.below_a_step import unpumped
from service.outings.trip import Stand, Trip, beside_seats, spot_of, spots_of, wish_of


class Origin(StrEnum):
    """Where the numbers of a turn come from."""

    RULES = "rules"
    SAVED = "saved"
    CARRIED_OVER = "carried_over"
    COMPROMISE = "compromise"


@dataclass(frozen=True, slots=True, eq=False)
class Turn(before.Concluded):
    """The set-up for one rider with everybody else aboard; ``fuel`` (fraction) it is made for.

    ``stand`` is in the trip's frame, ``attitude`` in the rider's surf frame.
    """

    rider: int
    origin: Origin
    request: AdviceRequest
    fuel: float
    stand: Stand

    @property
    def side(self) -> Side:
        return self.setup.surf_side


@dataclass(frozen=True, slots=True)
class Opened(before.Opened):
    """A rider's case after the rules on limits, need and loading, and what they want."""

    rider: int


def opened(trip: Trip, rider: int, fuel: float, side: Side | None = None) -> Opened:
    """Rider ``rider`` off the boat, everybody else at home; ``side`` overrides theirs."""
    asked = trip.riders[rider]
    request = AdviceRequest(
        boat=trip.boat,
        rider=asked.rider,
        crew=tuple(p for n, p in enumerate(trip.people) if n != trip.person_of(rider)),
        ballast=trip.ballast,
        loads=trip.loads,
        water=trip.water,
        fuel=fuel,
        surf_side=side or wish_of(asked),
    )
    found = before.opened(request, trip.base)
    return Opened(found.request, found.case, found.level, found.aim, rider)


def own_turn(trip: Trip, rider: int, fuel: float, side: Side | None = None) -> Turn:
    """The rider's own numbers: the saved set-up where there is one, else those of the rules."""
    found = opened(trip, rider, fuel, side)
    saved = trip.saved[rider]
    # One that does not tell its side was for the rider's own.
    if saved is None or (saved.surf_side or trip.sides[rider]) is not found.case.side:
        plan = unpumped(trip, found.aim, plan_loading(found.case.condition, found.aim))
        return concluded(trip, found, plan, Origin.RULES, water_wanted(found.case))
    origin = Origin.SAVED if saved.boat is None else Origin.CARRIED_OVER
    return _turn(trip, found, origin, before.by_saved(found, saved, partial(unpumped, trip)))


def concluded(
    trip: Trip, opened: Opened, plan: Plan, origin: Origin, water: float,
    speed: float | None = None, plates: Mapping[str, float | None] | None = None,
) -> Turn:  # fmt: skip
    """What the rules say of ``plan``; ``speed`` (m/s) and ``plates`` instead of the rules'.

    ``water`` (kg) is what was wanted in the tanks.
    """
    return _turn(trip, opened, origin, before.concluded(opened, plan, water, speed, plates))


def _turn(trip: Trip, opened: Opened, origin: Origin, found: before.Concluded) -> Turn:
    return Turn(
        rider=opened.rider,
        origin=origin,
        request=opened.request,
        fuel=opened.case.condition.fuel,
        stand=_stand(trip, opened, found.plan),
        **{name.name: getattr(found, name.name) for name in fields(found)},
    )


def _stand(trip: Trip, opened: Opened, plan: Plan) -> Stand:
    """Where everybody and every bag is, in the trip's frame; the rider's place is their home."""
    off = trip.person_of(opened.rider)
    places = [*spots_of(plan.people, opened.case.side)]
    places.insert(off, spot_of(trip.people[off]))
    tanks = plan.condition.boat.tanks
    fills = {tank.id: fill for tank, fill in zip(tanks, plan.fills, strict=True)}
    bags = beside_seats(trip.seen, plan.loads)
    return Stand(tuple(places), tuple(fills[tank] for tank in trip.tanks), off, bags)


def as_set(opened: Opened, fills: Mapping[str, float]) -> Plan:
    """A plan with everybody at home and the tanks at ``fills``, whatever the rules would like.

    Only the observer takes a seat to watch from, where theirs is none.
    """
    condition = opened.case.condition
    tanks = condition.boat.tanks
    condition = replace(
        condition,
        people=_watching(opened.case),
        fills=tuple(fills[tank.id] for tank in tanks),
    )
    none = (0.0,) * len(tanks)
    return Plan(condition, none, none, none, none, condition.attitude())


def _watching(case: Case) -> tuple[Person, ...]:
    """Everybody at home, but the observer where the rider can be seen."""
    people, seats, who = case.condition.people, case.condition.boat.seats, case.roles.observer
    if who is None or people[who].x is not None:
        return people
    given = [person.seat for person in people]
    watch = [seat for seat in seats if seat.can_watch and seat.x > case.condition.boat.hull.x_min]
    free = [seat for seat in watch if given.count(seat.id) < seat.places]
    if given[who] in {seat.id for seat in watch} or not free:
        return people
    seat = min(free, key=lambda seat: seat.role is not SeatRole.OBSERVER)
    return put(people, who, people[who].on(seat.id))
