"""Who drives, who watches, where children sit: roles come before balance."""

from __future__ import annotations

import copy
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings

from service.advice.crew import CrewRules, settle_roles, without_adult
from service.advice.loading_condition import LoadingCondition, bow_begins
from service.advice.loading_plan import Band, Wanted, plan_loading
from service.advice.requests import Person, Role
from service.boats.model import SeatRole
from tests.advice.boats import BASE, FLEET, asked, loading
from tests.advice.conftest import Ask
from tests.advice.requests_made import BOATS
from tests.advice.test_solver import problems

RULES = CrewRules.of(BASE)
SEVEN = FLEET["demo-7m"]


def roles(*people: Person) -> tuple[int | None, int | None]:
    found = settle_roles(loading(SEVEN, people), RULES)
    return found.driver, found.observer


def seat(role: SeatRole, boat: str = "demo-7m") -> str:
    return next(seat.id for seat in FLEET[boat].seats if seat.role is role)


WHEEL, WATCH = seat(SeatRole.DRIVER), seat(SeatRole.OBSERVER)
BENCH, STERN, BOW = seat(SeatRole.COCKPIT), seat(SeatRole.STERN), seat(SeatRole.BOW)
GROWN, CHILD, YOUTH = Person(84.0), Person(30.0, age=8.0), Person(60.0, age=16.5)


def test_as_given_by_role_or_by_seat() -> None:
    assert roles(GROWN, Person(84.0, role=Role.OBSERVER), Person(84.0, role=Role.DRIVER)) == (2, 1)
    assert roles(GROWN, GROWN.on(WATCH), GROWN.on(WHEEL)) == (2, 1)
    near = Person(84.0, x=next(s.x for s in SEVEN.seats if s.id == WHEEL) + 0.2,
                  y=next(s.y for s in SEVEN.seats if s.id == WHEEL))  # fmt: skip
    assert roles(GROWN, GROWN, near)[0] == 2


def test_staff_before_guests_and_adults_before_youths() -> None:
    staff = Person(70.0, role=Role.CREW)
    assert roles(GROWN, staff, GROWN, staff) == (1, 3)
    assert roles(YOUTH, GROWN, GROWN) == (1, 2)
    assert roles(YOUTH, Person(84.0, role=Role.GUEST), CHILD) == (1, 0)
    # Staff who are young come before guests who are grown.
    assert roles(GROWN, Person(60.0, age=17.0, role=Role.CREW)) == (1, 0)


def test_whoever_was_given_the_nearest_seat() -> None:
    assert roles(GROWN.on(STERN), GROWN.on(BENCH), GROWN.on(WATCH)) == (1, 2)
    # Someone without a place is the nearest of all.
    assert roles(GROWN.on(STERN), GROWN)[0] == 1
    # From the bow nobody sees the rider: someone on the stern bench does.
    assert roles(GROWN.on(WHEEL), GROWN.on(BOW), GROWN.on(STERN)) == (0, 2)


def test_who_is_unfit_drives_or_watches_only_where_the_request_says_so() -> None:
    assert roles(CHILD, CHILD) == (None, None)
    assert roles(CHILD.on(WHEEL), GROWN) == (0, 1)
    assert roles(GROWN, Person(7.0, age=1.0, role=Role.OBSERVER)) == (0, 1)
    # To sit on the observer's seat is no order to watch.
    assert roles(GROWN, Person(7.0, age=1.0).on(WATCH), GROWN) == (0, 2)


def test_mass_decides_only_where_the_age_is_not_given() -> None:
    assert roles(Person(44.0), Person(46.0))[0] == 1
    assert roles(Person(90.0, age=15.0), Person(50.0, age=20.0))[0] == 1
    assert roles(GROWN, Person(38.0, age=13.0), Person(41.0, age=11.0))[1] == 1


@settings(max_examples=60, deadline=None)
@given(problems())
def test_driver_and_observer_are_where_they_belong(
    problem: tuple[LoadingCondition, Wanted],
) -> None:
    """The observer is never moved for balance, and stays where the rider is seen from."""
    found, wanted = problem
    plan, settled = plan_loading(found, wanted), settle_roles(found, RULES)
    seats = {seat.id: seat for seat in found.boat.seats}
    if settled.driver is not None:
        before, after = found.people[settled.driver], plan.people[settled.driver]
        if before.x is None and not _wheel_is_kept(found, settled.driver):
            assert after.seat is not None
            assert seats[after.seat].role is SeatRole.DRIVER
    if settled.observer is not None:
        before, after = found.people[settled.observer], plan.people[settled.observer]
        if before.x is None:
            assert after.seat is not None
            assert seats[after.seat].can_watch
        if before.seat is not None and seats[before.seat].can_watch:
            assert after == before
        assert plan.gains.get(settled.observer) is None


