"""From the request to the outing without gaps, each default stated."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from rules.base import RuleBase
from service.advice.case import open_case
from service.advice.crew import ORDER, CrewRules, driver_seats, settle_roles
from service.advice.kept import chosen
from service.advice.loading_condition import LoadingCondition
from service.advice.requests import AdviceRequest, Person, Rider, Role, Saved
from service.advice.situation import (
    FilledRider,
    Gaps,
    condition_of,
    fill_ballast,
    fill_crew,
    fill_rider,
    fill_water,
)
from service.boats.model import Boat
from service.outings.homes import homes
from service.outings.requests import Mode, OutingRequest, Pumps
from service.outings.trip import Trip, wish_of

PUMP = 0.001
"""m³/s (60 L/min, common practice) where a pump's rate is not known."""
TURN = 15 * 60.0
"""Riding time (s) of someone who did not say: a quarter of an hour (common practice)."""
LEAST_TURN = 4 * 60.0
"""A turn shorter than this (s) is not worth getting wet for (common practice)."""
BOARDING = 60.0
"""Seconds for a rider to get into the water, or back aboard (common practice)."""
FUEL_USE = 25.0 / 3.6e6
"""m³/s under way with a wave: 25 L/h (common practice, from memory; boats differ widely)."""


def begin(request: OutingRequest, base: RuleBase) -> Trip:
    """Every gap filled with a stated default, and a home seat for everybody."""
    gaps = Gaps(base)
    crew = fill_crew(request.crew, gaps)
    water = fill_water(request.water, gaps)
    fuel = gaps.number("/fuel", request.fuel, "fuel", "percentage")
    ballast = fill_ballast(request.ballast, request.boat.tanks, gaps)
    boat = _with_rates(request.boat, gaps)
    filled, sides = [], []
    saved: list[Saved | None] = []
    for number, asked in enumerate(request.riders):
        own = Gaps(base)
        filled.append(fill_rider(asked.rider, own))
        bare = AdviceRequest(boat, asked.rider, crew=(), water=water, surf_side=wish_of(asked))
        sides.append(open_case(bare, base).side)
        saved.append(chosen(asked.saved, asked.own, request.boat, sides[-1], own, base))
        for gap in own.assumed:
            pointer = f"/riders/{number}{gap.pointer}"
            gaps.say(pointer, gap.value, gap.dimension, gap.source)

    def number_of(name: str, given: float | None, default: float, dimension: str) -> float:
        if given is None:
            gaps.say(f"/{name}", default, dimension, "common practice")
        return default if given is None else given

    wanted = tuple(
        number_of(f"riders/{number}/minutes", asked.wanted, TURN, "time")
        for number, asked in enumerate(request.riders)
    )
    if request.pumps is None:
        gaps.say("/pumps", Pumps.TOGETHER.value, "", "each tank has a pump of its own")
    shifting = request.mode is Mode.EACH
    if not shifting and any(load.movable for load in request.loads):
        gaps.say("/loads/*/movable", "stay", "", "with a common set-up nobody and nothing moves")
    people = _everybody(request, crew, filled)
    bare = AdviceRequest(
        boat, Rider(), crew=people, ballast=ballast, loads=request.loads, water=water, fuel=fuel
    )
    condition = condition_of(bare, sides[0], Gaps(base))
    people = _with_driver(people, condition, base, gaps)
    condition = condition_of(replace(bare, crew=people), sides[0], Gaps(base))
    at_home = homes(condition, boat, sides, base)
    return Trip(
        base=base,
        request=request,
        boat=boat,
        side=sides[0],
        riders=request.riders,
        filled=tuple(filled),
        sides=tuple(sides),
        saved=tuple(saved),
        people=tuple(
            person if spot is None or isinstance(spot, tuple) else person.on(spot)
            for person, spot in zip(people, at_home, strict=True)
        ),
        ballast=ballast,
        water=water,
        fuel=fuel,
        fuel_use=number_of("fuel_use", request.fuel_use, FUEL_USE, "flow"),
        boarding=number_of("boarding", request.boarding, BOARDING, "time"),
        least_turn=number_of("least_turn", request.least_turn, LEAST_TURN, "time"),
        way=number_of("way", request.way, 0.0, "time"),
        wanted=wanted,
        pumps_together=request.pumps is not Pumps.ONE_BY_ONE,
        shifting=shifting,
        seen=condition,
        assumed=tuple(gaps.assumed),
    )


def _with_rates(boat: Boat, gaps: Gaps) -> Boat:
    """Every pump with a rate."""
    for number, tank in enumerate(boat.tanks):
        for name in ("fill_rate", "drain_rate"):
            if not getattr(tank, name):
                gaps.say(f"/boat/tanks/{number}/{name}", PUMP, "flow", "common practice")
    return replace(
        boat,
        tanks=tuple(
            replace(t, fill_rate=t.fill_rate or PUMP, drain_rate=t.drain_rate or PUMP)
            for t in boat.tanks
        ),
    )


def _everybody(
    request: OutingRequest, crew: Sequence[Person], filled: Sequence[FilledRider]
) -> tuple[Person, ...]:
    """The crew, then the riders."""
    people = [replace(p, name=p.name or f"crew {number}") for number, p in enumerate(crew, 1)]
    people += [
        Person(rider.mass, seat=asked.seat, age=asked.age, name=asked.name, rides=True)
        for asked, rider in zip(request.riders, filled, strict=True)
    ]
    return tuple(replace(person, number=n) for n, person in enumerate(people, 1))


def _with_driver(
    people: tuple[Person, ...], condition: LoadingCondition, base: RuleBase, gaps: Gaps
) -> tuple[Person, ...]:
    """The same with one of the crew as the driver of the whole outing, on the driver's seat.

    Nobody, where nobody of the crew may drive. A rider who was given the only place there loses it.
    """
    driver = settle_roles(condition, CrewRules.of(base)).driver
    if driver is None:
        return people
    chosen, seats = people[driver], driver_seats(condition.boat)
    if chosen.role is not Role.DRIVER:
        gaps.say(f"/crew/{driver}/role", f"{chosen.label}: driver", "", f"no driver given; {ORDER}")
    seated = replace(chosen, role=Role.DRIVER)
    left = list(people)
    if seats and chosen.x is None and all(seat.id != chosen.seat for seat in seats):
        given = [person.seat for person in people]
        seat = next((s for s in seats if given.count(s.id) < s.places), seats[0])
        others = [n for n, given_seat in enumerate(given) if given_seat == seat.id]
        if len(others) >= seat.places:
            out = others[-1]
            left[out] = replace(people[out], seat=None)
            why = f"{chosen.label} drives and takes the place at {seat.id}"
            gaps.say(_pointer(out, people), f"{people[out].label}: another seat", "", why)
        seated = seated.on(seat.id)
    left[driver] = seated
    return tuple(left)


def _pointer(number: int, people: Sequence[Person]) -> str:
    """Where the request gave the seat of someone among the crew and the riders."""
    crew = sum(not person.rides for person in people)
    return f"/crew/{number}/seat" if number < crew else f"/riders/{number - crew}/seat"
