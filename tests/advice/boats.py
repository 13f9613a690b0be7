"""Random cargoes for the loading tests: the demo fleet, its crews, its tanks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from service.advice.weighing import fixed_weights, lie, person_weight, tank_weights

from schemas.fleet import demo_fleet
from service.advice.loading_plan import Band, Wanted
from service.advice.requests import Load, Water, WaterKind
from service.advice.situation import Cargo, Occupant, surf_frame
from service.boats.model import Boat, Seat, Side

WATER, FUEL = 998.0, 740.0
FLEET = {boat.id: boat for boat in demo_fleet()}


def cargo(
    boat: Boat,
    people: tuple[Occupant, ...] = (),
    fills: tuple[float, ...] | None = None,
    side: Side = Side.PORT,
    loads: tuple[Load, ...] = (),
) -> Cargo:
    """In the surf frame; ``people`` and ``fills`` in the order of its sorted seats and tanks."""
    seen = surf_frame(boat, side)
    heights = [seat.z for seat in seen.seats]
    return Cargo(
        boat=seen,
        people=people,
        loads=loads,
        fills=fills or (0.0,) * len(seen.tanks),
        fuel=0.5,
        water=Water(WaterKind.FRESH, 20.0),
        seat_height=sum(heights) / len(heights) if heights else seen.light.z,
    )


def crew(*masses: float) -> tuple[Occupant, ...]:
    """People without a place."""
    return tuple(Occupant(mass) for mass in sorted(masses, reverse=True))


def asked(found: Cargo, room: float | None = None, freeboard: float = 0.35) -> Wanted:
    """What the rule base asks of a boat with a plate: 1.5° of lean, the builder's trim."""
    tanks = found.boat.tanks
    weights = [*fixed_weights(found, FUEL), *tank_weights(found.boat, [1.0] * len(tanks), WATER)]
    level = lie(found.boat, weights, WATER).trim
    fills = tuple(0.9 if tank.y < 0 else 1.0 for tank in tanks)
    return Wanted(Band(1.5, 1.0), Band(level or 0.0, 0.6), fills, room, freeboard)


def small_case(rng: np.random.Generator) -> tuple[Cargo, Wanted]:
    """At most 3 tanks, 5 people, 5 seats; some people seated, some tanks limited."""
    boat = FLEET[str(rng.choice(sorted(FLEET)))]
    seen = surf_frame(boat, Side.PORT)
    tanks = [seen.tanks[i] for i in sorted(rng.permutation(len(seen.tanks))[: rng.integers(0, 4)])]
    seats = [seen.seats[i] for i in sorted(rng.permutation(len(seen.seats))[: rng.integers(2, 6)])]
    most = float(rng.choice([1.0, 1.1]))
    boat = replace(
        seen,
        light=replace(seen.light, y=float(rng.choice([0.0, -0.05, 0.05])),
                      x=seen.light.x + float(rng.choice([-0.2, 0.0, 0.2]))),
        tanks=tuple(replace(tank, max_fill=most) for tank in tanks),
        seats=tuple(seats),
    )  # fmt: skip
    places = sum(seat.places for seat in seats)
    count = int(rng.integers(0, min(5, places) + 1))
    masses = (
        rng.choice([84.0], count) if rng.random() < 0.5 else rng.choice([55.0, 84.0, 110.0], count)
    )
    people = _settle(rng, sorted(masses.tolist(), reverse=True), boat.seats)
    grid = rng.choice([0.0, 0.5, 1.0], len(tanks))
    found = cargo(boat, people, tuple(grid.tolist()))
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


def tight_case(rng: np.random.Generator) -> tuple[Cargo, Wanted]:
    """:func:`small_case` near its limits: GM, bow and lean about where its loadings have them."""
    found, wanted = small_case(rng)
    light = replace(found.boat.light, z=found.boat.light.z + float(rng.choice([0.0, 0.4, 0.7])))
    found = replace(found, boat=replace(found.boat, light=light))
    weights = [
        *fixed_weights(found, FUEL),
        *(person_weight(person, found) for person in found.people),
        *tank_weights(found.boat, wanted.fills, WATER),
    ]
    there = lie(found.boat, weights, WATER)
    gm, board = there.floating.gm or 0.5, there.freeboard
    bow = 0.8 if board is None else board.bow
    return found, replace(
        wanted,
        least_gm=float(gm + rng.choice([-0.3, -0.05, 0.02])),
        ample_gm=float(gm + rng.choice([0.03, 0.1])),
        least_bow=float(bow + rng.choice([-0.1, 0.03, 0.1, 0.4])),
        most_lean=float(rng.choice([1.0, 2.0, 4.0])),
    )


def bag_case(rng: np.random.Generator) -> tuple[Cargo, Wanted]:
    """:func:`small_case` with one to three bags besides, most of them movable."""
    found, wanted = small_case(rng)
    hull = found.boat.hull
    loads = [
        Load(
            mass=float(rng.choice([15.0, 30.0, 60.0, 120.0])),
            x=float(rng.uniform(hull.x_min + 0.5, hull.x_max - 1.0)),
            y=float(rng.choice([-0.8, 0.0, 0.8])),
            z=float(rng.choice([0.4, 0.6])),
            name=f"bag {number}",
            movable=bool(rng.random() < 0.8),
        )
        for number in range(int(rng.integers(1, 4)))
    ]
    order = sorted(loads, key=lambda load: (load.x, load.y, load.z, load.mass, load.movable))
    return replace(found, loads=tuple(order)), wanted


def _settle(
    rng: np.random.Generator, masses: list[float], seats: tuple[Seat, ...]
) -> tuple[Occupant, ...]:
    """Some of them on seats, the others without a place, in the surf frame's order."""
    free = [seat.places for seat in seats]
    people = []
    some = rng.random() < 0.6
    for mass in masses:
        seat = int(rng.integers(0, len(seats)))
        if some and rng.random() < 0.7 and free[seat] > 0:
            free[seat] -= 1
            people.append(Occupant(mass, seat))
        else:
            people.append(Occupant(mass))
    return tuple(
        sorted(people, key=lambda p: (p.placed, -1 if p.seat is None else p.seat, -p.mass))
    )
