"""From the request to the outing without gaps, each default stated."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from rules.base import RuleBase
from service.advice.case import open_case
from service.advice.kept import chosen
from service.advice.loading_plan import HELM
from service.advice.requests import AdviceRequest, Person, Rider, Saved
from service.advice.situation import (
    FilledRider,
    Gaps,
    cargo_of,
    fill_ballast,
    fill_crew,
    fill_rider,
    fill_water,
)
from service.advice.weighing import water_density
from service.boats.model import Boat
from service.outings.homes import homes
from service.outings.requests import Mode, OutingRequest, Pumps
from service.outings.trip import Somebody, Spot, Trip, persons, wish_of

PUMP = 0.001
"""m³/s (60 L/min, common practice) where a pump's rate is not known."""
TURN = 15 * 60.0
"""Riding time (s) of somebody who did not say: a quarter of an hour (common practice)."""
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
    people = _everybody(request, crew, filled, base.number("watch.child"))
    cargo = cargo_of(
        AdviceRequest(
            boat, Rider(), crew=persons(people), ballast=ballast,
            loads=request.loads, water=water, fuel=fuel,
        ),
        sides[0],
        Gaps(base),
    )  # fmt: skip
    density = water_density(cargo)
    at_home = homes(cargo, boat, people, sides, density, base)
    return Trip(
        base=base,
        request=request,
        boat=boat,
        side=sides[0],
        riders=request.riders,
        filled=tuple(filled),
        sides=tuple(sides),
        saved=tuple(saved),
        people=tuple(replace(p, home=spot) for p, spot in zip(people, at_home, strict=True)),
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
        seen=cargo,
        density=density,
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
    request: OutingRequest, crew: Sequence[Person], filled: Sequence[FilledRider], child: float
) -> list[Somebody]:
    """The crew, then the riders. One of the crew drives: nobody lighter than ``child`` (kg) where
    there is somebody else, and else the heaviest; from a seat only where none without one can.
    """
    helm = any(seat.id == HELM for seat in request.boat.seats)
    taken = any(person.seat == HELM for person in crew)
    may = [number for number, person in enumerate(crew, 1) if person.x is None]
    # The first of the grown ones: up to a child's limit the heavier, beyond it all are alike.
    heaviest = max(
        may,
        key=lambda n: (min(crew[n - 1].mass or 0.0, child), crew[n - 1].seat is None),
        default=None,
    )
    driver = heaviest if helm and not taken else None
    people = []
    for number, person in enumerate(crew, 1):
        spot: Spot = person.seat
        if person.x is not None and person.y is not None:
            spot = (person.x, person.y)
        if number == driver:
            spot = HELM
        people.append(Somebody(f"crew {number}", person.mass or 0.0, spot))
    people += [
        Somebody(asked.name, rider.mass, asked.seat, number)
        for number, (asked, rider) in enumerate(zip(request.riders, filled, strict=True))
    ]
    return people
