"""The loading condition: everything aboard one boat, and how the boat floats with it.

The one model of what is aboard, used by advice, loading, tuning, outings and bookings. It is
seen either in the boat's own axes or in the *surf frame*, mirrored where needed so that the surf
side is to port; :func:`surf_frame` is the only place where a boat is mirrored for that.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from service.advice.requests import Load, Person, Water
from service.boats.model import Boat, Light, Seat, Side, Tank, mirrored
from service.caches import MB, split_cache
from service.hydrostatics.equilibrium import Floating, Status, equilibrium
from service.hydrostatics.hull import Hull
from service.hydrostatics.stability import Freeboard, freeboards
from service.hydrostatics.weights import Loading, Weight, ballast_water, combine

PERSON = "person"
"""Name of a person's weight; a load is named apart, whatever it is called."""
FORWARD_THIRD = 2.0 / 3.0
"""Of the hull's length, from aft: where the bow begins, in which people are watched."""


@dataclass(frozen=True, slots=True)
class Attitude:
    """How the boat floats with a loading; ``freeboard`` is ``None`` where it does not."""

    loading: Loading
    floating: Floating
    freeboard: Freeboard | None

    @property
    def lean(self) -> float | None:
        """Heel towards the surf side (degrees) in the surf frame, where that is port."""
        heel = self.floating.heel
        return None if heel is None else -math.degrees(heel) + 0.0

    @property
    def trim(self) -> float | None:
        """Trim in degrees, bow up positive."""
        trim = self.floating.trim
        return None if trim is None else math.degrees(trim)

    @property
    def floats(self) -> bool:
        return self.floating.status is Status.FLOATS


@dataclass(frozen=True, slots=True)
class LoadingCondition:
    """What is aboard, in SI.

    ``fills`` are fractions in the order of the boat's tanks, ``fuel`` a fraction; ``density``
    (kg/m³) is that of the water outside and in the tanks, ``fuel_density`` (kg/m³) of the fuel.
    ``people`` and ``loads`` keep the order and the identity that the request gave them.
    """

    boat: Boat
    people: tuple[Person, ...]
    loads: tuple[Load, ...]
    fills: tuple[float, ...]
    fuel: float
    water: Water
    density: float
    fuel_density: float

    def attitude(self) -> Attitude:
        """How the boat floats with all of it."""
        return attitude(self.boat, self.weights(), self.density)

    def weights(self) -> list[Weight]:
        """Every weight aboard at its centre."""
        return [
            *self.lightship(),
            *map(load_weight, self.loads),
            *self.people_weights(self.people),
            *self.water_weights(self.fills),
        ]

    def lightship(self) -> list[Weight]:
        """The boat itself and its fuel."""
        light, fuel = self.boat.light, self.boat.fuel
        fuel_mass = fuel.capacity * self.fuel * self.fuel_density
        return [
            Weight("lightship", light.mass, light.x, light.y, light.z),
            Weight("fuel", fuel_mass, fuel.x, fuel.y, fuel.z),
        ]

    def people_weights(self, people: Iterable[Person]) -> list[Weight]:
        """Each person at their seat or place, or amid the seats where they have none."""
        seats = {seat.id: (seat.x, seat.y, seat.z) for seat in self.boat.seats}
        height = self.seat_height
        amid = amid_seats(self.boat)
        return [
            Weight(
                PERSON,
                person.kilograms,
                *(
                    seats[person.seat]
                    if person.seat is not None
                    else (person.x, person.y, height)
                    if person.x is not None and person.y is not None
                    else amid
                ),
            )
            for person in people
        ]

    def water_weights(self, fills: Sequence[float]) -> list[Weight]:
        """The ballast water at these fills."""
        return [
            ballast_water(t.capacity, t.x, t.y, t.z, t.length, t.width, fill, self.density, t.id)
            for t, fill in zip(self.boat.tanks, fills, strict=True)
        ]

    @property
    def seat_height(self) -> float:
        """Height (m) of someone who is not on a seat: that of the seats."""
        return amid_seats(self.boat)[2]

    @property
    def gear_mass(self) -> float:
        return math.fsum(load.mass for load in self.loads)

    @property
    def people_mass(self) -> float:
        return math.fsum(person.kilograms for person in self.people)

    @property
    def ballast_mass(self) -> float:
        """Mass (kg) of the ballast water in the tanks."""
        return self.water_mass(self.fills)

    def water_mass(self, fills: Iterable[float]) -> float:
        """Mass (kg) of the water in the tanks at these fills."""
        return self.density * math.fsum(
            fill * tank.capacity for fill, tank in zip(fills, self.boat.tanks, strict=True)
        )

    def bow_people(self) -> list[Person]:
        """People on a seat of the bow, or at a place in its forward third."""
        begins = bow_begins(self.boat.hull)
        seats = {seat.id: seat.x > begins for seat in self.boat.seats}
        return [
            person
            for person in self.people
            if (
                seats[person.seat]
                if person.seat is not None
                else person.x is not None and person.x > begins
            )
        ]

    @property
    def bow_mass(self) -> float:
        """Mass (kg) of the people in the bow."""
        return math.fsum(person.kilograms for person in self.bow_people())

    def seat_of(self, person: Person) -> Seat | None:
        """The seat that someone is on."""
        return next((seat for seat in self.boat.seats if seat.id == person.seat), None)


