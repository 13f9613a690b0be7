"""The sensitivities against central differences of the nonlinear equilibrium, to 1 %.

They are first order: the check takes a thousandth of the person and of the tank to either side and
scales it up. Tanks are part-filled, since a full one's surface appears with the first drop out.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from rules.base import RuleBase, load
from service.advice.answer import Sensitivity
from service.advice.case import Case, open_case
from service.advice.loading_condition import Attitude, attitude
from service.advice.loading_plan import Plan, plan_loading
from service.advice.requests import AdviceRequest, Person, Rider, Stance
from service.advice.sensitivities import ONE_PERSON, sensitivities
from service.boats.model import Side
from service.hydrostatics.weights import Weight
from tests.advice.boats import FLEET, asked

SMALL = 1e-3
"""Of a person, and of the tenth of a tank."""
CLOSE = 0.01
DEGREE = math.radians(1.0)


@pytest.fixture(scope="module")
def base() -> RuleBase:
    return load()


def at_random(number: int, base: RuleBase) -> tuple[Case, Plan]:
    """A demo boat leaning to some side, with some people and part-filled tanks."""
    rng = np.random.default_rng(number)
    boat = FLEET[sorted(FLEET)[number % len(FLEET)]]
    masses = rng.choice([45.0, 84.0, 110.0], int(rng.integers(1, 8)))
    stance = (Stance.REGULAR, Stance.GOOFY)[number % 2]
    request = AdviceRequest(
        boat=boat,
        rider=Rider(80.0, stance),
        crew=tuple(Person(float(mass)) for mass in masses),
    )
    case = open_case(request, base)
    plan = plan_loading(case.condition, asked(case.condition))
    fills = tuple(float(fill) for fill in rng.uniform(0.1, 0.9, len(boat.tanks)))
    plan = replace(plan, condition=replace(plan.condition, fills=fills))
    return case, replace(plan, attitude=float_again(case, plan, fills))


def float_again(case: Case, plan: Plan, fills: tuple[float, ...], *more: Weight) -> Attitude:
    there = replace(plan.condition, fills=fills)
    return attitude(there.boat, [*there.weights(), *more], case.density)


def differences(case: Case, plan: Plan, told: Sensitivity) -> tuple[float, float, float]:
    """Heel, trim (radians, the boat's own axes) and least freeboard (m) for the whole change."""
    sides = []
    for step in (-SMALL, SMALL):
        fills, more = plan.fills, []
        if told.change == ONE_PERSON:
            seat = next(s for s in case.condition.boat.seats if s.id == told.where)
            mass = case.base.number("defaults.person_mass")
            more = [Weight("more", step * mass, seat.x, seat.y, seat.z)]
        else:
            tank = next(i for i, t in enumerate(case.condition.boat.tanks) if t.id == told.where)
            fills = (*fills[:tank], fills[tank] + step * 0.1, *fills[tank + 1 :])
        there = float_again(case, plan, fills, *more)
        assert there.floating.heel is not None
        assert there.floating.trim is not None
        assert there.freeboard is not None
        sides.append((there.floating.heel, there.floating.trim, there.freeboard.least))
    sign = 1.0 if case.side is Side.PORT else -1.0
    heel, trim, least = (np.array(sides[1]) - np.array(sides[0])) / (2.0 * SMALL)
    return sign * float(heel), float(trim), float(least)


def check(case: Case, plan: Plan, told: list[Sensitivity]) -> None:
    """1 % of each figure, or of a tenth of the largest where one is near nothing."""
    ours = np.array([(one.heel, one.trim, one.least_freeboard) for one in told])
    theirs = np.array([differences(case, plan, one) for one in told])
    allowed = CLOSE * np.maximum(np.abs(theirs), 0.1 * np.abs(theirs).max(axis=0))
    wrong = [
        (one.change, one.where, mine.tolist(), right.tolist())
        for one, mine, right, most in zip(told, ours, theirs, allowed, strict=True)
        if not (np.abs(mine - right) <= most).all()
    ]
    assert not wrong


@pytest.mark.parametrize("number", range(18))
def test_one_person_more_against_central_differences(number: int, base: RuleBase) -> None:
    case, plan = at_random(number, base)
    told = [one for one in sensitivities(case, plan) if one.change == ONE_PERSON]
    assert len(told) == len(case.boat.seats)
    check(case, plan, told)


def test_a_tenth_more_in_a_tank_against_central_differences(base: RuleBase) -> None:
    for number in range(18):
        case, plan = at_random(number, base)
        told = [one for one in sensitivities(case, plan) if one.change != ONE_PERSON]
        assert len(told) == len(case.boat.tanks)
        check(case, plan, told)
