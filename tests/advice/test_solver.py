"""What the loading solver promises, beyond being best: limits, places, order, bounded work.

That its answers are the best is in test_solver_proof.py.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import event, given, settings
from hypothesis import strategies as st

from service.advice import loading_plan
from service.advice.crew import bow_limits
from service.advice.loading_condition import LoadingCondition, bow_begins
from service.advice.loading_plan import ROUNDS, Band, Limit, Wanted, plan_loading
from service.advice.requests import Person, Role
from service.boats.model import SeatRole, Side, mirrored
from tests.advice.boats import FLEET, asked, crew, floated, loading

BOATS = sorted(FLEET)
MOST_LEVELS = 9
"""Equilibria that halving the levels of water takes, at most."""


@st.composite
def problems(draw: st.DrawFn) -> tuple[LoadingCondition, Wanted]:
    """Any crew on a demo boat, some seated, some standing somewhere, some without a place."""
    boat = FLEET[draw(st.sampled_from(BOATS))]
    free = {seat.id: seat.places for seat in boat.seats}
    people = []
    for _ in range(draw(st.integers(0, 18))):
        mass = draw(st.sampled_from([35.0, 60.0, 84.0, 84.0, 84.0, 120.0]))
        age = draw(st.sampled_from([None, None, 8.0, 15.0, 40.0]))
        role = draw(st.sampled_from([None, None, None, Role.CREW, Role.GUEST]))
        person = Person(mass, age=age, role=role)
        kind = draw(st.sampled_from(["none", "none", "seat", "spot"]))
        seat = draw(st.sampled_from(sorted(free)))
        if kind == "seat" and free[seat]:
            free[seat] -= 1
            person = person.on(seat)
        elif kind == "spot":
            person = replace(person, x=draw(st.floats(0.5, 5.5)), y=draw(st.floats(-1, 1)))
        people.append(person)
    fills = tuple(draw(st.sampled_from([0.0, 0.33, 1.0])) for _ in boat.tanks)
    found = loading(boat, people, fills)
    wanted = asked(found, draw(st.sampled_from([None, 0.0, 350.0, 900.0])))
    return found, replace(
        wanted,
        lean=Band(draw(st.sampled_from([1.5, 0.0, 6.0, -3.0])), 1.0),
        least_freeboard=draw(st.sampled_from([0.2, 0.35, 0.5, 0.9])),
        most_lean=draw(st.sampled_from([None, 5.0])),
        least_bow=draw(st.sampled_from([None, 0.8])),
    )


@settings(max_examples=60, deadline=None)
@given(problems())
def test_every_problem_gets_a_plan_within_its_limits(
    problem: tuple[LoadingCondition, Wanted],
) -> None:
    found, wanted = problem
    plan = plan_loading(found, wanted)
    step = 100.0 * wanted.practice.step
    for fill, tank in zip(plan.fills, found.boat.tanks, strict=True):
        assert 0.0 <= fill <= tank.max_fill
        steps = 100.0 * fill / step
        assert steps == pytest.approx(round(steps), abs=1e-9)
    water = plan.condition.ballast_mass
    if wanted.room is not None:
        assert water <= wanted.room + 1e-6
    board, lean, gm = plan.attitude.freeboard, plan.attitude.lean, plan.attitude.floating.gm
    if water > 0.0:  # a loading that breaks a firm limit carries no water
        assert plan.attitude.floats
        assert board is not None
        assert lean is not None
        assert gm is not None
        assert board.least >= wanted.least_freeboard
        assert gm > wanted.least_gm
        named = {obstacle.limit for obstacle in plan.obstacles}
        low_bow = wanted.least_bow is not None and board.bow < wanted.least_bow
        assert low_bow == (Limit.BOW in named)
        leans = wanted.most_lean is not None and abs(lean) > wanted.most_lean
        assert leans == (Limit.MOST_LEAN in named)


@settings(max_examples=60, deadline=None)
@given(problems())
def test_everybody_keeps_an_identity_and_gets_a_place(
    problem: tuple[LoadingCondition, Wanted],
) -> None:
    found, wanted = problem
    plan, seats = plan_loading(found, wanted), found.boat.seats
    for before, after in zip(found.people, plan.people, strict=True):
        assert replace(after, seat=before.seat, x=before.x, y=before.y) == before
        if before.x is not None:
            assert after == before
        if before.placed:
            assert after.placed
    taken = {seat.id: sum(p.seat == seat.id for p in plan.people) for seat in seats}
    assert all(taken[seat.id] <= seat.places for seat in seats)
    standing = [person for person in plan.people if not person.placed]
    # Only children, who must not sit at the wheel, stand while there is a place: there.
    free = sum(seat.places - taken[seat.id] for seat in seats if seat.role is not SeatRole.DRIVER)
    assert not standing or free == 0
    short = [o.off for o in plan.obstacles if o.limit is Limit.PLACES]
    assert short == ([float(len(standing))] if standing else [])


@settings(max_examples=60, deadline=None)
@given(problems())
def test_seats_keep_to_bow_limits_wheel_and_transom(
    problem: tuple[LoadingCondition, Wanted],
) -> None:
    """Where someone has no place to go to but the bow, or was given it, that is said apart."""
    found, wanted = problem
    plan, boat = plan_loading(found, wanted), found.boat
    rules, begins = wanted.practice.crew, bow_begins(boat.hull)
    people, mass = bow_limits(boat, rules)
    forward = plan.condition.bow_people()
    sent = [
        after
        for before, after in zip(found.people, plan.people, strict=True)
        if after in forward and before != after
    ]
    seats = {seat.id: seat for seat in boat.seats}
    aft = sum(seat.places for seat in boat.seats if seat.x <= begins)
    aboard = sum(person.x is None for person in found.people)
    if sent and aboard <= aft - 2:  # the helm's second place is not for children
        assert len(forward) <= people or len(found.bow_people()) > people
        assert sum(p.kilograms for p in forward) <= mass or found.bow_mass > mass
    for before, after in zip(found.people, plan.people, strict=True):
        if after.seat is not None and after.seat != before.seat:
            assert seats[after.seat].x > boat.hull.x_min
            if rules.is_child(after):
                assert seats[after.seat].role is not SeatRole.DRIVER


@settings(max_examples=30, deadline=None)
@given(problems())
def test_changes_add_up_to_the_fills(problem: tuple[LoadingCondition, Wanted]) -> None:
    found, wanted = problem
    plan = plan_loading(found, wanted)
    parts = plan.raised, plan.for_room, plan.left_out, plan.for_balance
    for start, *changes, fill in zip(wanted.fills, *parts, plan.fills, strict=True):
        assert 100.0 * start + math.fsum(changes) == pytest.approx(100.0 * fill, abs=1e-6)
        for change in changes:  # in tenths of a percent, as accounts are written
            assert change * 10.0 == pytest.approx(round(change * 10.0), abs=1e-9)
        assert max(changes[1], changes[2]) <= 0.0


@settings(max_examples=15, deadline=None)
@given(problems())
def test_the_same_problem_gets_the_same_plan_in_bounded_work(
    problem: tuple[LoadingCondition, Wanted],
) -> None:
    found, wanted = problem
    first = plan_loading(found, wanted)
    loading_plan._planned.cache_clear()
    second = plan_loading(found, wanted)
    assert (first.people, first.fills) == (second.people, second.fills)
    assert first.rounds <= 11 + 1 + MOST_LEVELS * (ROUNDS + 1)


@pytest.mark.parametrize("boat", BOATS)
def test_a_mirrored_boat_gets_the_very_same_plan_in_the_surf_frame(boat: str) -> None:
    people = crew(84.0, 84.0, 60.0, 110.0, 95.0)
    port = loading(FLEET[boat], people)
    starboard = loading(mirrored(FLEET[boat]), people, side=Side.STARBOARD)
    first, second = (plan_loading(found, asked(found)) for found in (port, starboard))
    assert (first.people, first.fills) == (second.people, second.fills)
    assert first.attitude.lean == second.attitude.lean


@pytest.mark.parametrize("boat", BOATS)
@pytest.mark.parametrize("people", [2, 4, 8])
def test_tanks_stay_as_asked_where_seats_will_do(boat: str, people: int) -> None:
    """People first, pumps second (common practice)."""
    found = loading(FLEET[boat], crew(*[84.0] * people))
    wanted = asked(found, freeboard=0.2)
    plan = plan_loading(found, wanted)
    assert plan.fills == wanted.fills
    assert plan.attitude.lean is not None
    # A tenth of a degree outside is left: the edge of a band is soft.
    assert abs(wanted.lean.off(plan.attitude.lean)) < 0.1


@pytest.mark.parametrize("boat", BOATS)
@pytest.mark.parametrize("people", [2, 4, 8])
def test_nobody_moves_again_from_where_the_plan_put_them(boat: str, people: int) -> None:
    found = loading(FLEET[boat], crew(*[84.0] * people))
    wanted = asked(found)
    once = plan_loading(found, wanted)
    again = plan_loading(replace(found, people=once.people), wanted)
    assert again.people == once.people
    assert again.gains == {}


def test_as_few_as_will_do_move_rather_than_water() -> None:
    """Three on the off side, and a driver; no pump runs, and everybody left there is needed."""
    boat = FLEET["demo-7m"]
    wheel = next(seat.id for seat in boat.seats if seat.role is SeatRole.DRIVER)
    off = next(s.id for s in boat.seats if s.role is SeatRole.COCKPIT and s.y < 0)
    people = [Person(84.0, wheel), *[Person(84.0, off)] * 3]
    found = loading(boat, people)
    wanted = asked(found)
    plan = plan_loading(found, wanted)
    assert plan.fills == wanted.fills
    movers = list(plan.gains)
    assert movers
    assert all(gain is not None and gain >= wanted.practice.notice for gain in plan.gains.values())
    for back in movers:  # without any one of the moves the boat is out of its bands
        there = [found.people[i] if i == back else p for i, p in enumerate(plan.people)]
        attitude = floated(found, there, plan.fills)
        assert attitude.lean is not None
        assert attitude.trim is not None
        assert not (wanted.lean.holds(attitude.lean) and wanted.trim.holds(attitude.trim))


def test_less_room_means_less_water_but_never_much_less_than_fits() -> None:
    found = loading(FLEET["demo-7m"], crew(*[84.0] * 4))
    carried = []
    for room in (0.0, 150.0, 300.0, 600.0, 900.0, 1200.0):
        plan = plan_loading(found, asked(found, room))
        carried.append(plan.condition.ballast_mass)
        moved = plan.condition.water_mass([part / 100.0 for part in plan.for_balance])
        assert carried[-1] - moved > room - 75.0  # a step of the largest pair of tanks
        assert any(o.limit is Limit.ROOM for o in plan.obstacles)
    assert carried == sorted(carried)


@pytest.mark.parametrize("boat", BOATS)
def test_one_person_more_is_always_planned(boat: str) -> None:
    """From nobody to beyond every place: a plan each time, the overflow standing and said so."""
    places = sum(seat.places for seat in FLEET[boat].seats)
    for count in (0, 1, 5, places - 1, places, places + 3):
        found = loading(FLEET[boat], crew(*[84.0] * count))
        plan = plan_loading(found, asked(found))
        standing = sum(not person.placed for person in plan.people)
        assert standing == max(count - places, 0)


def test_hopeless_loads_get_no_water() -> None:
    found = loading(FLEET["demo-6m"], crew(*[150.0] * 13))
    plan = plan_loading(found, replace(asked(found), least_freeboard=0.6))
    assert plan.fills == (0.0, 0.0, 0.0)
    assert any(o.limit in {Limit.FREEBOARD, Limit.FLOATS} for o in plan.obstacles)


def test_a_load_that_sinks_the_hull_is_planned_all_the_same() -> None:
    found = loading(FLEET["demo-6m"], crew(*[900.0] * 13))
    plan = plan_loading(found, asked(found))
    assert not plan.attitude.floats
    assert plan.fills == (0.0, 0.0, 0.0)
    assert all(person.placed for person in plan.people)
    assert plan.obstacles[0].limit is Limit.FLOATS


def test_a_boat_without_seats_and_tanks() -> None:
    bare = replace(FLEET["demo-7m"], seats=(), tanks=())
    found = loading(bare, crew(84.0, 84.0))
    plan = plan_loading(found, asked(found))
    assert plan.people == found.people
    assert plan.fills == ()


@pytest.mark.parametrize("roles", [(SeatRole.DRIVER, SeatRole.COCKPIT), (SeatRole.DRIVER,)])
def test_nobody_stands_while_a_place_is_free_but_the_wheel(roles: tuple[SeatRole, ...]) -> None:
    """Three grown people and a child, where only the child may not take the helm's second place."""
    boat = FLEET["demo-7m"]
    wheel = replace(next(s for s in boat.seats if s.role is SeatRole.DRIVER), places=2)
    bench = next(s for s in boat.seats if s.role is SeatRole.COCKPIT)
    bow = next(s for s in boat.seats if s.role is SeatRole.BOW)
    other = replace(bench if SeatRole.COCKPIT in roles else bow, places=2)
    boat = replace(boat, seats=(wheel, other))
    found = loading(boat, [Person(30.0, age=9.0), *crew(55.0, 84.0, 84.0)])
    plan = plan_loading(found, asked(found))
    assert [person.seat for person in plan.people if person.mass == 30.0] == [other.id]
    assert all(person.placed for person in plan.people)


