"""What every part of an outing's answer is written with: moments, places, tanks, how she lies."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime, timedelta
from typing import Any

from schemas import written
from schemas.units import Dimension, System
from service.advice.answer import OWN_PLACE
from service.advice.loading_condition import Attitude
from service.outings.answer import Outing
from service.outings.between import Between
from service.outings.trip import Spot, Stand, Trip

STANDS = "stands amid the seats"


class Parts:
    """One outing on its way to JSON. ``told`` is the request as it was sent."""

    def __init__(self, outing: Outing, told: Mapping[str, Any], system: System) -> None:
        self.outing, self.told, self.system = outing, told, system
        self.trip: Trip = outing.trip

    def number(self, inside: float | None, dimension: Dimension) -> float | None:
        return written.number(inside, dimension, self.system)

    def minutes(self, seconds: float) -> float | None:
        return self.number(seconds, Dimension.TIME)

    def percent(self, fraction: float | None) -> float | None:
        return self.number(fraction, Dimension.PERCENT)

    def volume(self, volumes: Iterator[float]) -> float | None:
        return self.number(math.fsum(volumes), Dimension.VOLUME)

    def clock(self, seconds: float) -> str | None:
        """A moment of the timetable, with the offset that the start was told with."""
        start = self.trip.request.start
        if start is None:
            return None
        zone = datetime.fromisoformat(self.told["start"]).tzinfo
        return (start + timedelta(seconds=round(seconds))).astimezone(zone).isoformat()

    def when(self, starts: float, ends: float) -> dict[str, Any]:
        return {
            "starts": self.minutes(starts), "ends": self.minutes(ends),
            "start_time": self.clock(starts), "end_time": self.clock(ends),
        }  # fmt: skip

    def lies(self, attitude: Attitude) -> dict[str, Any]:
        board = attitude.freeboard
        return {
            "status": attitude.floating.status.value,
            "heel": self.number(self.trip.heel(attitude), Dimension.ANGLE),
            "trim": self.number(attitude.floating.trim, Dimension.ANGLE),
            "least_freeboard": self.number(board.least if board else None, Dimension.LENGTH),
            "displacement": self.number(attitude.loading.mass, Dimension.MASS),
        }

    def seating(self, stand: Stand) -> list[dict[str, Any]]:
        """Who sits where, in the order of the boat's seats."""
        at: dict[str, list[str]] = {}
        for number, (person, spot) in enumerate(zip(self.trip.people, stand.places, strict=True)):
            if number != stand.off:
                at.setdefault(place(spot), []).append(person.label)
        order = [seat.id for seat in self.trip.boat.seats]
        ranked = sorted(at, key=lambda name: order.index(name) if name in order else len(order))
        return [{"seat": seat, "people": at[seat]} for seat in ranked]

    def loads(self, stand: Stand) -> dict[str, Any]:
        """Where each movable load lies; nothing where there is none."""
        found = [
            {
                "load": load.name,
                "mass": self.number(load.mass, Dimension.MASS),
                "at": seat or OWN_PLACE,
            }
            for load, seat in self.trip.lying(stand)
        ]
        return {"loads": found} if found else {}

    def shifted(self, changes: Iterable[Between]) -> dict[str, int]:
        """How often a load is shifted; nothing where none is movable."""
        count = sum(len(change.shifts) for change in changes)
        return {"loads_shifted": count} if self.trip.movable else {}

    def tanks(self, stand: Stand) -> list[dict[str, Any]]:
        fills = dict(zip(self.trip.tanks, stand.fills, strict=True))
        return [
            {
                "tank": tank.id,
                "fill": self.percent(fills[tank.id]),
                "volume": self.number(fills[tank.id] * tank.capacity, Dimension.VOLUME),
            }
            for tank in self.trip.boat.tanks
        ]


def place(spot: Spot) -> str:
    if spot is None:
        return STANDS
    return spot if isinstance(spot, str) else OWN_PLACE
