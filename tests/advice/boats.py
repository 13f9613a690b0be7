"""Random loading conditions for the loading tests: the demo fleet, its crews, its tanks."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from rules.base import load
from schemas.fleet import demo_fleet
from service.advice.loading_condition import (
    Attitude,
    LoadingCondition,
    attitude,
    seen_from,
    surf_frame,
)
from service.advice.loading_plan import Band, Practice, Wanted
from service.advice.requests import Load, Person, Role, Water, WaterKind
from service.boats.model import Boat, Seat, SeatRole, Side

WATER, FUEL = 998.0, 740.0
BASE = load()
FLEET = {boat.id: boat for boat in demo_fleet()}


def numbered(people: Iterable[Person]) -> tuple[Person, ...]:
    return tuple(replace(person, number=n) for n, person in enumerate(people, 1))


def loading(
    boat: Boat,
    people: Iterable[Person] = (),
    fills: tuple[float, ...] | None = None,
    side: Side = Side.PORT,
    loads: tuple[Load, ...] = (),
) -> LoadingCondition:
    """In the surf frame; ``people`` and ``loads`` in the boat's own axes, ``fills`` sorted."""
    empty = (0.0,) * len(boat.tanks)
    own = LoadingCondition(
        boat=boat,
        people=numbered(people),
        loads=loads,
        fills=empty,
        fuel=0.5,
        water=Water(WaterKind.FRESH, 20.0),
        density=WATER,
        fuel_density=FUEL,
    )
    return replace(seen_from(own, side), fills=fills or empty)


def crew(*masses: float) -> tuple[Person, ...]:
    """People without a place."""
    return tuple(Person(mass) for mass in masses)


def asked(found: LoadingCondition, room: float | None = None, freeboard: float = 0.35) -> Wanted:
    """What the rule base asks of a boat with a plate, but for limits on bow, lean and GM."""
    tanks = found.boat.tanks
    full = [*found.lightship(), *found.water_weights([1.0] * len(tanks))]
    level = attitude(found.boat, full, found.density).trim
    return Wanted(
        practice=Practice.of(BASE, found.boat),
        lean=Band(1.5, 1.0),
        trim=Band((level or 0.0) + 0.5, 1.2),
        fills=tuple(0.9 if tank.y < 0 else 1.0 for tank in tanks),
        room=room,
        least_freeboard=freeboard,
    )


def floated(found: LoadingCondition, people: Iterable[Person], fills: Iterable[float]) -> Attitude:
    """How the boat floats with these people and fills instead."""
    return replace(found, people=tuple(people), fills=tuple(fills)).attitude()


def small_case(rng: np.random.Generator) -> tuple[LoadingCondition, Wanted]:
    """At most 3 tanks, 5 people, 5 seats; some people seated, some tanks limited."""
    boat = FLEET[str(rng.choice(sorted(FLEET)))]
    seen = surf_frame(boat, Side.PORT)
    tanks = [seen.tanks[i] for i in sorted(rng.permutation(len(seen.tanks))[: rng.integers(0, 4)])]
    driver = next(seat for seat in seen.seats if seat.role is SeatRole.DRIVER)
    others = [seat for seat in seen.seats if seat is not driver]
    chosen = sorted(rng.permutation(len(others))[: rng.integers(1, 5)])
    most = float(rng.choice([1.0, 1.1]))
    boat = replace(
        seen,
        light=replace(seen.light, y=float(rng.choice([0.0, -0.05, 0.05])),
                      x=seen.light.x + float(rng.choice([-0.2, 0.0, 0.2]))),
        tanks=tuple(replace(tank, max_fill=most) for tank in tanks),
        seats=(driver, *(others[i] for i in chosen)),
    )  # fmt: skip
    count = int(rng.integers(0, min(5, sum(seat.places for seat in boat.seats)) + 1))
    kinds = [84.0] if rng.random() < 0.5 else [30.0, 55.0, 84.0, 110.0]
    people = _settled(rng, rng.choice(kinds, count).tolist(), boat.seats)
    grid = rng.choice([0.0, 0.5, 1.0], len(tanks))
    found = loading(boat, people, tuple(grid.tolist()))
    wanted = asked(found)
    if rng.random() < 0.3:
        wanted = replace(wanted, room=float(rng.choice([200.0, 500.0, 800.0])))
    if rng.random() < 0.3:
        wanted = replace(wanted, least_freeboard=float(rng.choice([0.45, 0.5, 0.55])))
    if rng.random() < 0.2:
        wanted = replace(wanted, least_bow=0.9, most_lean=4.0)
    if rng.random() < 0.3:
        wanted = replace(wanted, lean=Band(6.0, 1.0))
    return found, wanted


def tight_case(rng: np.random.Generator) -> tuple[LoadingCondition, Wanted]:
    """:func:`small_case` near its limits: GM, bow and lean about where its loadings have them."""
    found, wanted = small_case(rng)
    light = replace(found.boat.light, z=found.boat.light.z + float(rng.choice([0.0, 0.4, 0.7])))
    found = replace(found, boat=replace(found.boat, light=light))
    there = floated(found, found.people, wanted.fills)
    gm, board = there.floating.gm or 0.5, there.freeboard
    bow = 0.8 if board is None else board.bow
    return found, replace(
        wanted,
        least_gm=float(gm + rng.choice([-0.3, -0.05, 0.02])),
        ample_gm=float(gm + rng.choice([0.03, 0.1])),
        least_bow=float(bow + rng.choice([-0.1, 0.03, 0.1, 0.4])),
        most_lean=float(rng.choice([1.0, 2.0, 4.0])),
    )


def bag_case(rng: np.random.Generator) -> tuple[LoadingCondition, Wanted]:
    """:func:`small_case` with one to three bags besides, most of them movable."""
    found, wanted = small_case(rng)
    hull = found.boat.hull
    loads = tuple(
        Load(
            mass=float(rng.choice([15.0, 30.0, 60.0, 120.0])),
            x=float(rng.uniform(hull.x_min + 0.5, hull.x_max - 1.0)),
            y=float(rng.choice([-0.8, 0.0, 0.8])),
            z=float(rng.choice([0.4, 0.6])),
            name=f"bag {number}",
            movable=bool(rng.random() < 0.8),
        )
        for number in range(int(rng.integers(1, 4)))
    )
    return replace(found, loads=loads), wanted


def _settled(
    rng: np.random.Generator, masses: list[float], seats: tuple[Seat, ...]
) -> tuple[Person, ...]:
    """Some of them on seats, the others without a place; no child at the wheel."""
    free = [seat.places for seat in seats]
    people = []
    some = rng.random() < 0.6
    for mass in masses:
        seat = int(rng.integers(0, len(seats)))
        fit = mass > 45.0 or seats[seat].role is not SeatRole.DRIVER
        if some and rng.random() < 0.7 and free[seat] > 0 and fit:
            free[seat] -= 1
            people.append(Person(mass, seats[seat].id))
        else:
            role = Role.CREW if rng.random() < 0.1 else None
            people.append(Person(mass, role=role))
    return numbered(people)
