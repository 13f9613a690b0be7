"""Fills the gaps of a request with stated defaults and looks at it from the surf side.

Everything after this works in the *surf frame*: the boat mirrored, where the surf side is
starboard, so that the surf side is always port and positive ``y``; tanks, seats, people and
loads sorted by where they are. So a mirrored request becomes the very same numbers, and gets
exactly the mirrored answer.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

from rules.base import RuleBase
from service.advice.requests import (
    AdviceRequest,
    Board,
    Level,
    Load,
    LoadingRequest,
    Person,
    Rider,
    Stance,
    Water,
    WaterKind,
    Wish,
)
from service.boats.model import Boat, Seat, Side, Tank, mirrored


@dataclass(frozen=True, slots=True)
class Assumption:
    """A default that was used: JSON Pointer of the gap, the value, its dimension, its source.

    ``dimension`` is the quantity's name ("mass", "percentage" …), empty for a word or a count.
    """

    pointer: str
    value: float | str
    dimension: str
    source: str


@dataclass(frozen=True, slots=True)
class Occupant:
    """Somebody aboard: mass (kg) and, where already placed, a seat's index or a spot (m)."""

    mass: float
    seat: int | None = None
    x: float | None = None
    y: float | None = None

    @property
    def placed(self) -> bool:
        return self.seat is not None or self.x is not None


@dataclass(frozen=True, slots=True)
class Bag(Occupant):
    """A movable load: at a spot, or by a seat; always at its own height ``z`` (m).

    ``load`` is its index among the cargo's loads.
    """

    z: float = 0.0
    load: int = 0


@dataclass(frozen=True, slots=True)
class FilledRider:
    """A rider without gaps. ``stance`` stays open where only the side was told."""

    mass: float
    stance: Stance | None
    board: Board
    level: Level
    wants: tuple[Wish, ...]


@dataclass(frozen=True, slots=True)
class Cargo:
    """What is aboard, in SI, seen in the surf frame. Fills are fractions in the tanks' order."""

    boat: Boat
    people: tuple[Occupant, ...]
    loads: tuple[Load, ...]
    fills: tuple[float, ...]
    fuel: float
    water: Water
    seat_height: float


class Gaps:
    """Collects the defaults that were used, in the order of the request's members."""

    def __init__(self, base: RuleBase) -> None:
        self._base = base
        self.assumed: list[Assumption] = []

    def say(self, pointer: str, value: float | str, dimension: str, source: str) -> None:
        self.assumed.append(Assumption(pointer, value, dimension, source))

    def number(self, pointer: str, given: float | None, parameter: str, dimension: str) -> float:
        """``given``, or the value of ``defaults.<parameter>``; percentages become fractions."""
        if given is not None:
            return given
        found = self._base.parameters[f"defaults.{parameter}"]
        value = found.number() / (100.0 if dimension == "percentage" else 1.0)
        self.say(pointer, value, dimension, f"rule base: {found.says} ({found.source})")
        return value


def fill_crew(given: tuple[Person, ...] | None, gaps: Gaps) -> tuple[Person, ...]:
    """Everybody aboard with a mass."""
    if given is None:
        count = round(gaps.number("/crew", None, "crew", ""))
        given = (Person(),) * count
    unknown = [person for person in given if person.mass is None]
    if not unknown:
        return given
    mass = gaps.number("/crew/*/mass", None, "person_mass", "mass")
    return tuple(
        person if person.mass is not None else replace(person, mass=mass) for person in given
    )


def fill_rider(rider: Rider, gaps: Gaps) -> FilledRider:
    """A rider without gaps: the cautious choice where nothing was told."""
    mass = gaps.number("/rider/mass", rider.mass, "rider_mass", "mass")
    if rider.board is None:
        gaps.say("/rider/board", Board.SURF.value, "", "the steadier style of board")
    if rider.level is None:
        gaps.say("/rider/level", Level.BEGINNER.value, "", "the cautious choice")
    return FilledRider(
        mass, rider.stance, rider.board or Board.SURF, rider.level or Level.BEGINNER, rider.wants
    )


