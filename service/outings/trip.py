"""Who is aboard, where they sit when nobody asks them to move, and how the boat lies."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from rules.base import RuleBase
from service.advice.case import open_case
from service.advice.loading_plan import HELM, Band, Plan, Wanted, plan_loading
from service.advice.requests import AdviceRequest, Load, Person, Rider, Water
from service.advice.situation import (
    Assumption,
    Cargo,
    FilledRider,
    Gaps,
    Occupant,
    cargo_of,
    fill_crew,
    fill_rider,
    fill_water,
)
from service.advice.wanted import level_trim
from service.advice.weighing import (
    Attitude,
    fixed_weights,
    lie,
    person_weight,
    tank_weights,
    water_density,
)
from service.boats.model import Boat, Side
from service.outings.requests import OutingRequest, OutingRider, Pumps

PUMP = 0.001
"""m³/s (60 L/min, common practice) where a pump's rate is not known."""
TURN = 15 * 60.0
"""Riding time (s) of somebody who did not say: a quarter of an hour (common practice)."""
LEAST_TURN = 4 * 60.0
"""A turn shorter than this (s) is not worth getting wet for (common practice)."""
BOARDING = 60.0
"""Seconds for a rider to get into the water, or back aboard (common practice)."""
FUEL_USE = 25.0 / 3.6e6
"""m³/s under way with a wave: 25 L/h (common practice, from memory; boats differ widely)."""

Spot = str | tuple[float, float] | None
"""A seat's id, a place (x, y) in the boat's own axes, or nowhere in particular."""


@dataclass(frozen=True, slots=True)
class Somebody:
    """Somebody who comes along: mass (kg), the place they keep to, and which rider they are."""

    name: str
    mass: float
    home: Spot = None
    rider: int | None = None


@dataclass(frozen=True, slots=True)
class Stand:
    """Where everybody is and what is in the tanks; rider ``off`` (index of people) is not aboard.

    ``fills`` are fractions in the order of the trip's tanks.
    """

    places: tuple[Spot, ...]
    fills: tuple[float, ...]
    off: int | None = None


@dataclass(frozen=True, slots=True)
class Trip:
    """The outing without gaps, SI.

    ``seen`` is what is aboard in the frame of the first rider's surf side, so that a mirrored
    outing becomes the very same numbers. ``pumps_together``: as far as the boat stays safe.
    """

    base: RuleBase
    request: OutingRequest
    boat: Boat
    side: Side
    riders: tuple[OutingRider, ...]
    filled: tuple[FilledRider, ...]
    sides: tuple[Side, ...]
    people: tuple[Somebody, ...]
    ballast: Mapping[str, float]
    water: Water
    fuel: float
    fuel_use: float
    boarding: float
    least_turn: float
    way: float
    wanted: tuple[float, ...]
    pumps_together: bool
    seen: Cargo
    density: float
    assumed: tuple[Assumption, ...]

    @property
    def fuel_density(self) -> float:
        return self.base.number("defaults.fuel_density")

    @property
    def loads(self) -> tuple[Load, ...]:
        return self.request.loads

    def person_of(self, rider: int) -> int:
        """Index among ``people`` of a rider."""
        return len(self.people) - len(self.riders) + rider

    def occupant(self, person: int, spot: Spot) -> Occupant:
        """Somebody at a spot, in the trip's frame."""
        mass = self.people[person].mass
        if isinstance(spot, str):
            return Occupant(mass, seat=self.seats[spot])
        if spot is None:
            return Occupant(mass)
        sign = 1.0 if self.side is Side.PORT else -1.0
        return Occupant(mass, x=spot[0], y=sign * spot[1] + 0.0)

    @property
    def seats(self) -> Mapping[str, int]:
        """Index of each seat in the trip's frame."""
        return {seat.id: number for number, seat in enumerate(self.seen.boat.seats)}

    @property
    def tanks(self) -> tuple[str, ...]:
        return tuple(tank.id for tank in self.seen.boat.tanks)

    @property
    def now(self) -> Stand:
        """As the boat sets out: everybody at home, the tanks as they are."""
        return Stand(
            tuple(person.home for person in self.people),
            tuple(self.ballast.get(tank, 0.0) for tank in self.tanks),
        )

    def lies(self, stand: Stand, fuel: float) -> Attitude:
        """How the boat lies, with ``fuel`` as a fraction; in the trip's frame."""
        cargo = replace(self.seen, fuel=fuel)
        people = [
            self.occupant(person, spot)
            for person, spot in enumerate(stand.places)
            if person != stand.off
        ]
        return lie(
            cargo.boat,
            [
                *fixed_weights(cargo, self.fuel_density),
                *(person_weight(person, cargo) for person in people),
                *tank_weights(cargo.boat, stand.fills, self.density),
            ],
            self.density,
        )

    def heel(self, attitude: Attitude) -> float | None:
        """Radians in the boat's own axes, starboard down positive."""
        heel = attitude.floating.heel
        return None if heel is None else (heel if self.side is Side.PORT else -heel) + 0.0


