"""What is said to stand in the way does, and what is said to help does: done, and floated again."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from service.advice.balance.cost import broken
from service.advice.weighing import Attitude, fixed_weights, lie, person_weight, tank_weights

from service.advice.loading_plan import (
    Band,
    Help,
    HelpKind,
    Limit,
    Obstacle,
    Plan,
    Wanted,
    plan_loading,
)
from service.advice.situation import Cargo
from service.hydrostatics.weights import Weight
from tests.advice.boats import FLEET, FUEL, WATER, asked, cargo, crew, small_case


def with_help(found: Cargo, plan: Plan, helped: Help) -> Attitude:
    people = list(plan.people)
    if helped.kind is HelpKind.FEWER:
        for _ in range(round(helped.amount)):
            people.remove(next(p for p in people if p.seat == helped.seat))
    weights = [
        *fixed_weights(found, FUEL),
        *(person_weight(person, found) for person in people),
        *tank_weights(found.boat, plan.fills, WATER),
    ]
    if helped.kind is HelpKind.BAG:
        assert helped.x is not None
        assert helped.y is not None
        weights.append(Weight("bag", helped.amount, helped.x, helped.y, found.seat_height))
    return lie(found.boat, weights, WATER)


def mended(obstacle: Obstacle, wanted: Wanted, attitude: Attitude) -> bool:
    if obstacle.limit is Limit.LEAN:
        return attitude.lean is not None and wanted.lean.holds(attitude.lean)
    if obstacle.limit is Limit.TRIM:
        return attitude.trim is not None and wanted.trim.holds(attitude.trim)
    return broken(wanted, attitude) == 0.0


def test_every_help_helps() -> None:
    helps = 0
    for case in range(50):
        found, wanted = small_case(np.random.default_rng(case))
        plan = plan_loading(found, wanted, WATER, FUEL)
        for obstacle in plan.obstacles:
            if obstacle.limit in {Limit.ROOM, Limit.WATER, Limit.PLACES}:
                continue
            for helped in obstacle.help:
                helps += 1
                assert mended(obstacle, wanted, with_help(found, plan, helped))
    assert helps > 10


@pytest.mark.parametrize("case", range(40))
def test_an_obstacle_for_each_band_and_limit_missed_and_no_other(case: int) -> None:
    found, wanted = small_case(np.random.default_rng(500 + case))
    plan = plan_loading(found, wanted, WATER, FUEL)
    named = {obstacle.limit: obstacle.off for obstacle in plan.obstacles}
    lean, trim, board = plan.attitude.lean, plan.attitude.trim, plan.attitude.freeboard
    assert lean is not None
    assert trim is not None
    assert board is not None
    assert named.get(Limit.LEAN, 0.0) == wanted.lean.off(lean)
    assert named.get(Limit.TRIM, 0.0) == wanted.trim.off(trim)
    assert (Limit.FREEBOARD in named) == (board.least < wanted.least_freeboard)


def test_nothing_stands_in_the_way_of_the_everyday_case() -> None:
    found = cargo(FLEET["demo-7m"], crew(*[84.0] * 8))
    assert plan_loading(found, asked(found), WATER, FUEL).obstacles == ()


def test_a_bag_to_the_surf_side_where_the_lean_is_out_of_reach() -> None:
    bare = replace(FLEET["demo-7m"], tanks=())
    found = cargo(bare, crew(84.0))
    wanted = replace(asked(found), lean=Band(4.0, 0.5), trim=Band(0.0, 9.0))
    plan = plan_loading(found, wanted, WATER, FUEL)
    (obstacle,) = plan.obstacles
    assert (obstacle.limit, obstacle.off < 0.0) == (Limit.LEAN, True)
    bag = next(h for h in obstacle.help if h.kind is HelpKind.BAG)
    assert bag.y is not None
    assert bag.y > 0.0
    lighter = with_help(found, plan, replace(bag, amount=bag.amount * 0.95))
    assert not mended(obstacle, wanted, lighter)


def test_the_room_missing_is_said_in_kilograms_and_people() -> None:
    found = cargo(FLEET["demo-7m"], crew(*[84.0] * 8))
    full = WATER * (0.36 + 0.36 * 0.9 + 0.2 + 0.2 * 0.9 + 0.18)
    plan = plan_loading(found, asked(found, room=full - 150.0), WATER, FUEL)
    room = next(o for o in plan.obstacles if o.limit is Limit.ROOM)
    assert room.off == pytest.approx(150.0, abs=1e-6)
    assert Help(HelpKind.FEWER, 2.0) in room.help
