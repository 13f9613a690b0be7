"""From what is aboard to weights, and from weights to how the boat lies."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from service.advice.requests import Load
from service.advice.situation import Bag, Cargo, Occupant
from service.boats.model import Boat
from service.hydrostatics.equilibrium import Floating, Status, equilibrium
from service.hydrostatics.hull import Hull
from service.hydrostatics.stability import Freeboard, freeboards
from service.hydrostatics.water import density
from service.hydrostatics.weights import Loading, Weight, ballast_water, combine


@dataclass(frozen=True, slots=True)
class Attitude:
    """How the boat lies with a loading; ``freeboard`` is ``None`` where it does not lie at all."""

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


FORWARD_THIRD = 2.0 / 3.0
"""Of the hull's length, from aft: where the bow begins, in which people are watched."""


def bow_begins(hull: Hull) -> float:
    """``x`` (m) forward of which somebody sits in the bow."""
    return hull.x_min + FORWARD_THIRD * hull.length


def water_density(cargo: Cargo) -> float:
    """Density (kg/m³) of the water that the boat floats in and that fills its tanks."""
    kind, temperature = cargo.water.kind, cargo.water.temperature
    if kind is None or temperature is None:
        raise ValueError("kind and temperature of the water are not filled in")
    return density(kind.value, temperature)


def fixed_weights(cargo: Cargo, fuel_density: float, *, loads: bool = True) -> list[Weight]:
    """The light boat, its fuel and, with ``loads``, bags and gear. ``fuel_density`` in kg/m³."""
    light, fuel = cargo.boat.light, cargo.boat.fuel
    fuel_mass = fuel.capacity * cargo.fuel * fuel_density
    return [
        Weight("light boat", light.mass, light.x, light.y, light.z),
        Weight("fuel", fuel_mass, fuel.x, fuel.y, fuel.z),
        *(_load_weight(load, load.x, load.y, load.z) for load in cargo.loads if loads),
    ]


def person_weight(person: Occupant, cargo: Cargo) -> Weight:
    """Somebody at a seat, at a spot, or amidships of all seats when not placed; or a bag."""
    seats = cargo.boat.seats
    if isinstance(person, Bag):
        return _bag_weight(person, cargo)
    if person.seat is not None:
        seat = seats[person.seat]
        return Weight("person", person.mass, seat.x, seat.y, seat.z)
    if person.x is not None and person.y is not None:
        return Weight("person", person.mass, person.x, person.y, cargo.seat_height)
    return Weight("person", person.mass, *standing_spot(cargo))


def _bag_weight(bag: Bag, cargo: Cargo) -> Weight:
    seat = None if bag.seat is None else cargo.boat.seats[bag.seat]
    x, y = (bag.x or 0.0, bag.y or 0.0) if seat is None else (seat.x, seat.y)
    return _load_weight(cargo.loads[bag.load], x, y, bag.z)


def _load_weight(load: Load, x: float, y: float, z: float) -> Weight:
    """Its name set apart: a load may be called "person", and is not counted as one."""
    return Weight(f"load {load.name}", load.mass, x, y, z)


def bags_of(cargo: Cargo) -> tuple[Bag, ...]:
    """The movable loads where they are."""
    return tuple(
        Bag(load.mass, x=load.x, y=load.y, z=load.z, load=number)
        for number, load in enumerate(cargo.loads)
        if load.movable
    )


def unmoved(loads: Iterable[Load]) -> tuple[Load, ...]:
    """The same loads, to stay where they are."""
    return tuple(replace(load, movable=False) for load in loads)


def immovable(cargo: Cargo) -> Cargo:
    """The same without its movable loads."""
    return replace(cargo, loads=tuple(load for load in cargo.loads if not load.movable))


def standing_spot(cargo: Cargo) -> tuple[float, float, float]:
    """Where somebody without a place is reckoned: on the centreline amid the seats."""
    seats, light = cargo.boat.seats, cargo.boat.light
    places = sum(seat.places for seat in seats)
    x = sum(seat.x * seat.places for seat in seats) / places if places else light.x
    return x, 0.0, cargo.seat_height


def tank_weights(boat: Boat, fills: Sequence[float], water: float) -> list[Weight]:
    """The water in each tank at its fill, of density ``water``."""
    return [
        ballast_water(
            tank.capacity, tank.x, tank.y, tank.z, tank.length, tank.width, fill, water, tank.id
        )
        for tank, fill in zip(boat.tanks, fills, strict=True)
    ]


def lie(boat: Boat, weights: Iterable[Weight], water: float) -> Attitude:
    """How the boat lies with these weights in water of this density."""
    loading = combine(list(weights))
    floating = equilibrium(boat.hull, loading, water)
    freeboard = None if floating.sinkage is None else freeboards(boat.hull, floating)
    return Attitude(loading, floating, freeboard)


def slack(fills: Iterable[float]) -> int:
    """How many tanks are part-filled."""
    return sum(1 for fill in fills if 0.0 < fill < 1.0)


def gear_mass(loads: Iterable[Load]) -> float:
    return math.fsum(load.mass for load in loads)


def ballast_mass(cargo: Cargo, water: float) -> float:
    """Mass (kg) of the ballast water that is in the tanks now."""
    return water * math.fsum(
        fill * tank.capacity for fill, tank in zip(cargo.fills, cargo.boat.tanks, strict=True)
    )
