"""Who is aboard, where they are, and how the boat lies."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from rules.base import RuleBase
from service.advice.loading_condition import Attitude, LoadingCondition, beside, unmoved
from service.advice.requests import Load, Person, Saved, Water
from service.advice.situation import Assumption, FilledRider
from service.boats.model import Boat, Side
from service.outings.requests import OutingRequest, OutingRider

Spot = str | tuple[float, float] | None
"""A seat's id, a place (x, y) in the boat's own axes, or nowhere in particular."""


@dataclass(frozen=True, slots=True)
class Stand:
    """What changes of the loading condition from turn to turn: who is where, loads, tanks.

    ``off`` (index of people) is not aboard. ``fills`` are fractions in the order of the trip's
    tanks. ``bags``: the seat that each movable load lies beside; ``None`` is where it was given.
    """

    places: tuple[Spot, ...]
    fills: tuple[float, ...]
    off: int | None = None
    bags: tuple[str | None, ...] = ()


@dataclass(frozen=True, slots=True)
class Trip:
    """The outing without gaps, SI.

    ``people``: the crew, then the riders, each at the place they keep to. ``seen`` is the loading
    condition in the frame of the first rider's surf side, so that a mirrored outing becomes the
    very same numbers. ``saved``: the set-up to use for each rider, if any.
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
    people: tuple[Person, ...]
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
    seen: LoadingCondition
    assumed: tuple[Assumption, ...]

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

    def at(self, person: int, spot: Spot) -> Person:
        """Someone at a spot, in the trip's frame."""
        who = self.people[person]
        if isinstance(spot, tuple):
            return replace(who, seat=None, x=spot[0], y=self.side.across(spot[1]))
        return replace(who, seat=spot, x=None, y=None)

    @property
    def tanks(self) -> tuple[str, ...]:
        return tuple(tank.id for tank in self.seen.boat.tanks)

    @property
    def now(self) -> Stand:
        """As the boat sets out: everybody at home, the tanks as they are."""
        return Stand(
            tuple(map(spot_of, self.people)),
            tuple(self.ballast.get(tank, 0.0) for tank in self.tanks),
            bags=(None,) * len(self.movable),
        )

    def lying(self, stand: Stand) -> tuple[tuple[Load, str | None], ...]:
        """Each movable load as it was given, and the seat it lies beside, if it was shifted."""
        movable = (load for load in self.request.loads if load.movable)
        return tuple(zip(movable, stand.bags, strict=True))

    def condition(
        self, stand: Stand, fuel: float, places: Sequence[Spot] | None = None
    ) -> LoadingCondition:
        """What is aboard at a stand, in the trip's frame, with ``fuel`` as a fraction.

        With ``places`` everybody is aboard, each there.
        """
        seats = {seat.id: seat for seat in self.seen.boat.seats}
        bags = iter(stand.bags)
        loads = (
            load if not load.movable or (seat := next(bags)) is None else beside(load, seats[seat])
            for load in self.seen.loads
        )
        people = [
            self.at(person, spot)
            for person, spot in enumerate(stand.places if places is None else places)
            if places is not None or person != stand.off
        ]
        return replace(
            self.seen, people=tuple(people), loads=tuple(loads), fills=stand.fills, fuel=fuel
        )

    def lies(self, stand: Stand, fuel: float) -> Attitude:
        """How the boat floats, with ``fuel`` as a fraction; in the trip's frame."""
        return self.condition(stand, fuel).attitude()

    def heel(self, attitude: Attitude) -> float | None:
        """Radians in the boat's own axes, starboard down positive."""
        heel = attitude.floating.heel
        return None if heel is None else self.side.across(heel)


def wish_of(rider: OutingRider) -> Side | None:
    """The side that was told, or that the set-up has which was told."""
    if rider.surf_side is not None or rider.saved is None:
        return rider.surf_side
    return rider.saved.surf_side


def spot_of(person: Person) -> Spot:
    """Where someone is."""
    if person.x is None or person.y is None:
        return person.seat
    return person.x, person.y


def spots_of(people: Iterable[Person], side: Side) -> tuple[Spot, ...]:
    """Where each of ``people``, seen from ``side``, is in the boat's own axes."""
    return tuple(
        person.seat if person.x is None or person.y is None else (person.x, side.across(person.y))
        for person in people
    )


def beside_seats(seen: LoadingCondition, loads: Sequence[Load]) -> tuple[str | None, ...]:
    """The seat that each movable load of ``seen`` lies beside among ``loads``, the same ones."""
    return tuple(there.seat for load, there in zip(seen.loads, loads, strict=True) if load.movable)
