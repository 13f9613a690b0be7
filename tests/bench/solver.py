"""How long the loading solver and the change-over take: processor time, and in equilibria."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace

import numpy as np

from service.advice import loading_plan
from service.advice.changeover import OnTheWay, changeover
from service.advice.loading_condition import LoadingCondition
from service.advice.loading_plan import Band, Wanted, plan_loading
from service.advice.requests import Person
from service.boats.model import Boat
from service.hydrostatics.equilibrium import equilibrium
from service.hydrostatics.weights import Loading
from tests.advice.boats import FLEET, WATER, asked, crew, loading

HEAD = ("loading", "cases", "median", "worst", "worst in equilibria of the same run")
MOST_PEOPLE = 16
REPETITIONS = 3
LOADED = Loading(2600.0, 2.6, 0.08, 0.75)

Problem = tuple[LoadingCondition, Wanted]


def processor(work: Callable[[], object]) -> float:
    """Milliseconds of the processor; the least of some, each time as if asked first."""
    taken = []
    for _ in range(REPETITIONS):
        loading_plan._planned.cache_clear()
        begun = time.process_time()
        work()
        taken.append(time.process_time() - begun)
    return 1e3 * min(taken)


def wanted_of(
    found: LoadingCondition, room: float | None = None, freeboard: float = 0.35
) -> Wanted:
    """With the limits that the rule base sets."""
    return replace(
        asked(found, room, freeboard),
        least_bow=0.6, most_lean=7.0, least_gm=0.15, ample_gm=0.35,
    )  # fmt: skip


def everyday() -> Iterator[Problem]:
    """Nobody up to sixteen people of one mass, none of them seated yet."""
    for boat in FLEET.values():
        places = sum(seat.places for seat in boat.seats)
        for count in range(min(places, MOST_PEOPLE) + 1):
            found = loading(boat, crew(*[84.0] * count))
            yield found, wanted_of(found)


def awkward(boats: Iterable[Boat] = tuple(FLEET.values()), count: int = 60) -> Iterator[Problem]:
    """People of many masses, most of them seated anywhere, little room, high sides asked for."""
    listed = list(boats)
    for case in range(count):
        rng = np.random.default_rng(case)
        boat = listed[case % len(listed)]
        seats = loading(boat).boat.seats
        free = [seat.places for seat in seats]
        people = []
        for _ in range(min(int(rng.integers(1, MOST_PEOPLE + 1)), sum(free))):
            mass, seat = float(np.round(rng.uniform(35.0, 120.0))), int(rng.integers(len(free)))
            seated = free[seat] > 0 and rng.random() < 0.6
            free[seat] -= seated
            people.append(Person(mass, seats[seat].id if seated else None))
        fills = tuple(rng.choice([0.0, 0.3, 0.6, 1.0], len(boat.tanks)).tolist())
        found = loading(boat, people, fills)
        wanted = wanted_of(found, [None, 600.0, 300.0][case % 3], [0.35, 0.5, 0.3][case // 3 % 3])
        yield found, replace(wanted, lean=Band(6.0, 1.0)) if case % 4 == 0 else wanted


def different() -> Iterator[Problem]:
    """Thirteen people and more of different masses, none of them seated yet."""
    for boat in FLEET.values():
        places = sum(seat.places for seat in boat.seats)
        for case in range(8):
            rng = np.random.default_rng(case)
            masses = np.round(rng.uniform(35.0, 120.0, min(13 + case % 4, places)))
            found = loading(boat, crew(*masses.tolist()))
            yield found, wanted_of(found)


def one_tank() -> Iterator[Problem]:
    for boat in FLEET.values():
        for tank in boat.tanks:
            for count in (2, 5, 8):
                found = loading(replace(boat, tanks=(tank,)), crew(*[84.0] * count))
                yield found, wanted_of(found)


def eight_tanks() -> Iterator[Problem]:
    """The boat of eight metres with three bags more."""
    boat = FLEET["demo-8m"]
    bags = [replace(tank, id=f"bag-{n}", x=tank.x + 0.6, capacity=tank.capacity / 2.0)
            for n, tank in enumerate(boat.tanks[:3])]  # fmt: skip
    return awkward([replace(boat, tanks=(*boat.tanks, *bags))], 24)


def rows() -> Iterator[tuple[str, ...]]:
    hull = FLEET["demo-7m"].hull
    one = statistics.median(processor(lambda: equilibrium(hull, LOADED, WATER)) for _ in range(200))
    for name, problems in (
        ("everyday", everyday()), ("awkward", awkward()), ("of different masses", different()),
        ("with one tank", one_tank()), ("awkward, eight tanks", eight_tanks()),
    ):  # fmt: skip
        taken = [
            processor(lambda found=found, wanted=wanted: plan_loading(found, wanted))  # type: ignore[misc]
            for found, wanted in problems
        ]
        yield _row(name, taken, one)
    yield _row("change-over of the awkward", list(_changeovers()), one)


def _changeovers() -> Iterator[float]:
    limits = OnTheWay(least_freeboard=0.35, most_lean=7.0, least_gm=0.15)
    for found, wanted in awkward(count=36):
        plan = plan_loading(found, wanted)
        yield processor(
            lambda found=found, plan=plan: changeover(found, plan.condition, limits)  # type: ignore[misc]
        )


def _row(name: str, taken: list[float], one: float) -> tuple[str, ...]:
    return (
        name, str(len(taken)), f"{statistics.median(taken):.1f} ms", f"{max(taken):.1f} ms",
        f"{max(taken) / one:.0f}",
    )  # fmt: skip