def attitude(boat: Boat, weights: Iterable[Weight], density: float) -> Attitude:
    """How the boat floats with these weights in water of this density (kg/m³)."""
    loading = combine(list(weights))
    floating = equilibrium(boat.hull, loading, density)
    freeboard = None if floating.sinkage is None else freeboards(boat.hull, floating)
    return Attitude(loading, floating, freeboard)


def load_weight(load: Load) -> Weight:
    """A load at its place, by a name that no person has."""
    return Weight(f"load {load.name}", load.mass, load.x, load.y, load.z)


def beside(load: Load, seat: Seat) -> Load:
    """The load shifted to beside a seat, at its own height."""
    return replace(load, x=seat.x, y=seat.y, seat=seat.id)


def unmoved(loads: Iterable[Load]) -> tuple[Load, ...]:
    """The same loads, to stay where they are."""
    return tuple(replace(load, movable=False) for load in loads)


def bow_begins(hull: Hull) -> float:
    """``x`` (m) forward of which someone is in the bow."""
    return hull.x_min + FORWARD_THIRD * hull.length


def amid_seats(boat: Boat) -> tuple[float, float, float]:
    """Where someone without a place counts: on the centreline amid the seats (m)."""
    return _amid(boat.seats, boat.light)


@lru_cache(maxsize=256)  # without the boat itself, whose hull may be large
def _amid(seats: tuple[Seat, ...], light: Light) -> tuple[float, float, float]:
    places = sum(seat.places for seat in seats)
    if not places:
        return light.x, 0.0, light.z
    x = math.fsum(seat.x * seat.places for seat in seats) / places
    return x, 0.0, math.fsum(seat.z for seat in seats) / len(seats)


def slack(fills: Iterable[float]) -> int:
    """How many tanks are part-filled."""
    return sum(1 for fill in fills if 0.0 < fill < 1.0)


@split_cache(kept=16 * MB, inline=6 * MB, is_kept=lambda boat, *_: boat.hull.kept)
def surf_frame(boat: Boat, side: Side) -> Boat:
    """The boat with the surf side to port, tanks and seats sorted by place and size.

    So a mirrored request becomes the very same numbers, and rules and solver cannot treat port
    and starboard differently. Ids decide nothing.
    """
    seen = boat if side is Side.PORT else mirrored(boat)
    return replace(
        seen,
        light=replace(seen.light, y=seen.light.y + 0.0),
        tanks=tuple(sorted((replace(t, y=t.y + 0.0) for t in seen.tanks), key=_tank_order)),
        seats=tuple(sorted((replace(s, y=s.y + 0.0) for s in seen.seats), key=_seat_order)),
    )


def seen_from(condition: LoadingCondition, side: Side) -> LoadingCondition:
    """A condition in the boat's own axes as it is in the surf frame of ``side``."""
    boat = surf_frame(condition.boat, side)
    fills = dict(zip((t.id for t in condition.boat.tanks), condition.fills, strict=True))
    return replace(
        condition,
        boat=boat,
        people=tuple(
            person if person.y is None else replace(person, y=side.across(person.y))
            for person in condition.people
        ),
        loads=tuple(replace(load, y=side.across(load.y)) for load in condition.loads),
        fills=tuple(fills[tank.id] for tank in boat.tanks),
    )


def _tank_order(tank: Tank) -> tuple[float, ...]:
    rates = tank.fill_rate or 0.0, tank.drain_rate or 0.0
    size = tank.capacity, tank.length, tank.width, tank.max_fill
    return (tank.x, tank.y, tank.z, *size, *rates)


def _seat_order(seat: Seat) -> tuple[float | str, ...]:
    faces = "" if seat.faces is None else seat.faces.value
    return (seat.x, seat.y, seat.z, seat.places, seat.role.value, faces)