@settings(max_examples=40, deadline=None)
@given(problems())
def test_water_left_out_would_put_amiss_what_is_said(
    problem: tuple[LoadingCondition, Wanted],
) -> None:
    found, wanted = problem
    plan = plan_loading(found, wanted)
    if not any(plan.left_out):
        assert plan.left_out_for is None
        return
    fills = [fill - part / 100.0 for fill, part in zip(plan.fills, plan.left_out, strict=True)]
    then = floated(plan.condition, plan.people, fills)
    if then.freeboard is None or then.lean is None or then.trim is None:
        assert plan.left_out_for is Limit.FLOATS
        return
    gm = then.floating.gm or 0.0
    amiss = {
        Limit.FLOATS: not then.floats,
        Limit.FREEBOARD: then.freeboard.least < wanted.least_freeboard,
        Limit.BOW: wanted.least_bow is not None and then.freeboard.bow < wanted.least_bow,
        Limit.GM: gm < max(wanted.least_gm, wanted.ample_gm or 0.0),
        Limit.MOST_LEAN: wanted.most_lean is not None and abs(then.lean) > wanted.most_lean,
        Limit.LEAN: wanted.lean.off(then.lean) != 0.0,
        Limit.TRIM: wanted.trim.off(then.trim) != 0.0,
    }
    event(f"left out for {plan.left_out_for}")
    assert amiss[plan.left_out_for] if plan.left_out_for else not any(amiss.values())
