"""Where people and bags can be: people on seats, bags on the floor by them.

A bag may go beside any seat but the driver's, at the height at which it lies now, and takes no
place there; or it stays where it is. On a boat without seats it stays.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from service.advice.situation import Bag, Cargo, Occupant
from service.advice.weighing import bags_of, standing_spot

HELM = "helm"
"""The seat of this id is the driver's: somebody without a place goes there first."""
MOST_BAGS = 8
"""The heaviest are thought of; lighter ones do little, and the work is bounded."""

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Spots:
    """``points`` (k, 3), m: the seats, where those stand who have no place, then those of bags.

    ``seat`` (k): which seat each is at, -1 where none. ``by_seats``: for each height of a bag the
    spots by the seats, ``homes``: where bags are now. ``helm``: the driver's spot.
    """

    points: Array
    seat: tuple[int, ...]
    seats: int
    by_seats: dict[float, tuple[int, ...]]
    homes: dict[tuple[float | None, float | None, float], int]
    helm: int | None

    @classmethod
    def of(cls, cargo: Cargo) -> Spots:
        boat, bags = cargo.boat, bags_of(cargo)
        points = [*((s.x, s.y, s.z) for s in boat.seats), standing_spot(cargo)]
        seat = [*range(len(boat.seats)), -1]
        aside = [number for number, s in enumerate(boat.seats) if s.id != HELM]
        by_seats = {}
        for z in sorted({bag.z for bag in bags}):
            by_seats[z] = tuple(range(len(points), len(points) + len(aside)))
            points += [(boat.seats[number].x, boat.seats[number].y, z) for number in aside]
            seat += aside
        homes: dict[tuple[float | None, float | None, float], int] = {}
        for place in sorted({(bag.x or 0.0, bag.y or 0.0, bag.z) for bag in bags}):
            homes[place] = len(points)
            points.append(place)
            seat.append(-1)
        helm = next((number for number, s in enumerate(boat.seats) if s.id == HELM), None)
        return cls(np.array(points), tuple(seat), len(boat.seats), by_seats, homes, helm)

    def of_one(self, one: Occupant) -> int:
        """The spot of somebody on a seat or without a place, or of a bag."""
        if not isinstance(one, Bag):
            return self.seats if one.seat is None else one.seat
        if one.seat is None:
            return self.homes[one.x, one.y, one.z]
        return next(spot for spot in self.by_seats[one.z] if self.seat[spot] == one.seat)

    def reach(self, one: Occupant) -> tuple[int, ...]:
        """The spots that somebody, or a bag, may go to."""
        if not isinstance(one, Bag):
            return tuple(range(self.seats))
        return (*self.by_seats[one.z], self.of_one(one))

    def put(self, one: Occupant, spot: int) -> Occupant:
        """The same at ``spot``, one of its reach."""
        if self.seat[spot] < 0:
            return one
        return replace(one, seat=self.seat[spot], x=None, y=None)


def shiftable(aboard: Sequence[Occupant], cargo: Cargo) -> list[int]:
    """Indices of the bags that may be shifted, the heaviest first."""
    if all(seat.id == HELM for seat in cargo.boat.seats):
        return []
    bags = [(-one.mass, number) for number, one in enumerate(aboard) if isinstance(one, Bag)]
    return [number for _, number in sorted(bags)[:MOST_BAGS]]
