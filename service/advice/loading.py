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
from service.advice.crew import CrewRules, crew_facts, settle_roles, without_adult
from service.advice.loading_condition import Attitude, LoadingCondition
from service.advice.requests import LoadingRequest
from service.advice.situation import Assumption, Gaps, condition_of
from service.advice.stability_picture import StabilityPicture, stability_picture
from service.boats.model import Boat, Side
from service.hydrostatics.stability import righting_arms

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
    condition = condition_of(request, Side.PORT, gaps)
    if any(not person.placed for person in condition.people):
        gaps.say("/crew/*/seat", "amid the seats", "", "no seats given")
    attitude = condition.attitude()
    limits = _limits(condition, attitude)
    rules = CrewRules.of(base)
    roles = settle_roles(condition, rules)
    apart = without_adult(condition.people, condition, rules)
    known = {
        "load": tell.load_facts(condition, None),
        "crew": crew_facts(condition, roles, rules),
        "attitude": tell.resting_facts(condition, attitude, len(apart)),
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
        at_rest=at_rest_of(request.boat, Side.PORT, attitude, condition.density),
        angles=angles,
        gz=_righting(request.boat, attitude, condition.density, angles),
        limits=limits,
        cautions=cautions_of(fired),
        assumed=tuple(gaps.assumed),
        firings=tuple(fired),
        facts=known,
        base=base,
        stability=stability_picture(condition, attitude) if stability else None,
    )


BRIEFING = ("equipment", "fuel")
RIDING = ("nobody_to_drive", "nobody_watches", "mirror_instead", "no_drivers_seat")
"""Rules on people that ask for someone only once the boat tows a rider."""


def _is_briefing(firing: Firing) -> bool:
    """Whether it is for riders: an empty boat at the dock lies as it lies, with or without one."""
    always = not firing.rule.when and firing.rule.topic != "law"
    riding = firing.rule.topic == "crew" and firing.rule.id.split(".")[-1] in RIDING
    return always or riding or firing.rule.topic in BRIEFING


def _righting(
    boat: Boat, attitude: Attitude, water: float, angles: Sequence[float]
) -> tuple[float | None, ...]:
    if not angles:
        return ()
    arms: list[float | None] = righting_arms(
        boat.hull, attitude.loading, water, list(angles)
    ).tolist()
    return tuple(arms)


def _limits(condition: LoadingCondition, attitude: Attitude) -> tuple[Limit, ...]:
    """The maker's limits as far as they are known, and that the boat floats upright and dry."""
    limits, people = condition.boat.limits, condition.people_mass
    plate = "the maker's plate"
    counts = limits.includes_ballast is not False
    load = people + condition.gear_mass + (condition.ballast_mass if counts else 0.0)
    name = "load_with_ballast" if counts else "load_without_ballast"
    board = attitude.freeboard
    least = board.least if board else -math.inf
    persons = None if limits.persons is None else float(limits.persons)
    found = [
        _limit("persons", float(len(condition.people)), persons, "", plate),
        _limit("persons_mass", people, limits.persons_mass, "mass", plate),
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
