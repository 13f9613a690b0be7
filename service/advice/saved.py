"""A set-up that worked before, as it has to be set today.

On the same boat its numbers are taken as they were and the water is corrected for who is aboard;
from another boat they are carried over by physics. What was not told of it is as the rules have
it. Limits and checks of the rules hold as for any other set-up.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from rules.base import RuleBase
from rules.model import Facts, Firing, Stage, Target, Verdict
from service.advice import facts as tell
from service.advice.advise import plan_facts, way_home
from service.advice.answer import AtRest, Setup, Warned
from service.advice.assembly import KMH, accounts_of, at_rest_of, setup_of
from service.advice.balance.problem import in_steps
from service.advice.case import Case, cautions_of, open_case, verdict_of
from service.advice.kept import chosen
from service.advice.loading_condition import Attitude
from service.advice.loading_plan import Band, Plan, Wanted, plan_loading
from service.advice.requests import AdviceRequest, Saved
from service.advice.situation import Assumption, Gaps, condition_of
from service.advice.wanted import level_trim, wanted
from service.boats.model import Boat, Side, Tank

FROUDE = 1.0 / 6.0
"""Speed goes with this power of displacement at the same Froude number on displacement,
V / √(g ∇^⅓) (Froude's law of similarity)."""


@dataclass(frozen=True, slots=True)
class Opened:
    """A case after the rules on limits, need and loading, and what they want of the loading."""

    request: AdviceRequest
    case: Case
    level: float | None
    aim: Wanted

    @property
    def fills(self) -> tuple[float, ...]:
        return self.aim.fills


@dataclass(frozen=True, slots=True, eq=False)
class Concluded:
    """A set-up with what the rules say of it. ``attitude`` is in the surf frame."""

    setup: Setup
    plan: Plan
    aim: Wanted
    attitude: Attitude
    verdict: Verdict
    firings: tuple[Firing, ...]
    cautions: tuple[Warned, ...]
    facts: Facts


@dataclass(frozen=True, slots=True, eq=False)
class Beside:
    """A saved set-up as it has to be set today, beside what the rules advise.

    ``found``: of the rider's own, rather than told. ``assumed``: what was not told of it.
    """

    saved: Saved
    boat: Boat
    found: bool
    concluded: Concluded
    at_rest: AtRest
    assumed: tuple[Assumption, ...]
    base: RuleBase

    @property
    def usable(self) -> bool:
        return self.concluded.verdict is not Verdict.DO_NOT_GO


def beside(request: AdviceRequest, base: RuleBase, side: Side) -> Beside | None:
    """The saved set-up that was told, else the rider's own for ``side``; ``None``: there is none.

    One that was told is for its own side, whatever side the rules choose for the rider.
    """
    gaps = Gaps(base)
    saved = chosen(request.saved, request.own, request.boat, side, gaps, base)
    if saved is None:
        return None
    found = opened(replace(request, surf_side=saved.surf_side or side), base)
    done = by_saved(found, saved)
    case = found.case
    return Beside(
        saved=saved,
        boat=saved.boat or request.boat,
        found=request.saved is None,
        concluded=done,
        at_rest=at_rest_of(case.boat, case.side, done.attitude, case.density),
        assumed=tuple(gaps.assumed),
        base=base,
    )


def opened(request: AdviceRequest, base: RuleBase) -> Opened:
    """The case with the rules on limits, need and loading fired."""
    case = open_case(request, base)
    case.reasoning.run(Stage.LIMITS, Stage.NEED, Stage.LOADING)
    level = level_trim(case)
    return Opened(request, case, level, wanted(case, level))


def by_saved(
    opened: Opened, saved: Saved, settled: Callable[[Wanted, Plan], Plan] = lambda _, plan: plan
) -> Concluded:
    """The saved numbers, for who and what is aboard in this case.

    ``settled`` has the last word on the plan.
    """
    case = opened.case
    if saved.boat is None:
        aim, speed = _as_saved(opened, saved), saved.speed
    else:
        aim, speed = _carried_over(opened, saved, saved.boat)
    plan = settled(aim, plan_loading(case.condition, aim))
    tanks, step = case.condition.boat.tanks, 100.0 * aim.practice.step
    water = _water((in_steps(tanks, aim.fills, step) / 100.0).tolist(), tanks, case.density)
    return concluded(replace(opened, aim=aim), plan, water, speed, saved.plates)


def concluded(
    opened: Opened, plan: Plan, water: float, speed: float | None = None,
    plates: Mapping[str, float | None] | None = None,
) -> Concluded:  # fmt: skip
    """What the rules say of ``plan``; ``speed`` (m/s) and ``plates`` instead of the rules'.

    ``water`` (kg) is what was wanted in the tanks.
    """
    case = opened.case
    reasoning = case.reasoning
    reasoning.facts["plan"] = plan_facts(case, plan)
    reasoning.run(Stage.BASE, Stage.CORRECTIONS)
    set_speed = reasoning.number(Target.SPEED) * KMH if speed is None else speed
    reasoning.facts["attitude"] = tell.attitude_facts(
        opened.aim, plan, way_home(case, plan), opened.level, water, set_speed
    )
    reasoning.run(Stage.CHECKS)
    setup = setup_of(case, plan, accounts_of(case, plan))
    if speed is not None:
        setup = replace(setup, speed=speed)
    told: dict[str, Any] = {
        f"{name}_plate": travel
        for name, travel in (plates or {}).items()
        if travel is not None and getattr(case.boat.plates, name) is not None
    }
    return Concluded(
        setup=replace(setup, **told),
        plan=plan,
        aim=opened.aim,
        attitude=plan.attitude,
        verdict=verdict_of(reasoning.fired),
        firings=tuple(reasoning.fired),
        cautions=cautions_of(reasoning.fired),
        facts=reasoning.facts,
    )


def _as_saved(opened: Opened, saved: Saved) -> Wanted:
    """On the same boat, corrected for who is aboard today.

    The same heel and trim at rest, and as nearly the same displacement as the tanks allow: more
    people, less water. The solver then moves people and water for today's crew.
    """
    case = opened.case
    tanks = case.condition.boat.tanks
    fills = opened.fills
    if saved.tanks is not None:
        fills = tuple(saved.tanks.get(tank.id, 0.0) for tank in tanks)
        water = _water(fills, tanks, case.density)
        if water > 0.0 and saved.displacement is not None:
            part = max(saved.displacement - _dry(opened), 0.0) / water
            fills = tuple(
                min(fill * part, tank.max_fill) for fill, tank in zip(fills, tanks, strict=True)
            )
    trim = None if saved.trim is None else math.degrees(saved.trim)
    return _aimed(opened, saved, trim, fills)


def _carried_over(opened: Opened, saved: Saved, boat: Boat) -> tuple[Wanted, float | None]:
    """From another boat, by physics.

    The same heel; the same change of trim from the builder's own; water in proportion to the
    displacement without it, evenly in these tanks before the solver balances them; speed at the
    same Froude number on displacement; plates at the same part of their travel. Where the other
    boat's displacement is unknown, she is reckoned with today's people and gear.
    """
    case = opened.case
    there = AdviceRequest(
        boat, opened.request.rider, crew=(), water=case.condition.water, fuel=case.condition.fuel
    )
    condition = condition_of(there, case.side, Gaps(case.base))
    tanks_there = condition.boat.tanks
    water_there = _water(
        [(saved.tanks or {}).get(tank.id, 0.0) for tank in tanks_there], tanks_there, case.density
    )
    if saved.displacement is None:
        dry_there = _dry(opened, boat)
    else:
        dry_there = saved.displacement - water_there
    ratio = _dry(opened) / max(dry_there, 1.0)
    tanks = case.condition.boat.tanks
    fills = opened.fills
    if saved.tanks is not None:
        capacity = case.density * math.fsum(tank.capacity for tank in tanks)
        even = ratio * water_there / capacity if tanks else 0.0
        fills = tuple(min(even, tank.max_fill) for tank in tanks)
    trim = None
    if saved.trim is not None:
        level_there = level_trim(replace(case, condition=condition)) or 0.0
        trim = (opened.level or 0.0) + math.degrees(saved.trim) - level_there
    speed = None if saved.speed is None else saved.speed * ratio**FROUDE
    return _aimed(opened, saved, trim, fills), speed


def _aimed(opened: Opened, saved: Saved, trim: float | None, fills: tuple[float, ...]) -> Wanted:
    """What is wanted of the loading; ``trim`` in degrees. ``None`` leaves it to the rules."""
    aim = opened.aim
    if saved.heel is not None:
        lean = -opened.case.side.across(math.degrees(saved.heel)) + 0.0
        aim = replace(aim, lean=Band(lean, aim.lean.either_side))
    if trim is not None:
        aim = replace(aim, trim=Band(trim, aim.trim.either_side))
    return replace(aim, fills=fills)


def _dry(opened: Opened, boat: Boat | None = None) -> float:
    """Mass (kg) of the boat as she rides without any water in her tanks; of ``boat`` if told."""
    case = opened.case
    boat, condition = boat or case.condition.boat, case.condition
    fuel = boat.fuel.capacity * condition.fuel * condition.fuel_density
    return boat.light.mass + fuel + condition.people_mass + condition.gear_mass


def _water(fills: Sequence[float], tanks: tuple[Tank, ...], water: float) -> float:
    return water * math.fsum(f * tank.capacity for f, tank in zip(fills, tanks, strict=True))
