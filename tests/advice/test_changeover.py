"""The way from now to the plan: every state of it is floated again here, apart from the search."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest
from flask.testing import FlaskClient

from service.advice.changeover import Changeover, OnTheWay, changeover
from service.advice.loading_condition import Attitude, LoadingCondition
from service.advice.loading_plan import Limit, Plan, plan_loading
from service.advice.requests import Person
from service.boats.model import Side, mirrored
from tests.advice.boats import FLEET, asked, crew, floated, loading, small_case

LIMITS = OnTheWay(least_freeboard=0.3, most_lean=7.0)


def states(
    found: LoadingCondition, way: Changeover
) -> Iterator[tuple[int, list[Person], list[float]]]:
    """Every state: after each person, a quarter, half and three quarters through each pumping."""
    people, fills = list(found.people), list(found.fills)
    yield 0, people, fills
    for number, step in enumerate(way.steps, 1):
        if step.tank is None:
            for who in step.who:
                assert people[who].seat == step.origin
                assert step.goal is not None
                people[who] = people[who].on(step.goal)
                yield number, list(people), list(fills)
        else:
            assert fills[step.tank] == pytest.approx(step.fill)
            for part in (0.25, 0.5, 0.75, 1.0):
                fills[step.tank] = step.fill + part * (step.to_fill - step.fill)
                yield number, list(people), list(fills)


def holds(attitude: Attitude, limits: OnTheWay) -> bool:
    board, lean = attitude.freeboard, attitude.lean
    return (
        attitude.floats
        and board is not None
        and lean is not None
        # A hundredth of a millimetre: a quarter of the way is not looked at by the search.
        and board.least >= limits.least_freeboard - 1e-5
        and abs(lean) <= limits.most_lean + 1e-3
    )


def solved(found: LoadingCondition) -> Plan:
    return plan_loading(found, asked(found, freeboard=0.3))


def some_cargo(case: int) -> LoadingCondition:
    rng = np.random.default_rng(case)
    boat = FLEET[sorted(FLEET)[case % len(FLEET)]]
    empty = loading(boat)
    seats = empty.boat.seats
    free = [seat.places for seat in seats]
    people = []
    for _ in range(int(rng.integers(1, 9))):
        seat = int(rng.integers(-1, len(free)))
        if seat >= 0 and free[seat]:
            free[seat] -= 1
            people.append(Person(float(rng.choice([60.0, 84.0, 110.0])), seats[seat].id))
        else:
            people.append(Person(84.0))
    fills = rng.choice([0.0, 0.3, 0.6, 1.0], len(boat.tanks))
    return loading(boat, tuple(people), tuple(fills.tolist()))


@pytest.mark.parametrize("case", range(24))
def test_every_state_on_the_way_holds_the_limits(case: int) -> None:
    found = some_cargo(case)
    plan = solved(found)
    way = changeover(found, plan.condition, LIMITS)
    broken = {fault.step for fault in way.breaks}
    start = floated(found, list(found.people), list(found.fills))
    end = plan.attitude
    if holds(start, LIMITS) and holds(end, LIMITS):
        assert not broken
    for number, people, fills in states(found, way):
        assert number in broken or holds(floated(found, people, fills), LIMITS)


@pytest.mark.parametrize("case", range(24))
def test_the_way_ends_at_the_plan(case: int) -> None:
    found = some_cargo(case)
    plan = solved(found)
    way = changeover(found, plan.condition, LIMITS)
    *_, (_, people, fills) = states(found, way)
    assert tuple(people) == plan.people
    assert fills == pytest.approx(plan.fills)
    if way.steps:
        last = way.steps[-1].after
        assert last.lean == pytest.approx(plan.attitude.lean, abs=1e-9)


@pytest.mark.parametrize("case", range(24))
def test_pumps_of_one_batch_can_run_together(case: int) -> None:
    found = some_cargo(case)
    way = changeover(found, solved(found).condition, LIMITS)
    if way.breaks:
        return
    people, fills = list(found.people), list(found.fills)
    for batch in sorted({step.batch for step in way.steps}):
        steps = [step for step in way.steps if step.batch == batch]
        if not steps[0].pumps:
            people = [
                p for n, p, _ in [(n, p, f) for n, p, f in states(found, way)]
                if n == way.steps.index(steps[-1]) + 1
            ][-1]  # fmt: skip
            continue
        longest = max(step.seconds or 0.0 for step in steps)
        for part in (0.2, 0.4, 0.6, 0.8, 1.0):
            now = list(fills)
            for step in steps:
                assert step.tank is not None
                done = min(part * longest / (step.seconds or 1.0), 1.0)
                now[step.tank] = step.fill + done * (step.to_fill - step.fill)
            assert holds(floated(found, people, now), LIMITS)
        fills = now


@pytest.mark.parametrize("boat", sorted(FLEET))
def test_volumes_and_times(boat: str) -> None:
    found = loading(FLEET[boat], crew(84.0, 84.0, 84.0), (0.5,) * len(FLEET[boat].tanks))
    way = changeover(found, solved(found).condition, LIMITS)
    pumped = [step for step in way.steps if step.tank is not None]
    assert pumped
    total = 0.0
    for step in pumped:
        assert step.tank is not None
        tank = found.boat.tanks[step.tank]
        assert step.volume == pytest.approx((step.to_fill - step.fill) * tank.capacity)
        rate = tank.fill_rate if step.volume > 0 else tank.drain_rate
        assert rate is not None
        assert step.seconds == pytest.approx(abs(step.volume) / rate)
        total += abs(step.volume) / rate
    assert way.in_sequence == pytest.approx(total)
    assert way.at_once is not None
    assert max(step.seconds or 0.0 for step in pumped) <= way.at_once <= total


def test_an_unknown_rate_leaves_the_time_open_and_says_so() -> None:
    boat = FLEET["demo-7m"]
    first = replace(boat.tanks[0], fill_rate=None)
    boat = replace(boat, tanks=(first, *boat.tanks[1:]))
    found = loading(boat, crew(84.0, 84.0))
    way = changeover(found, solved(found).condition, LIMITS)
    number = next(i for i, tank in enumerate(found.boat.tanks) if tank.id == first.id)
    assert way.unknown_rates == (number,)
    assert way.in_sequence is None
    assert way.at_once is None
    assert [s.seconds for s in way.steps if s.tank == number] == [None]


@pytest.mark.parametrize("case", range(6))
def test_a_mirrored_boat_gets_the_mirrored_order(case: int) -> None:
    found = some_cargo(case)
    boat = FLEET[sorted(FLEET)[case % len(FLEET)]]
    other = loading(mirrored(boat), found.people, found.fills, side=Side.STARBOARD)
    first = changeover(found, solved(found).condition, LIMITS)
    second = changeover(other, solved(other).condition, LIMITS)
    assert first == second


def test_nothing_to_do_is_no_step() -> None:
    found = loading(FLEET["demo-7m"], crew(84.0, 84.0, 84.0, 84.0))
    plan = solved(found)
    there = replace(found, people=plan.people, fills=plan.fills)
    way = changeover(there, plan.condition, LIMITS)
    assert (way.steps, way.breaks, way.in_sequence) == ((), (), 0.0)


def test_sides_alternate_where_one_tank_at_a_time_would_lean_too_far() -> None:
    """Full side tanks swap for empty ones under a lean of 2.2°: in one go that leans further."""
    boat = FLEET["demo-7m"]
    sides = tuple(tank for tank in boat.tanks if tank.id.startswith("aft"))
    found = loading(replace(boat, tanks=sides))
    plan = plan_loading(found, asked(found))
    plan = replace(plan, condition=replace(found, fills=(1.0, 1.0)))
    tight = OnTheWay(least_freeboard=0.2, most_lean=2.2)
    one = floated(found, [], [1.0, 0.0])
    assert one.lean is not None
    assert abs(one.lean) > tight.most_lean
    way = changeover(found, plan.condition, tight)
    assert not way.breaks
    assert len(way.steps) > 2
    assert all(holds(floated(found, p, f), tight) for _, p, f in states(found, way))


def test_a_way_that_cannot_be_says_which_state_breaks_which_limit() -> None:
    """One tank far out to be filled, and the plan itself leans too far."""
    boat = FLEET["demo-7m"]
    found = loading(replace(boat, tanks=tuple(t for t in boat.tanks if t.id == "aft-port")))
    plan = plan_loading(found, asked(found))
    plan = replace(plan, condition=replace(plan.condition, fills=(1.0,)))
    way = changeover(found, plan.condition, OnTheWay(0.2, 1.0))
    assert [(fault.step, fault.limit) for fault in way.breaks] == [(1, Limit.MOST_LEAN)]
    end = floated(found, [], [1.0])
    assert end.lean is not None
    assert way.breaks[0].off == pytest.approx(abs(end.lean) - 1.0)


@pytest.mark.parametrize("case", range(20))
def test_small_random_boats_never_fail(case: int) -> None:
    found, wanted = small_case(np.random.default_rng(case))
    plan = plan_loading(found, wanted)
    way = changeover(found, plan.condition, LIMITS)
    *_, (_, people, fills) = states(found, way)
    assert tuple(people) == plan.people
    assert fills == pytest.approx(plan.fills)


@pytest.mark.parametrize("gear", [0, 1100])
def test_too_much_water_goes_before_people_come(client: FlaskClient, gear: float) -> None:
    """As the caution says: drain to the advised fills before people board."""
    full = dict.fromkeys(("aft-port", "aft-starboard", "mid-port", "mid-starboard", "bow"), 100)
    rider = {"mass": 82, "stance": "regular", "board": "surf", "level": "beginner"}
    sent = {"boat": "demo-8m", "crew": 10, "rider": rider, "ballast": full}
    loads = [{"name": "gear", "mass": gear, "x": 3, "y": 0, "z": 0.6}] if gear else []
    answer = client.post("/v1/advice", json=sent | {"loads": loads}).get_json()
    steps = [step["do"] for step in answer["changeover"]["steps"]]
    over = any("before people board" in (c["action"] or "") for c in answer["cautions"])
    assert over == bool(gear)
    assert steps == sorted(steps, key=["move", "pump"].index, reverse=over)
    assert len({*steps}) == 2
