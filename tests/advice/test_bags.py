"""Movable loads: shifted where that helps, after people and before pumps; never guessed at."""

from __future__ import annotations

import copy
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from service.advice.balance.seating import HEAVIEST_LOADS
from service.advice.changeover import OnTheWay, changeover
from service.advice.loading_plan import Band, plan_loading
from service.advice.requests import Load, Person
from service.boats.model import SeatRole, Side, mirrored
from tests.advice.boats import FLEET, asked, bag_case, loading
from tests.advice.conftest import Ask

LEAD = Load(60.0, 1.5, -0.9, 0.5, "lead", movable=True)


def seat_of(boat: str, role: SeatRole) -> str:
    return next(seat.id for seat in FLEET[boat].seats if seat.role is role)


def pair(boat: str) -> list[Person]:
    """Driver and observer, who do not move for balance."""
    return [Person(84.0, seat_of(boat, role)) for role in (SeatRole.DRIVER, SeatRole.OBSERVER)]


def test_a_bag_on_the_off_side_is_shifted_before_a_pump_runs() -> None:
    """Driver and observer stay, so the bag is all that can move (common practice)."""
    heavy = loading(FLEET["demo-7m"], pair("demo-7m"), loads=(replace(LEAD, mass=150.0),))
    stuck = replace(heavy, loads=(replace(heavy.loads[0], movable=False),))
    wanted = asked(heavy)
    shifted, still = (plan_loading(found, wanted) for found in (heavy, stuck))
    assert still.loads == stuck.loads
    (bag,) = shifted.loads
    assert bag.seat is not None
    assert bag.y >= 0.0
    pumped = [
        float(np.abs(np.array(plan.fills) - np.array(wanted.fills)).sum())
        for plan in (shifted, still)
    ]
    assert pumped[0] < pumped[1]


def test_a_bag_that_need_not_move_stays() -> None:
    found = loading(FLEET["demo-7m"], [Person(84.0)] * 6, loads=(LEAD,))
    assert plan_loading(found, asked(found)).loads == found.loads


def test_someone_moves_rather_than_a_bag_of_the_same_mass() -> None:
    """People first, then bags (common practice). Either alone would do."""
    boat = replace(FLEET["demo-7m"], tanks=())
    off = next(s for s in boat.seats if s.role is SeatRole.COCKPIT and s.y < 0)
    lead = Load(50.0, off.x, off.y, off.z, "lead", movable=True)
    found = loading(boat, [*pair("demo-7m"), Person(50.0, off.id, age=30.0)], loads=(lead,))
    wanted = replace(asked(found), lean=Band(0.8, 1.0))
    only_bag = replace(found, people=tuple(
        replace(p, seat=None, x=off.x, y=off.y) if p.seat == off.id else p for p in found.people
    ))  # fmt: skip
    assert plan_loading(only_bag, wanted).loads[0].seat is not None
    plan = plan_loading(found, wanted)
    assert plan.people[2].seat != off.id
    assert plan.loads == found.loads


@pytest.mark.parametrize("case", range(60))
def test_bags_go_beside_seats_but_the_drivers_at_their_own_height(case: int) -> None:
    found, wanted = bag_case(np.random.default_rng(7000 + case))
    plan = plan_loading(found, wanted)
    seats = {seat.id: seat for seat in found.boat.seats}
    for before, after in zip(found.loads, plan.loads, strict=True):
        if after.seat is None:
            assert after == before
            continue
        assert before.movable
        seat = seats[after.seat]
        assert seat.role is not SeatRole.DRIVER
        assert after == replace(before, x=seat.x, y=seat.y, seat=seat.id)


def test_without_seats_there_is_nowhere_to_go() -> None:
    bare = replace(FLEET["demo-7m"], seats=(), tanks=())
    found = loading(bare, loads=(replace(LEAD, mass=300.0),))
    assert plan_loading(found, asked(found)).loads == found.loads


def test_of_many_bags_the_heaviest_are_thought_of() -> None:
    loads = tuple(replace(LEAD, mass=10.0 + n) for n in range(40))
    found = loading(FLEET["demo-8m"], pair("demo-8m"), loads=loads)
    plan = plan_loading(found, asked(found))
    gone = [n for n, load in enumerate(plan.loads) if load.seat is not None]
    assert gone
    assert min(gone) >= 40 - HEAVIEST_LOADS


@pytest.mark.parametrize("boat", sorted(FLEET))
def test_a_mirrored_boat_gets_the_very_same_places(boat: str) -> None:
    loads = (LEAD, replace(LEAD, mass=40.0, y=0.4))
    port = loading(FLEET[boat], pair(boat), loads=loads)
    turned = tuple(replace(load, y=-load.y) for load in loads)
    starboard = loading(mirrored(FLEET[boat]), pair(boat), side=Side.STARBOARD, loads=turned)
    first, second = (plan_loading(c, asked(c)) for c in (port, starboard))
    assert (first.people, first.loads, first.fills) == (second.people, second.loads, second.fills)


@pytest.mark.parametrize("case", range(30))
def test_the_changeover_shifts_each_bag_once_and_ends_at_the_plan(case: int) -> None:
    found, wanted = bag_case(np.random.default_rng(8000 + case))
    plan = plan_loading(found, wanted)
    way = changeover(found, plan.condition, OnTheWay(0.3, 7.0))
    shifts = [(step.load, step.goal) for step in way.steps if step.load is not None]
    assert sorted(shifts) == [(n, b.seat) for n, b in enumerate(plan.loads) if b.seat is not None]
    if way.steps:
        assert way.steps[-1].after.lean == pytest.approx(plan.attitude.lean, abs=1e-9)


BODY: dict[str, Any] = {
    "boat": "demo-7m",
    "crew": [{"mass": 84, "seat": "helm"}, {"mass": 84, "seat": "observer"}],
    "ballast": {},
    "loads": [{"mass": 150, "x": 1.5, "y": 0.9, "z": 0.5, "name": "lead", "movable": True}],
}


def test_it_is_said_in_the_answer_the_steps_and_the_card(ask: Ask, client: Any) -> None:
    """Goofy: the off side is port, where the bag lies."""
    answer = ask(**{name: value for name, value in BODY.items() if name != "boat"})
    (load,) = answer["setup"]["loads"]
    assert (load["name"], load["mass"], load["from"]) == ("lead", 150, {"x": 1.5, "y": 0.9})
    (step,) = [step for step in answer["changeover"]["steps"] if step["do"] == "shift"]
    assert (step["load"], step["to"]) == ("lead", load["to"])
    body = BODY | {"rider": {"mass": 82, "stance": "goofy", "board": "skim",
                             "level": "intermediate"}}  # fmt: skip
    text = client.post("/v1/advice", json=body, headers={"Accept": "text/plain"}).get_data(True)
    assert f"LOADS lead (150 kg) to {load['to']}" in " ".join(text.split())
    picture = client.post("/v1/advice", json=body, headers={"Accept": "image/svg+xml"})
    assert f"lead, 150 kg, to {load['to']}" in picture.get_data(True)
    sheet = client.post("/v1/advice", json=body, headers={"Accept": "text/html"}).get_data(True)
    assert f"<b>{load['to']}</b>" in sheet


def test_the_answer_without_a_bag_to_shift_names_none(ask: Ask) -> None:
    body = copy.deepcopy(BODY)
    body["loads"][0]["movable"] = False
    assert ask(crew=body["crew"], loads=body["loads"])["setup"]["loads"] == []
