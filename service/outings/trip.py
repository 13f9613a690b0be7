"""Who is aboard, where they are, and how the boat lies."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from rules.base import RuleBase
from service.advice.requests import Load, Person, Saved, Water
from service.advice.situation import Assumption, Bag, Cargo, FilledRider, Occupant
from service.advice.weighing import (
    Attitude,
    bags_of,
    fixed_weights,
    immovable,
    lie,
    person_weight,
    tank_weights,
    unmoved,
)
from service.boats.model import Boat, Side
from service.outings.requests import OutingRequest, OutingRider

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

    ``fills`` are fractions in the order of the trip's tanks. ``bags``: the seat that each movable
    load lies beside, in the order of those of what is ``seen``; ``None`` is where it was told.
    """

    places: tuple[Spot, ...]
    fills: tuple[float, ...]
    off: int | None = None
    bags: tuple[str | None, ...] = ()


@dataclass(frozen=True, slots=True)
class Trip:
    """The outing without gaps, SI.

    ``seen`` is what is aboard in the frame of the first rider's surf side, so that a mirrored
    outing becomes the very same numbers. ``saved``: the set-up to use for each rider, if any.
    ``pumps_together``: as far as the boat stays safe. ``shifting``: whether movable loads are
    shifted at all.
    """

    base: RuleBase
    request: OutingRequest
    boat: Boat
    side: Side
    riders: tuple[OutingRider, ...]
    filled: tuple[FilledRider, ...]
    sides: tuple[Side, ...]
    saved: tuple[Saved | None, ...]
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
    shifting: bool
    seen: Cargo
    density: float
    assumed: tuple[Assumption, ...]

    @property
    def fuel_density(self) -> float:
        return self.base.number("defaults.fuel_density")

    @property
    def loads(self) -> tuple[Load, ...]:
        """As advice is asked: movable only where they are shifted."""
        return self.request.loads if self.shifting else unmoved(self.request.loads)

    @property
    def movable(self) -> tuple[Load, ...]:
        """In the order of a stand's bags."""
        return tuple(load for load in self.seen.loads if load.movable)

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
            bags=(None,) * len(self.movable),
        )

    def bags(self, stand: Stand) -> tuple[Bag, ...]:
        """Where movable loads lie, in the trip's frame."""
        return tuple(
            bag if seat is None else replace(bag, seat=self.seats[seat], x=None, y=None)
            for bag, seat in zip(bags_of(self.seen), stand.bags, strict=True)
        )

    def lying(self, stand: Stand) -> tuple[tuple[Load, str | None], ...]:
        """Each movable load as it was told, and the seat it lies beside, if not where it was."""
        at: dict[Load, list[str | None]] = {}
        for load, seat in zip(self.movable, stand.bags, strict=True):
            at.setdefault(load, []).append(seat)
        sign = 1.0 if self.side is Side.PORT else -1.0
        return tuple(
            (load, at[replace(load, y=sign * load.y + 0.0)].pop(0))
            for load in self.request.loads
            if load.movable
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
                *fixed_weights(immovable(cargo), self.fuel_density),
                *(person_weight(one, cargo) for one in (*people, *self.bags(stand))),
                *tank_weights(cargo.boat, stand.fills, self.density),
            ],
            self.density,
        )

    def heel(self, attitude: Attitude) -> float | None:
        """Radians in the boat's own axes, starboard down positive."""
        heel = attitude.floating.heel
        return None if heel is None else (heel if self.side is Side.PORT else -heel) + 0.0


def wish_of(rider: OutingRider) -> Side | None:
    """The side that was told, or that the set-up has which was told."""
    if rider.surf_side is not None or rider.saved is None:
        return rider.surf_side
    return rider.saved.surf_side


def person_told(person: Somebody) -> Person:
    if isinstance(person.home, tuple):
        return Person(person.mass, x=person.home[0], y=person.home[1])
    return Person(person.mass, seat=person.home)


def persons(people: Iterable[Somebody]) -> tuple[Person, ...]:
    """As a request for advice takes them."""
    return tuple(person_told(person) for person in people)


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


def laid(
    seen: Cargo, side: Side, cargo: Cargo, plan: Sequence[Bag], plan_side: Side
) -> tuple[str | None, ...]:
    """Beside which seat a plan has each movable load of ``seen``, which are the cargo's mirrored.

    Those alike are told apart by their order. A plan without any leaves them where they are.
    """
    movable = [load for load in seen.loads if load.movable]
    if not plan:
        return (None,) * len(movable)
    sign = 1.0 if side is plan_side else -1.0
    goals: dict[Load, list[str | None]] = {}
    for bag in plan:
        load = cargo.loads[bag.load]
        seat = None if bag.seat is None else cargo.boat.seats[bag.seat].id
        goals.setdefault(replace(load, y=sign * load.y + 0.0), []).append(seat)
    return tuple(goals[load].pop(0) for load in movable)


def _spot(person: Occupant, cargo: Cargo, sign: float) -> Spot:
    if person.seat is not None:
        return cargo.boat.seats[person.seat].id
    if person.x is None or person.y is None:
        return None
    return person.x, sign * person.y + 0.0
