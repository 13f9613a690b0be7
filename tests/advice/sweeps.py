"""Advice over a whole range of crews: how far a tank jumps from one crew to the next."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from rules.base import RuleBase
from service.advice.advise import advise
from service.advice.requests import AdviceRequest, Person, Rider, Stance
from service.boats.model import Boat, Side

Crew = Callable[[int, float], tuple[Person, ...]]
"""The people for a head count and a mass (kg)."""
RIDER = Rider(82.0, Stance.GOOFY)


def equal(count: int, mass: float) -> tuple[Person, ...]:
    """Everybody of one mass."""
    return (Person(mass=mass),) * count


def mixed(count: int, mass: float) -> tuple[Person, ...]:
    """Some lighter and some heavier than ``mass``."""
    return tuple(Person(mass=mass + (-24.0, 0.0, 16.0)[n % 3]) for n in range(count))


@dataclass(frozen=True, slots=True)
class Found:
    """One advice of a sweep: fills in percent by tank, and whether the surf side has less."""

    fills: dict[str, float]
    wrong_side: bool


@dataclass(frozen=True, slots=True)
class Jump:
    """From one crew (count, kg) to another, the most that a tank changes (percent)."""

    crew: tuple[int, float]
    after: tuple[int, float]
    change: float


def within_limits(boat: Boat, people: tuple[Person, ...], rider: Rider) -> bool:
    """Whether the maker allows these people and the rider aboard."""
    limits = boat.limits
    mass = sum(person.kilograms for person in people) + (rider.mass or 0.0)
    return (limits.persons is None or len(people) < limits.persons) and (
        limits.persons_mass is None or mass <= limits.persons_mass
    )


def swept(
    boat: Boat, base: RuleBase, masses: Iterable[float], crew: Crew = equal, rider: Rider = RIDER
) -> dict[tuple[int, float], Found]:
    """Advice for each head count that the maker allows, with each of ``masses`` (kg)."""
    return {
        (count, mass): found_for(boat, base, people, rider)
        for mass in masses
        for count in range(1, 1 + (boat.limits.persons or 0))
        if within_limits(boat, people := crew(count, mass), rider)
    }


def found_for(boat: Boat, base: RuleBase, people: tuple[Person, ...], rider: Rider) -> Found:
    """The fills advised for these people."""
    answer = advise(AdviceRequest(boat, rider, crew=people), base)
    fills = {tank.tank: 100.0 * tank.fill for tank in answer.setup.tanks}
    return Found(fills, _is_wrong_side(boat, fills, answer.setup.surf_side))


def _is_wrong_side(boat: Boat, fills: dict[str, float], surf: Side) -> bool:
    water = {side: [0.0, 0.0] for side in (1, -1)}
    for tank in boat.tanks:
        if tank.y:
            of_side = water[1 if tank.y > 0 else -1]
            of_side[0] += fills[tank.id] * tank.capacity
            of_side[1] += tank.capacity
    parts = {side: held / most for side, (held, most) in water.items() if most}
    sign = 1 if surf is Side.PORT else -1
    return len(parts) == len(water) and parts[sign] < parts[-sign] - 1e-9


def jumps(
    found: dict[tuple[int, float], Found], step: float, kilogram: float = 1.0
) -> Iterator[Jump]:
    """Where a kilogram a head changes a tank by more than a step, or a person by more than two."""
    for (count, mass), here in found.items():
        for after, steps in (((count, mass + kilogram), 1), ((count + 1, mass), 2)):
            if (there := found.get(after)) is None:
                continue
            change = max(abs(there.fills[tank] - fill) for tank, fill in here.fills.items())
            if change > steps * step + 1e-6:
                yield Jump((count, mass), after, change)