def begin(request: OutingRequest, base: RuleBase) -> Trip:
    """Every gap filled with a stated default, and a home seat for everybody."""
    gaps = Gaps(base)
    crew = fill_crew(request.crew, gaps)
    water = fill_water(request.water, gaps)
    fuel = gaps.number("/fuel", request.fuel, "fuel", "percentage")
    if request.ballast is None and request.boat.tanks:
        gaps.say("/ballast", 0.0, "percentage", "tanks are drained between outings")
    boat = _with_rates(request.boat, gaps)
    filled, sides = [], []
    for number, asked in enumerate(request.riders):
        own = Gaps(base)
        filled.append(fill_rider(asked.rider, own))
        for gap in own.assumed:
            pointer = f"/riders/{number}{gap.pointer}"
            gaps.say(pointer, gap.value, gap.dimension, gap.source)
        bare = AdviceRequest(boat, asked.rider, crew=(), water=water, surf_side=wish_of(asked))
        sides.append(open_case(bare, base).side)

    def number_of(name: str, given: float | None, default: float, dimension: str) -> float:
        if given is None:
            gaps.say(f"/{name}", default, dimension, "common practice")
        return default if given is None else given

    wanted = tuple(
        number_of(f"riders/{number}/minutes", asked.wanted, TURN, "time")
        for number, asked in enumerate(request.riders)
    )
    if request.pumps is None:
        gaps.say("/pumps", Pumps.TOGETHER.value, "", "each tank has a pump of its own")
    people = _everybody(request, crew, filled)
    cargo = cargo_of(
        AdviceRequest(
            boat, Rider(), crew=tuple(_person(p) for p in people), ballast=request.ballast or {},
            loads=request.loads, water=water, fuel=fuel,
        ),
        sides[0],
        Gaps(base),
    )  # fmt: skip
    density = water_density(cargo)
    homes = _homes(cargo, boat, people, sides, density, base)
    return Trip(
        base=base,
        request=request,
        boat=boat,
        side=sides[0],
        riders=request.riders,
        filled=tuple(filled),
        sides=tuple(sides),
        people=tuple(replace(p, home=spot) for p, spot in zip(people, homes, strict=True)),
        ballast=request.ballast or {},
        water=water,
        fuel=fuel,
        fuel_use=number_of("fuel_use", request.fuel_use, FUEL_USE, "flow"),
        boarding=number_of("boarding", request.boarding, BOARDING, "time"),
        least_turn=number_of("least_turn", request.least_turn, LEAST_TURN, "time"),
        way=number_of("way", request.way, 0.0, "time"),
        wanted=wanted,
        pumps_together=request.pumps is not Pumps.ONE_BY_ONE,
        seen=cargo,
        density=density,
        assumed=tuple(gaps.assumed),
    )


def wish_of(rider: OutingRider) -> Side | None:
    """The side that was told, or that the saved set-up has."""
    if rider.surf_side is not None or rider.saved is None:
        return rider.surf_side
    return rider.saved.surf_side