def _wheel_is_kept(found: LoadingCondition, driver: int) -> bool:
    """Whether nobody can make room at the wheel: the observer sits there."""
    wheel = {seat.id for seat in found.boat.seats if seat.role is SeatRole.DRIVER}
    return any(p.seat in wheel and n != driver for n, p in enumerate(found.people)) and len(
        [p for p in found.people if p.seat in wheel]
    ) >= sum(seat.places for seat in found.boat.seats if seat.id in wheel)


@settings(max_examples=60, deadline=None)
@given(problems())
def test_no_child_goes_to_the_wheel_or_alone_to_the_bow(
    problem: tuple[LoadingCondition, Wanted],
) -> None:
    found, wanted = problem
    plan = plan_loading(found, wanted)
    seats, begins = {seat.id: seat for seat in found.boat.seats}, bow_begins(found.boat.hull)
    forward = plan.condition.bow_people()
    grown = any(map(RULES.is_adult, forward))
    for before, after in zip(found.people, plan.people, strict=True):
        if RULES.is_child(after) and after.seat is not None and after.seat != before.seat:
            assert seats[after.seat].role is not SeatRole.DRIVER
            if seats[after.seat].x > begins and not grown:  # only where no other place is left
                aft = [s for s in found.boat.seats
                       if s.x <= begins and s.role is not SeatRole.DRIVER]  # fmt: skip
                assert all(sum(p.seat == s.id for p in plan.people) == s.places for s in aft)


@pytest.mark.parametrize("boat", sorted(FLEET))
@pytest.mark.parametrize("children", [1, 2, 3])
def test_children_sit_next_to_an_adult(boat: str, children: int) -> None:
    people = [CHILD] * children + [GROWN] * (children + 2)
    found = loading(FLEET[boat], people)
    plan = plan_loading(found, asked(found))
    assert without_adult(plan.people, plan.condition, RULES) == []


@settings(max_examples=60, deadline=None)
@given(problems())
def test_nobody_moves_for_less_than_someone_would_notice(
    problem: tuple[LoadingCondition, Wanted],
) -> None:
    """Who leaves a given seat is listed, with the gain; without one only for roles or limits."""
    found, wanted = problem
    plan = plan_loading(found, wanted)
    moved = {
        n for n, (before, after) in enumerate(zip(found.people, plan.people, strict=True))
        if before.seat is not None and before.seat != after.seat
    }  # fmt: skip
    assert set(plan.gains) == moved
    assert all(g is None or g >= wanted.practice.notice for g in plan.gains.values())


@pytest.mark.parametrize("boat", sorted(FLEET))
@pytest.mark.parametrize("stance", ["regular", "goofy"])
def test_a_crew_of_two_keeps_the_seats_of_driver_and_observer(
    ask: Ask, boat: str, stance: str
) -> None:
    for crew in (2, [{"mass": 60}, {"mass": 110}], [{"mass": 110}, {"mass": 50}]):
        seating = ask(boat=boat, crew=crew, rider={"stance": stance})["setup"]["seating"]
        places = {one["role"]: one["to"] for one in seating}
        assert places == {"driver": seat(SeatRole.DRIVER, boat),
                          "observer": seat(SeatRole.OBSERVER, boat)}  # fmt: skip


def stopped_by(answer: dict[str, Any]) -> set[str]:
    """The rules of the dangers for which the verdict is ``do_not_go``."""
    assert answer["verdict"] == "do_not_go"
    return {c["rule"] for c in answer["cautions"] if c["severity"] == "danger"}


ADULT: dict[str, Any] = {"mass": 84}


@pytest.mark.parametrize(
    ("changes", "rule"),
    [
        ({"crew": [{"mass": 30, "seat": WHEEL}, ADULT, ADULT]}, "crew.unfit_driver"),
        ({"crew": [{"mass": 32}, {"mass": 36}]}, "crew.nobody_to_drive"),
        ({"crew": [ADULT, {"mass": 7, "age": 0.5}]}, "crew.nobody_watches"),
        ({"crew": [ADULT, {"mass": 7, "age": 0.5, "seat": WATCH}]}, "crew.nobody_watches"),
        ({"crew": [ADULT, ADULT, {"mass": 7, "role": "observer"}]}, "crew.unfit_observer"),
        ({"crew": 1}, "crew.nobody_watches"),
        ({"crew": [ADULT, ADULT, {"mass": 70, "x": -0.3, "y": 0}]}, "crew.behind_transom"),
        ({"crew": [ADULT, ADULT, {"mass": 70, "x": 0, "y": 0}]}, "crew.behind_transom"),
        ({"water": {"distance_to_shore": 0, "depth": 10}}, "shore.at_the_shore"),
        ({"water": {"depth": 0}}, "depth.aground"),
        ({"fuel": 0}, "fuel.empty"),
    ],
)  # fmt: skip
def test_it_does_not_go(ask: Ask, changes: dict[str, Any], rule: str) -> None:
    assert rule in stopped_by(ask(**changes))


