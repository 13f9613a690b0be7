"""What the loading plan shows, as numbers: SI units, radians, the boat's own axes."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rules.model import Verdict
from service.advice.answer import Advice, AtRest, Seating
from service.boats.model import Boat, Side

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Water:
    """A tank: its place and size (m), fills as fractions, now and as advised (m³)."""

    name: str
    x: float
    y: float
    length: float
    width: float
    now: float
    fill: float
    volume: float


@dataclass(frozen=True, slots=True)
class Place:
    """A seat, or where a load lies: its place (m) and who sits there in the end."""

    name: str
    x: float
    y: float
    seated: tuple[Seating, ...] = ()


@dataclass(frozen=True, slots=True)
class Move:
    """Those who go from one seat to another."""

    moving: tuple[Seating, ...]
    start: Place
    end: Place


@dataclass(frozen=True, slots=True)
class Shift:
    """A movable load (kg) that goes from ``start`` to a seat."""

    mass: float
    start: Place
    end: Place


@dataclass(frozen=True, slots=True)
class Attitude:
    """How the boat lies: sinkage (m), trim and heel (radians), as the hydrostatics has them.

    Points of the boat are turned as there: trim is the elevation of the keel line, heel the
    rotation about the keel line after it.
    """

    sinkage: float
    trim: float
    heel: float

    def above_water(self, points: Array) -> Array:
        """Height above the water (m) of points (…, 3)."""
        sin_t, cos_t = math.sin(self.trim), math.cos(self.trim)
        sin_h, cos_h = math.sin(self.heel), math.cos(self.heel)
        up = np.array([sin_t, cos_t * sin_h, cos_t * cos_h])
        return np.asarray(points @ up - self.sinkage)

    def forward(self, points: Array) -> Array:
        """Distance forward of the origin along the water (m) of points (…, 3)."""
        sin_t, cos_t = math.sin(self.trim), math.cos(self.trim)
        along = np.array([cos_t, -sin_t * math.sin(self.heel), -sin_t * math.cos(self.heel)])
        return np.asarray(points @ along)

    def to_port(self, points: Array) -> Array:
        """Distance to port of the origin along the water (m) of points (…, 3)."""
        return np.asarray(points @ np.array([0.0, math.cos(self.heel), -math.sin(self.heel)]))


@dataclass(frozen=True, slots=True)
class Scene:
    """One boat as advised. ``attitude`` is ``None`` where it does not come to rest.

    ``usable`` is whether anybody may go like this, ``listed`` whether people are known by name or
    number. ``unplaced`` have no seat in the end, or a place of their own.
    ``plates``: name, ``y`` (m), chord and span (m), travel as a fraction, ``None`` not fitted.
    """

    boat: Boat
    surf_side: Side | None
    usable: bool
    listed: bool
    at_rest: AtRest
    attitude: Attitude | None
    water: tuple[Water, ...]
    places: tuple[Place, ...]
    moves: tuple[Move, ...]
    shifts: tuple[Shift, ...]
    unplaced: tuple[Seating, ...]
    plates: tuple[tuple[str, float, float, float, float | None], ...]


def scene_of(advice: Advice) -> Scene:
    """The picture's numbers out of one advice."""
    boat, setup = advice.boat, advice.setup
    settings = {tank.tank: tank for tank in setup.tanks}
    water = tuple(
        Water(
            tank.id, tank.x, tank.y, tank.length, tank.width,
            settings[tank.id].now, settings[tank.id].fill, settings[tank.id].volume,
        )
        for tank in boat.tanks
    )  # fmt: skip
    places = {
        seat.id: Place(
            seat.id, seat.x, seat.y, tuple(each for each in setup.seating if each.goal == seat.id)
        )
        for seat in boat.seats
    }
    moving: dict[tuple[str, str], list[Seating]] = {}
    for each in setup.seating:
        origin, goal = each.origin, each.goal
        if origin != goal and origin in places and goal in places:
            moving.setdefault((origin, goal), []).append(each)
    moves = tuple(
        Move(tuple(people), places[origin], places[goal])
        for (origin, goal), people in moving.items()
    )
    travels = (setup.port_plate, setup.centre_plate, setup.starboard_plate)
    return Scene(
        boat=boat,
        surf_side=setup.surf_side,
        usable=advice.verdict is not Verdict.DO_NOT_GO,
        listed=setup.listed,
        at_rest=advice.at_rest,
        attitude=attitude_of(advice.at_rest),
        water=water,
        places=tuple(places.values()),
        moves=moves,
        shifts=tuple(
            Shift(load.mass, Place(load.name, load.x, load.y), places[load.goal])
            for load in setup.loads
        ),
        unplaced=tuple(each for each in setup.seating if each.goal not in places),
        plates=_plates(boat, travels),
    )


def attitude_of(rest: AtRest) -> Attitude | None:
    if rest.draft_origin is None or rest.trim is None or rest.heel is None:
        return None
    return Attitude(rest.draft_origin, rest.trim, rest.heel)


def _plates(
    boat: Boat, travels: tuple[float | None, float | None, float | None]
) -> tuple[tuple[str, float, float, float, float | None], ...]:
    """Side plates end where the transom's greatest half breadth is; the boat tells no more."""
    half = float(boat.hull.outline[0, 1])
    found = []
    for side, (name, plate), travel in zip(
        (1.0, 0.0, -1.0),
        (
            ("port", boat.plates.port),
            ("centre", boat.plates.centre),
            ("starboard", boat.plates.starboard),
        ),
        travels,
        strict=True,
    ):
        if plate is not None:
            y = side * max(half - plate.span / 2.0, 0.0)
            found.append((name, y, plate.chord, plate.span, travel))
    return tuple(found)
