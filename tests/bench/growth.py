"""What a request costs, by what is in it; and what a list costs, by what is stored."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import rules
from schemas.fleet import demo_fleet
from service.advice import loading_plan
from service.advice.advise import advise
from service.advice.requests import AdviceRequest, Person, Rider, Stance, Water
from service.boats.model import Boat
from tests.bench.hydrostatics import median

REPEAT = 30


def asked(boat: Boat, people: int) -> AdviceRequest:
    masses = (Person(mass=60.0 + 5.0 * (n % 7)) for n in range(people))
    return AdviceRequest(
        boat=boat, crew=tuple(masses), ballast=None, loads=(), rider=Rider(80.0, Stance.REGULAR),
        water=Water(), fuel=None, surf_side=None,
    )  # fmt: skip


def with_tanks(boat: Boat, number: int) -> Boat:
    """The same water in more tanks."""
    first = boat.tanks[0]
    return replace(
        boat,
        tanks=tuple(
            replace(first, id=f"tank-{n}", capacity=1.2 / number, x=0.5 + 4.0 * n / number,
                    y=(-1) ** n * 0.6)
            for n in range(number)
        ),
    )  # fmt: skip


def rows() -> Iterator[tuple[str, str]]:
    boat, base = demo_fleet().find("demo-7m"), rules.load()

    def taken(request: Any) -> str:
        def first_asked() -> None:
            loading_plan._planned.cache_clear()
            advise(request, base)

        first_asked()
        return f"{1e3 * median(first_asked, REPEAT):.1f} ms"

    for people in (0, 1, 2, 4, 8, 12, 16):
        yield (
            f"advice (no HTTP), {people} people of {len({n % 7 for n in range(people)})} masses",
            taken(asked(boat, people)),
        )
    for tanks in (0, 1, 2, 5, 10, 20):
        yield f"advice (no HTTP), 8 people, {tanks} tanks", taken(asked(with_tanks(boat, tanks), 8))
