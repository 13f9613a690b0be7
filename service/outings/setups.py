"""The set-up of one rider's turn: by the rules, from a saved set-up, or as a compromise."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

from rules.model import Facts, Stage, Target, Verdict
from service.advice import facts as tell
from service.advice.advise import plan_facts
from service.advice.answer import Setup, Warned
from service.advice.assembly import KMH, accounts_of, setup_of
from service.advice.case import Case, cautions_of, open_case, verdict_of
from service.advice.loading_plan import Band, Plan, Wanted, plan_loading
from service.advice.requests import AdviceRequest
from service.advice.situation import Gaps, Occupant, cargo_of
from service.advice.wanted import level_trim, wanted, water_wanted
from service.advice.weighing import (
    Attitude,
    fixed_weights,
    gear_mass,
    lie,
    person_weight,
    tank_weights,
)
from service.boats.model import Side, Tank
from service.outings.requests import Saved
from service.outings.trip import Stand, Trip, persons, placed, wish_of

FROUDE = 1.0 / 6.0
"""Speed goes with this power of displacement at the same Froude number on displacement,
V / √(g ∇^⅓) (Froude's law of similarity)."""


class Origin(StrEnum):
    """Where the numbers of a turn come from."""

    RULES = "rules"
    SAVED = "saved"
    CARRIED_OVER = "carried_over"
    COMPROMISE = "compromise"


@dataclass(frozen=True, slots=True, eq=False)
class Turn:
    """The set-up for one rider with everybody else aboard; ``fuel`` (fraction) it is made for.

    ``stand`` is in the trip's frame, ``attitude`` in the rider's surf frame.
    """

    rider: int
    origin: Origin
    request: AdviceRequest
    fuel: float
    setup: Setup
    stand: Stand
    plan: Plan
    aim: Wanted
    attitude: Attitude
    verdict: Verdict
    cautions: tuple[Warned, ...]
    facts: Facts

    @property
    def side(self) -> Side:
        return self.setup.surf_side


@dataclass(frozen=True, slots=True)
class Opened:
    """A rider's case after the rules on limits, need and loading, and what they want."""

    rider: int
    request: AdviceRequest
    case: Case
    level: float | None
    aim: Wanted

    @property
    def fills(self) -> tuple[float, ...]:
        return self.aim.fills


def opened(trip: Trip, rider: int, fuel: float, side: Side | None = None) -> Opened:
    """Rider ``rider`` off the boat, everybody else at home; ``side`` overrides theirs."""
    asked = trip.riders[rider]
    request = AdviceRequest(
        boat=trip.boat,
        rider=asked.rider,
        crew=persons(p for n, p in enumerate(trip.people) if n != trip.person_of(rider)),
        ballast=trip.ballast,
        loads=trip.loads,
        water=trip.water,
        fuel=fuel,
        surf_side=side or wish_of(asked),
    )
    case = open_case(request, trip.base)
    case.reasoning.run(Stage.LIMITS, Stage.NEED, Stage.LOADING)
    level = level_trim(case)
    return Opened(rider, request, case, level, wanted(case, level))


def own_turn(trip: Trip, rider: int, fuel: float, side: Side | None = None) -> Turn:
    """The rider's own numbers: the saved set-up where there is one, else those of the rules."""
    found = opened(trip, rider, fuel, side)
    saved = trip.riders[rider].saved
    if saved is None or saved.surf_side is not found.case.side:
        plan = plan_loading(found.case.cargo, found.aim, found.case.density, trip.fuel_density)
        return concluded(trip, found, plan, Origin.RULES, water_wanted(found.case))
    same = saved.boat is trip.request.boat
    found, speed = _as_saved(found, saved) if same else _carried_over(found, saved)
    case = found.case
    plan = plan_loading(case.cargo, found.aim, case.density, trip.fuel_density)
    water = _water(found.aim.fills, case.cargo.boat.tanks, case.density)
    return concluded(
        trip, found, plan, Origin.SAVED if same else Origin.CARRIED_OVER, water, speed, saved.plates
    )


def concluded(
    trip: Trip, opened: Opened, plan: Plan, origin: Origin, water: float,
    speed: float | None = None, plates: Mapping[str, float | None] | None = None,
) -> Turn:  # fmt: skip
    """What the rules say of ``plan``; ``speed`` (m/s) and ``plates`` instead of the rules'.

    ``water`` (kg) is what was wanted in the tanks.
    """
    case = opened.case
    reasoning = case.reasoning
    reasoning.facts["plan"] = plan_facts(case, plan)
    reasoning.run(Stage.BASE, Stage.CORRECTIONS)
    set_speed = reasoning.number(Target.SPEED) * KMH if speed is None else speed
    rider = person_weight(Occupant(case.rider.mass), case.cargo)
    home = lie(case.cargo.boat, [*plan.weights, rider], case.density)
    reasoning.facts["attitude"] = tell.attitude_facts(
        case.cargo, opened.aim, plan, home, opened.level, water, case.density, set_speed
    )
    reasoning.run(Stage.CHECKS)
    setup = setup_of(case, plan, accounts_of(case, plan))
    if speed is not None:
        setup = replace(setup, speed=speed)
    if plates is not None:
        fitted = trip.boat.plates
        setup = replace(
            setup,
            centre_plate=plates.get("centre") if fitted.centre else None,
            port_plate=plates.get("port") if fitted.port else None,
            starboard_plate=plates.get("starboard") if fitted.starboard else None,
        )
    return Turn(
        rider=opened.rider,
        origin=origin,
        request=opened.request,
        fuel=case.cargo.fuel,
        setup=setup,
        stand=_stand(trip, opened, plan),
        plan=plan,
        aim=opened.aim,
        attitude=plan.attitude,
        verdict=verdict_of(reasoning.fired),
        cautions=cautions_of(reasoning.fired),
        facts=reasoning.facts,
    )


def _stand(trip: Trip, opened: Opened, plan: Plan) -> Stand:
    """Where everybody is, in the trip's frame; the rider's own place is their home."""
    off = trip.person_of(opened.rider)
    others = [person for number, person in enumerate(trip.people) if number != off]
    cargo = opened.case.cargo
    places = list(placed(others, cargo, plan.people, opened.case.side))
    places.insert(off, trip.people[off].home)
    fills = {tank.id: fill for tank, fill in zip(cargo.boat.tanks, plan.fills, strict=True)}
    return Stand(tuple(places), tuple(fills[tank] for tank in trip.tanks), off)


def as_set(trip: Trip, opened: Opened, fills: Mapping[str, float]) -> Plan:
    """A plan with everybody at home and the tanks at ``fills``, whatever the rules would like."""
    case = opened.case
    tanks = case.cargo.boat.tanks
    seen = tuple(fills[tank.id] for tank in tanks)
    weights = (
        *fixed_weights(case.cargo, trip.fuel_density),
        *(person_weight(person, case.cargo) for person in case.cargo.people),
        *tank_weights(case.cargo.boat, seen, case.density),
    )
    none = (0.0,) * len(tanks)
    return Plan(
        people=case.cargo.people,
        fills=seen,
        for_room=none,
        for_freeboard=none,
        for_balance=none,
        attitude=lie(case.cargo.boat, weights, case.density),
        weights=weights,
    )


def _as_saved(opened: Opened, saved: Saved) -> tuple[Opened, float]:
    """The saved numbers on the same boat, corrected for who is aboard today.

    The same heel and trim at rest, and as nearly the same displacement as the tanks allow: more
    people, less water. The solver then moves people and water for today's crew.
    """
    case = opened.case
    tanks = case.cargo.boat.tanks
    fills = [saved.tanks.get(tank.id, 0.0) for tank in tanks]
    water = _water(fills, tanks, case.density)
    if water > 0.0:
        part = max(saved.displacement - _dry(opened), 0.0) / water
        fills = [min(fill * part, tank.max_fill) for fill, tank in zip(fills, tanks, strict=True)]
    return _aimed(opened, saved, math.degrees(saved.trim), fills), saved.speed


def _carried_over(opened: Opened, saved: Saved) -> tuple[Opened, float]:
    """The saved numbers of another boat by physics.

    The same heel; the same change of trim from the builder's own; water in proportion to the
    displacement without it, evenly in these tanks before the solver balances them; speed at the
    same Froude number on displacement; plates at the same part of their travel.
    """
    case = opened.case
    there = AdviceRequest(
        saved.boat, opened.request.rider, crew=(), water=case.cargo.water, fuel=case.cargo.fuel
    )
    cargo = cargo_of(there, case.side, Gaps(case.base))
    level_there = level_trim(replace(case, cargo=cargo)) or 0.0
    water_there = _water(
        [saved.tanks.get(tank.id, 0.0) for tank in cargo.boat.tanks], cargo.boat.tanks, case.density
    )
    ratio = _dry(opened) / max(saved.displacement - water_there, 1.0)
    tanks = case.cargo.boat.tanks
    capacity = case.density * math.fsum(tank.capacity for tank in tanks)
    even = ratio * water_there / capacity if tanks else 0.0
    fills = [min(even, tank.max_fill) for tank in tanks]
    trim = (opened.level or 0.0) + math.degrees(saved.trim) - level_there
    return _aimed(opened, saved, trim, fills), saved.speed * ratio**FROUDE


def _aimed(opened: Opened, saved: Saved, trim: float, fills: list[float]) -> Opened:
    """``trim`` in degrees."""
    aim = opened.aim
    towards = -1.0 if saved.surf_side is Side.PORT else 1.0
    lean = towards * math.degrees(saved.heel) + 0.0
    return replace(
        opened,
        aim=replace(
            aim,
            lean=Band(lean, aim.lean.either_side),
            trim=Band(trim, aim.trim.either_side),
            fills=tuple(fills),
        ),
    )


def _dry(opened: Opened) -> float:
    """Mass (kg) of the boat as she rides without any water in her tanks."""
    case = opened.case
    boat, cargo = case.cargo.boat, case.cargo
    fuel = boat.fuel.capacity * cargo.fuel * case.base.number("defaults.fuel_density")
    people = math.fsum(person.mass for person in cargo.people)
    return boat.light.mass + fuel + people + gear_mass(cargo.loads)


def _water(fills: list[float] | tuple[float, ...], tanks: tuple[Tank, ...], water: float) -> float:
    return water * math.fsum(f * tank.capacity for f, tank in zip(fills, tanks, strict=True))
