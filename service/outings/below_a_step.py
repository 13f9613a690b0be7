"""Tanks that are left as they are, where pumping would change less than a gauge shows."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from service.advice.balance.problem import Problem, broken, crossed
from service.advice.balance.water import Water
from service.advice.loading_condition import LoadingCondition
from service.advice.loading_plan import Plan, Wanted
from service.outings.trip import Trip

SAME = 1e-6
"""Fractions of a tank, or kg, that are no difference."""


def unpumped(trip: Trip, aim: Wanted, plan: Plan) -> Plan:
    """The plan, with what is in a tank at the start left there where it is less than a step off.

    Not where that breaks a limit which the plan holds.
    """

    def there(fills: Sequence[float]) -> LoadingCondition:
        return replace(plan.condition, fills=tuple(fills))

    def holds(fills: Sequence[float]) -> bool:
        condition, was = there(fills), plan.attitude
        attitude = condition.attitude()
        room = math.inf if aim.room is None else max(aim.room, plan.condition.ballast_mass)
        return (
            broken(aim, attitude) <= broken(aim, was)
            and crossed(aim, attitude) <= crossed(aim, was)
            and condition.ballast_mass <= room + SAME
        )

    fills = left_alone(trip, plan.condition, aim, plan.fills, holds)
    if fills == plan.fills:
        return plan
    change = zip(plan.for_balance, fills, plan.fills, strict=True)
    return replace(
        plan,
        condition=there(fills),
        attitude=there(fills).attitude(),
        for_balance=tuple(moved + 100.0 * (fill - was) for moved, fill, was in change),
    )


def left_alone(
    trip: Trip, condition: LoadingCondition, aim: Wanted, fills: Sequence[float],
    holds: Callable[[Sequence[float]], bool],
) -> tuple[float, ...]:  # fmt: skip
    """``fills``, or in tanks that are less than a step off what they hold at the start just that.

    Only what ``holds``, and never less on the surf side than on the off side. What no gauge shows
    is no reason to run a pump.
    """
    now = [trip.ballast.get(tank.id, 0.0) for tank in condition.boat.tanks]
    step, found = aim.practice.step, tuple(fills)
    near = [n for n, fill in enumerate(fills) if SAME < abs(fill - now[n]) < step - SAME]
    if not near:
        return found
    water = Water(Problem.of(condition, aim))
    for tanks in (near, *([n] for n in near)):
        tried = tuple(now[n] if n in tanks else fill for n, fill in enumerate(found))
        wrong, was = (water.on_the_wrong_side(100.0 * np.array(each)) for each in (tried, fills))
        if tried != found and wrong <= was + SAME and holds(tried):
            found = tried
    return found