def test_six_adults_in_the_bow_of_the_small_boat_do_not_go(ask: Ask) -> None:
    bow = [{"mass": 84, "x": 4.75, "y": y} for y in (-0.5, -0.3, -0.1, 0.1, 0.3, 0.5)]
    answer = ask(boat="demo-6m", crew=[*bow, ADULT, ADULT])
    assert "crew.bow_crowded" in stopped_by(answer)
    assert "crew.bow_crowded" not in {
        c["rule"] for c in ask(boat="demo-6m", crew=[*bow[:2], ADULT, ADULT])["cautions"]
    }


def test_too_much_mass_in_the_bow_does_not_go(ask: Ask) -> None:
    places = [s["id"] for s in BOATS["demo-7m"]["seats"] if s["role"] == "bow"]
    heavy = [{"mass": 140, "seat": places[n % 2]} for n in range(3)]
    answer = ask(crew=[*heavy, ADULT, ADULT])
    assert "crew.bow_too_heavy" in stopped_by(answer)


def test_the_maker_s_limit_for_the_bow_counts_before_ours(ask: Ask) -> None:
    boat = copy.deepcopy(BOATS["demo-7m"])
    boat["limits"]["bow_persons"] = 1
    crew = [ADULT, ADULT, *[{"mass": 60, "seat": BOW}] * 2]
    assert "crew.bow_crowded" in stopped_by(ask(boat=boat, crew=crew))
    # Nobody is sent there beyond it.
    everybody = ask(boat=boat, crew=14)["setup"]["seating"]
    bow = {s["id"] for s in boat["seats"] if s["role"] == "bow"}
    assert sum(one["people"] for one in everybody if one["to"] in bow) <= 1


def test_nobody_is_seated_behind_the_transom(ask: Ask) -> None:
    boat = copy.deepcopy(BOATS["demo-7m"])
    platform = {"id": "platform", "x": -0.4, "y": 0, "z": 0.5, "places": 4, "role": "stern"}
    boat["seats"] = [platform, *(s for s in boat["seats"] if s["role"] in {"driver", "observer"})]
    answer = ask(boat=boat, crew=3)
    assert "platform" not in {one["to"] for one in answer["setup"]["seating"]}
    given = ask(boat=boat, crew=[ADULT, ADULT, ADULT | {"seat": "platform"}])
    assert "crew.behind_transom" in stopped_by(given)


def test_the_choice_is_listed_by_name(ask: Ask) -> None:
    crew = [{"mass": 70, "name": "Kim"}, {"mass": 84, "name": "Ann", "role": "crew"}]
    answer = ask(crew=crew)
    said = {gap["pointer"]: gap["value"] for gap in answer["assumed"]}
    assert said["/crew/1/role"] == "Ann: driver"
    assert said["/crew/0/role"] == "Kim: observer"
    named = ask(crew=[crew[0] | {"role": "driver"}, crew[1] | {"role": "observer"}])
    assert not [gap for gap in named["assumed"] if gap["pointer"].endswith("role")]
    assert {one["name"]: one["role"] for one in named["setup"]["seating"]} == {
        "Kim": "driver", "Ann": "observer",
    }  # fmt: skip


def test_a_life_jacket_for_children(ask: Ask) -> None:
    rules = {c["rule"] for c in ask(crew=[ADULT, ADULT, {"mass": 30, "age": 9}])["cautions"]}
    assert "crew.children_aboard" in rules
    assert "crew.child_without_adult" not in rules


def test_a_mover_s_gain_is_stated(ask: Ask) -> None:
    """Three on the off side: one or more go across, and the card says what for."""
    off = [{"mass": 84, "seat": BENCH}] * 3 if BENCH.endswith("port") else []
    assert off
    seating = ask(crew=[ADULT | {"seat": WHEEL}, *off])["setup"]["seating"]
    movers = [one for one in seating if one["moves"]]
    assert movers
    assert seating[: len(movers)] == movers or {one["role"] for one in seating[:2]} == {
        "driver", "observer",
    }  # fmt: skip
    assert all(one["gain"] >= 0.7 for one in movers)


def test_a_child_who_finds_no_other_place_than_the_bow_is_no_mover() -> None:
    """Nobody grown is in the bow, and every other place is taken: the child stays, unmoved."""
    bow = seat(SeatRole.BOW, "demo-6m")
    seats = [s for s in FLEET["demo-6m"].seats if s.role is not SeatRole.BOW or s.id == bow]
    boat = replace(FLEET["demo-6m"], seats=tuple(replace(s, places=1) for s in seats))
    people = [CHILD.on(s.id) if s.id == bow else GROWN.on(s.id) for s in seats]
    found = loading(boat, people)
    # Wide bands: nobody grown goes forward for lean or trim.
    wanted = replace(asked(found), lean=Band(0.0, 20.0), trim=Band(0.0, 20.0))
    plan = plan_loading(found, wanted)
    assert plan.people == found.people
    assert plan.gains == {}
