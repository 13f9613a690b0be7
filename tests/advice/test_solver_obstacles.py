"""What is said to stand in the way does, and what is said to help does: done, and floated again."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from service.advice.balance.problem import broken, crossed
from service.advice.crew import CrewRules, settle_roles
from service.advice.loading_condition import Attitude, attitude
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
from service.hydrostatics.weights import Weight
from tests.advice.boats import BASE, FLEET, WATER, asked, crew, loading, small_case


def with_help(plan: Plan, helped: Help) -> Attitude:
    people, there = list(plan.people), plan.condition
    weights: list[Weight] = []
    if helped.kind is HelpKind.FEWER:
        assert helped.seat is not None
        seat = there.boat.seats[helped.seat].id
        keep = settle_roles(there, CrewRules.of(BASE))
        gone = [
            n for n, p in enumerate(people)
            if p.seat == seat and n not in (keep.driver, keep.observer)
        ][: round(helped.amount)]  # fmt: skip
        assert len(gone) == round(helped.amount)
        people = [person for n, person in enumerate(people) if n not in gone]
    if helped.kind is HelpKind.BAG:
        assert helped.x is not None
        assert helped.y is not None
        weights.append(Weight("bag", helped.amount, helped.x, helped.y, there.seat_height))
    loaded = replace(there, people=tuple(people))
    return attitude(there.boat, [*loaded.weights(), *weights], there.density)


def mended(obstacle: Obstacle, wanted: Wanted, then: Attitude) -> bool:
    if obstacle.limit is Limit.LEAN:
        return then.lean is not None and wanted.lean.holds(then.lean)
    if obstacle.limit is Limit.TRIM:
        return then.trim is not None and wanted.trim.holds(then.trim)
    return broken(wanted, then) + crossed(wanted, then) == 0.0


def test_every_help_helps() -> None:
    helps = 0
    for case in range(50):
        found, wanted = small_case(np.random.default_rng(case))
        plan = plan_loading(found, wanted)
        for obstacle in plan.obstacles:
            if obstacle.limit in {Limit.ROOM, Limit.WATER, Limit.PLACES}:
                continue
            for helped in obstacle.help:
                helps += 1
                assert mended(obstacle, wanted, with_help(plan, helped))
    assert helps > 10


@pytest.mark.parametrize("case", range(40))
def test_an_obstacle_for_each_band_and_limit_missed_and_no_other(case: int) -> None:
    found, wanted = small_case(np.random.default_rng(500 + case))
    plan = plan_loading(found, wanted)
    named = {obstacle.limit: obstacle.off for obstacle in plan.obstacles}
    lean, trim, board = plan.attitude.lean, plan.attitude.trim, plan.attitude.freeboard
    assert lean is not None
    assert trim is not None
    assert board is not None
    assert named.get(Limit.LEAN, 0.0) == wanted.lean.off(lean)
    assert named.get(Limit.TRIM, 0.0) == wanted.trim.off(trim)
    assert (Limit.FREEBOARD in named) == (board.least < wanted.least_freeboard)


def test_nothing_stands_in_the_way_of_the_everyday_case() -> None:
    found = loading(FLEET["demo-7m"], crew(*[84.0] * 8))
    assert plan_loading(found, asked(found)).obstacles == ()


def test_a_bag_to_the_surf_side_where_the_lean_is_out_of_reach() -> None:
    bare = replace(FLEET["demo-7m"], tanks=())
    found = loading(bare, crew(84.0, 84.0))
    wanted = replace(asked(found), lean=Band(4.0, 0.5), trim=Band(0.0, 9.0))
    plan = plan_loading(found, wanted)
    (obstacle,) = plan.obstacles
    assert (obstacle.limit, obstacle.off < 0.0) == (Limit.LEAN, True)
    bag = next(h for h in obstacle.help if h.kind is HelpKind.BAG)
    assert bag.y is not None
    assert bag.y > 0.0
    lighter = with_help(plan, replace(bag, amount=bag.amount * 0.95))
    assert not mended(obstacle, wanted, lighter)


def test_the_room_missing_is_said_in_kilograms_and_people() -> None:
    found = loading(FLEET["demo-7m"], crew(*[84.0] * 8))
    full = WATER * (0.36 + 0.36 * 0.9 + 0.2 + 0.2 * 0.9 + 0.18)
    plan = plan_loading(found, asked(found, room=full - 150.0))
    room = next(o for o in plan.obstacles if o.limit is Limit.ROOM)
    assert 150.0 <= room.off < 150.0 + 72.0  # in whole steps of a pair of tanks
    assert Help(HelpKind.FEWER, math.ceil(room.off / 84.0)) in room.help
