"""Fills the gaps of a request with stated defaults, each of them remembered."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from rules.base import RuleBase
from service.advice.loading_condition import LoadingCondition, seen_from
from service.advice.requests import (
    AdviceRequest,
    Board,
    Level,
    LoadingRequest,
    Person,
    Rider,
    Stance,
    Water,
    WaterKind,
    Wish,
)
from service.boats.model import Side, Tank
from service.hydrostatics.water import density


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
class FilledRider:
    """A rider without gaps. ``stance`` stays open where only the side was told."""

    mass: float
    stance: Stance | None
    board: Board
    level: Level
    wants: tuple[Wish, ...]


class Gaps:
    """Collects the defaults that were used, in the order of the request's members."""

    def __init__(self, base: RuleBase) -> None:
        self.base = base
        self.assumed: list[Assumption] = []

    def say(self, pointer: str, value: float | str, dimension: str, source: str) -> None:
        self.assumed.append(Assumption(pointer, value, dimension, source))

    def number(self, pointer: str, given: float | None, parameter: str, dimension: str) -> float:
        """``given``, or the value of ``defaults.<parameter>``; percentages become fractions."""
        if given is not None:
            return given
        found = self.base.parameters[f"defaults.{parameter}"]
        value = found.number() / (100.0 if dimension == "percentage" else 1.0)
        self.say(pointer, value, dimension, f"rule base: {found.says} ({found.source})")
        return value


def fill_crew(given: tuple[Person, ...] | None, gaps: Gaps) -> tuple[Person, ...]:
    """Everybody aboard with a mass."""
    if given is None:
        count = round(gaps.number("/crew", None, "crew", ""))
        given = (Person(),) * count
    given = tuple(replace(person, number=n) for n, person in enumerate(given, 1))
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


def condition_of(
    request: AdviceRequest | LoadingRequest, side: Side, gaps: Gaps
) -> LoadingCondition:
    """What is aboard, in the surf frame of ``side``, every gap filled."""
    people = fill_crew(request.crew, gaps)
    ballast = fill_ballast(request.ballast, request.boat.tanks, gaps)
    fuel = gaps.number("/fuel", request.fuel, "fuel", "percentage")
    water = fill_water(request.water, gaps)
    own_axes = LoadingCondition(
        boat=request.boat,
        people=people,
        loads=request.loads,
        fills=tuple(ballast[tank.id] for tank in request.boat.tanks),
        fuel=fuel,
        water=water,
        density=water_density(water),
        fuel_density=gaps.base.number("defaults.fuel_density"),
    )
    return seen_from(own_axes, side)


def water_density(water: Water) -> float:
    """Density (kg/m³) of the water that the boat floats in and that fills its tanks."""
    if water.kind is None or water.temperature is None:
        raise ValueError("kind and temperature of the water are not filled in")
    return density(water.kind.value, water.temperature)