def _with_rates(boat: Boat, gaps: Gaps) -> Boat:
    """Every pump with a rate."""
    for number, tank in enumerate(boat.tanks):
        for name in ("fill_rate", "drain_rate"):
            if not getattr(tank, name):
                gaps.say(f"/boat/tanks/{number}/{name}", PUMP, "flow", "common practice")
    return replace(
        boat,
        tanks=tuple(
            replace(t, fill_rate=t.fill_rate or PUMP, drain_rate=t.drain_rate or PUMP)
            for t in boat.tanks
        ),
    )


def _everybody(
    request: OutingRequest, crew: Sequence[Person], filled: Sequence[FilledRider]
) -> list[Somebody]:
    """The crew, then the riders. One of the crew without a place drives."""
    helm = any(seat.id == HELM for seat in request.boat.seats)
    taken = any(person.seat == HELM for person in crew)
    people = []
    for number, person in enumerate(crew, 1):
        spot: Spot = person.seat
        if person.x is not None and person.y is not None:
            spot = (person.x, person.y)
        if spot is None and helm and not taken:
            spot, taken = HELM, True
        people.append(Somebody(f"crew {number}", person.mass or 0.0, spot))
    people += [
        Somebody(asked.name, rider.mass, asked.seat, number)
        for number, (asked, rider) in enumerate(zip(request.riders, filled, strict=True))
    ]
    return people


def _person(person: Somebody) -> Person:
    if isinstance(person.home, tuple):
        return Person(person.mass, x=person.home[0], y=person.home[1])
    return Person(person.mass, seat=person.home)


def persons(people: Iterable[Somebody]) -> tuple[Person, ...]:
    """As a request for advice takes them."""
    return tuple(_person(person) for person in people)


def placed(
    people: Sequence[Somebody], cargo: Cargo, plan: Sequence[Occupant], side: Side
) -> tuple[Spot, ...]:
    """Where a plan puts each of ``people``, who are the cargo's in another order.

    Those alike (of one mass, from one place) are told apart by their order.
    """
    sign = 1.0 if side is Side.PORT else -1.0
    goals: dict[tuple[float, Spot], list[Spot]] = {}
    for before, after in zip(cargo.people, plan, strict=True):
        key = (before.mass, _spot(before, cargo, sign))
        goals.setdefault(key, []).append(_spot(after, cargo, sign))
    return tuple(goals[person.mass, person.home].pop(0) for person in people)


def _spot(person: Occupant, cargo: Cargo, sign: float) -> Spot:
    if person.seat is not None:
        return cargo.boat.seats[person.seat].id
    if person.x is None or person.y is None:
        return None
    return person.x, sign * person.y + 0.0


def _homes(
    cargo: Cargo, boat: Boat, people: Sequence[Somebody], sides: Sequence[Side], water: float,
    base: RuleBase,
) -> tuple[Spot, ...]:  # fmt: skip
    """Seats from which few have to move for any rider: the mean of the leans that riders want."""
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
    )
    plan = plan_loading(cargo, aim, water, base.number("defaults.fuel_density"))
    return placed(people, cargo, plan.people, sides[0])


def way_home(trip: Trip) -> tuple[Stand, bool]:
    """Level, drained, people aft; whether there are seats enough for everybody out of the bow."""
    boat, base = trip.seen.boat, trip.base
    bow = boat.hull.x_min + 2.0 / 3.0 * boat.hull.length
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
    cargo = replace(cargo, loads=trip.seen.loads)
    aim = Wanted(
        lean=Band(0.0, base.number("balance.lean_band")),
        trim=Band(0.0, 90.0),
        fills=(0.0,) * len(boat.tanks),
        room=0.0,
        least_freeboard=base.number("attitude.freeboard_caution"),
    )
    plan: Plan = plan_loading(cargo, aim, trip.density, trip.fuel_density)
    places = placed(people, cargo, plan.people, trip.side)
    return Stand(places, (0.0,) * len(boat.tanks)), enough


def _in_bow(person: Somebody, boat: Boat, bow: float) -> bool:
    return any(seat.id == person.home and seat.x > bow for seat in boat.seats)