def fill_water(water: Water, gaps: Gaps) -> Water:
    """Kind and temperature filled; depth and distance stay unknown where they were not told."""
    if water.kind is None:
        gaps.say("/water/kind", WaterKind.FRESH.value, "", "most riding is on lakes")
    temperature = gaps.number(
        "/water/temperature", water.temperature, "water_temperature", "temperature"
    )
    return replace(water, kind=water.kind or WaterKind.FRESH, temperature=temperature)


def fill_ballast(
    given: Mapping[str, float] | None, tanks: Iterable[Tank], gaps: Gaps
) -> dict[str, float]:
    """What is in every tank; one that was not told is empty, and said to be."""
    untold = [tank.id for tank in tanks if tank.id not in (given or {})]
    if given is None and untold:
        gaps.say("/ballast", 0.0, "percentage", "tanks are drained between outings")
    else:
        for tank in untold:
            gaps.say(f"/ballast/{tank}", 0.0, "percentage", "not told, so taken as empty")
    return dict.fromkeys(untold, 0.0) | dict(given or {})


def cargo_of(request: AdviceRequest | LoadingRequest, side: Side, gaps: Gaps) -> Cargo:
    """What is aboard, in the surf frame of ``side``, every gap filled."""
    boat = surf_frame(request.boat, side)
    sign = 1.0 if side is Side.PORT else -1.0
    people = fill_crew(request.crew, gaps)
    ballast = fill_ballast(request.ballast, request.boat.tanks, gaps)
    fuel = gaps.number("/fuel", request.fuel, "fuel", "percentage")
    return Cargo(
        boat=boat,
        people=_occupants(people, boat.seats, sign),
        loads=tuple(
            sorted(
                (replace(load, y=_times(sign, load.y)) for load in request.loads),
                key=lambda load: (load.x, load.y, load.z, load.mass, load.movable),
            )
        ),
        fills=tuple(ballast[tank.id] for tank in boat.tanks),
        fuel=fuel,
        water=fill_water(request.water, gaps),
        seat_height=_mean((seat.z for seat in boat.seats), boat.light.z),
    )


@lru_cache(maxsize=64)  # the same in every request for a boat
def surf_frame(boat: Boat, side: Side) -> Boat:
    """The boat with the surf side to port, tanks and seats sorted by place and size."""
    seen = boat if side is Side.PORT else mirrored(boat)
    return replace(
        seen,
        light=replace(seen.light, y=seen.light.y + 0.0),
        tanks=tuple(sorted((replace(t, y=t.y + 0.0) for t in seen.tanks), key=_tank_order)),
        seats=tuple(sorted((replace(s, y=s.y + 0.0) for s in seen.seats), key=_seat_order)),
    )


def _occupants(
    people: Iterable[Person], seats: tuple[Seat, ...], sign: float
) -> tuple[Occupant, ...]:
    index = {seat.id: number for number, seat in enumerate(seats)}
    occupants = (
        Occupant(
            mass=person.mass or 0.0,
            seat=None if person.seat is None else index[person.seat],
            x=person.x,
            y=None if person.y is None else _times(sign, person.y),
        )
        for person in people
    )
    return tuple(sorted(occupants, key=_occupant_order))


def _times(sign: float, value: float) -> float:
    return sign * value + 0.0  # never a negative zero, which would sort apart from its mirror


def _tank_order(tank: Tank) -> tuple[float, ...]:
    return (
        tank.x, tank.y, tank.z, tank.capacity, tank.length, tank.width, tank.max_fill,
        tank.fill_rate or 0.0, tank.drain_rate or 0.0,
    )  # fmt: skip


def _seat_order(seat: Seat) -> tuple[float, ...]:
    return (seat.x, seat.y, seat.z, seat.places)


def _occupant_order(person: Occupant) -> tuple[float, ...]:
    seat = -1 if person.seat is None else person.seat
    return (
        float(person.placed), float(seat), person.x or 0.0, person.y or 0.0, -person.mass,
    )  # fmt: skip


def _mean(values: Iterable[float], otherwise: float) -> float:
    every = list(values)
    return sum(every) / len(every) if every else otherwise
