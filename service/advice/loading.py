"""The hydrostatic check alone: weights in; floating position, stability and limits out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from rules.base import RuleBase
from rules.engine import evaluate
from rules.model import Facts, Firing, Stage, Verdict
from service.advice import facts as tell
from service.advice.answer import AtRest, Warned
from service.advice.assembly import at_rest_of
from service.advice.case import cautions_of, verdict_of
from service.advice.loading_plan import Plan
from service.advice.requests import LoadingRequest
from service.advice.situation import Assumption, Cargo, Gaps, cargo_of
from service.advice.stability_picture import StabilityPicture, stability_picture
from service.advice.weighing import (
    Attitude,
    ballast_mass,
    fixed_weights,
    gear_mass,
    lie,
    person_weight,
    tank_weights,
    water_density,
)
from service.boats.model import Boat, Side
from service.hydrostatics.stability import righting_arms
from service.hydrostatics.weights import Weight

ANGLES = tuple(math.radians(angle) for angle in range(0, 61, 5))
"""Heels of the righting-arm curve when none are asked for."""


@dataclass(frozen=True, slots=True)
class Limit:
    """A value against a limit. ``None`` as limit is unknown, and ``within`` then too.

    ``dimension`` is that of both numbers ("mass", "length"), empty for a count.
    """

    name: str
    value: float
    limit: float | None
    within: bool | None
    dimension: str
    source: str


@dataclass(frozen=True, slots=True)
class LoadingCheck:
    """What was found. ``gz`` (m) at ``angles`` (radians), ``None`` where the hull cannot float."""

    boat: Boat
    verdict: Verdict
    at_rest: AtRest
    angles: tuple[float, ...]
    gz: tuple[float | None, ...]
    limits: tuple[Limit, ...]
    cautions: tuple[Warned, ...]
    assumed: tuple[Assumption, ...]
    firings: tuple[Firing, ...]
    facts: Facts
    base: RuleBase
    stability: StabilityPicture | None


def check_loading(
    request: LoadingRequest, base: RuleBase, *, stability: bool = False
) -> LoadingCheck:
    """How the boat lies with what is aboard now. A load that sinks or capsizes is an answer.

    With ``stability`` also how much it has in hand: arms, downflooding, everybody to one side.
    """
    gaps = Gaps(base)
    cargo = cargo_of(request, Side.PORT, gaps)
    if any(not person.placed for person in cargo.people):
        gaps.say("/crew/*/seat", "amid the seats", "", "nobody said where they sit")
    water = water_density(cargo)
    weights = [
        *fixed_weights(cargo, base.number("defaults.fuel_density")),
        *(person_weight(person, cargo) for person in cargo.people),
        *tank_weights(cargo.boat, cargo.fills, water),
    ]
    attitude = lie(cargo.boat, weights, water)
    masses = [person.mass for person in cargo.people]
    limits = _limits(cargo, masses, attitude, water)
    known = {
        "load": tell.load_facts(
            request.boat, masses, None, request.loads, ballast_mass(cargo, water), cargo.fuel
        ),
        "attitude": tell.resting_facts(cargo, cargo.fills, weights, attitude),
    }
    fired, _ = evaluate(base, known, [Stage.LIMITS, Stage.CHECKS])
    fired = [firing for firing in fired if not _is_briefing(firing)]
    verdict = verdict_of(fired)
    if any(limit.within is False for limit in limits):
        verdict = Verdict.DO_NOT_GO
    angles = ANGLES if request.angles is None else request.angles
    return LoadingCheck(
        boat=request.boat,
        verdict=verdict,
        at_rest=at_rest_of(request.boat, Side.PORT, attitude, water),
        angles=angles,
        gz=_righting(request.boat, attitude, water, angles),
        limits=limits,
        cautions=cautions_of(fired),
        assumed=tuple(gaps.assumed),
        firings=tuple(fired),
        facts=known,
        base=base,
        stability=_picture(cargo, attitude, weights, water, base) if stability else None,
    )


def _is_briefing(firing: Firing) -> bool:
    """Whether it is for riders: an empty boat at the dock lies as it lies, with or without one."""
    always = not firing.rule.when and firing.rule.topic != "law"
    return always or firing.rule.topic in ("equipment", "fuel")


def _picture(
    cargo: Cargo, attitude: Attitude, weights: Sequence[Weight], water: float, base: RuleBase
) -> StabilityPicture:
    """Of the boat as it is: the plan that changes nothing."""
    nothing = (0.0,) * len(cargo.fills)
    plan = Plan(cargo.people, cargo.fills, nothing, nothing, nothing, attitude, tuple(weights))
    return stability_picture(cargo, plan, water, base.number("defaults.fuel_density"))


def _righting(
    boat: Boat, attitude: Attitude, water: float, angles: Sequence[float]
) -> tuple[float | None, ...]:
    if not angles:
        return ()
    arms: list[float | None] = righting_arms(
        boat.hull, attitude.loading, water, list(angles)
    ).tolist()
    return tuple(arms)


def _limits(
    cargo: Cargo, masses: Sequence[float], attitude: Attitude, water: float
) -> tuple[Limit, ...]:
    """The maker's limits as far as they are known, and that the boat floats upright and dry."""
    limits = cargo.boat.limits
    plate = "the maker's plate"
    counts = limits.includes_ballast is not False
    load = math.fsum(masses) + gear_mass(cargo.loads)
    if counts:
        load += ballast_mass(cargo, water)
    name = "load_with_ballast" if counts else "load_without_ballast"
    board = attitude.freeboard
    least = board.least if board else -math.inf
    persons = None if limits.persons is None else float(limits.persons)
    found = [
        _limit("persons", float(len(masses)), persons, "", plate),
        _limit("persons_mass", math.fsum(masses), limits.persons_mass, "mass", plate),
        _limit(name, load, limits.load_mass, "mass", plate),
    ]
    if math.isfinite(least):
        found.append(
            Limit("least_freeboard", least, 0.0, least > 0.0, "length", "hydrostatic calculation")
        )
    if attitude.floating.gm is not None:
        gm = attitude.floating.gm
        found.append(Limit("gm", gm, 0.0, gm > 0.0, "length", "hydrostatic calculation"))
    return tuple(found)


def _limit(name: str, value: float, limit: float | None, dimension: str, source: str) -> Limit:
    within = None if limit is None else value <= limit
    return Limit(name, value, limit, within, dimension, source if within is not None else "unknown")
