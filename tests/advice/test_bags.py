"""Movable loads: shifted where that helps, after people and before pumps; never guessed at."""

from __future__ import annotations

import copy
from collections import Counter
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from service.advice.balance.cost import Task
from service.advice.balance.spots import MOST_BAGS

from service.advice.changeover import OnTheWay, changeover
from service.advice.loading_plan import HELM, plan_loading
from service.advice.requests import Load
from service.advice.situation import Bag, Occupant
from service.boats.model import Side, mirrored
from tests.advice.boats import FLEET, FUEL, WATER, asked, bag_case, cargo
from tests.advice.conftest import Ask

LEAD = Load(60.0, 1.5, -0.9, 0.5, "lead", movable=True)


def seat_of(boat: str, name: str) -> int:
    return next(i for i, seat in enumerate(cargo(FLEET[boat]).boat.seats) if seat.id == name)


def driver(boat: str) -> Occupant:
    return Occupant(84.0, seat_of(boat, HELM))


def test_a_bag_on_the_off_side_is_shifted_before_a_pump_runs() -> None:
    """The driver stays, so the bag is all that can move (common practice: pumps come last)."""
    bare = cargo(FLEET["demo-7m"], (driver("demo-7m"),))
    wanted = asked(bare)
    level = plan_loading(bare, wanted, WATER, FUEL)
    assert level.fills != wanted.fills
    heavy = replace(bare, loads=(replace(LEAD, mass=150.0),))
    stuck = replace(heavy, loads=(replace(heavy.loads[0], movable=False),))
    shifted, still = (plan_loading(found, wanted, WATER, FUEL) for found in (heavy, stuck))
    assert still.bags == ()
    (bag,) = shifted.bags
    assert bag.seat is not None
    assert heavy.boat.seats[bag.seat].y >= 0.0
    task = Task.of(heavy, wanted, WATER, FUEL)
    pumped = [float(np.abs(100.0 * np.array(p.fills) - task.start) @ task.litres)
              for p in (shifted, still)]  # fmt: skip
    assert pumped[0] < pumped[1]


def test_a_bag_that_need_not_move_stays() -> None:
    found = cargo(FLEET["demo-7m"], tuple(Occupant(84.0) for _ in range(6)), loads=(LEAD,))
    plan = plan_loading(found, asked(found), WATER, FUEL)
    assert plan.bags == (Bag(60.0, x=1.5, y=-0.9, z=0.5, load=0),)


def test_somebody_moves_rather_than_a_bag_of_the_same_mass() -> None:
    """People first, then bags (common practice). Either alone would do."""
    boat = replace(FLEET["demo-7m"], tanks=())
    off = seat_of("demo-7m", "observer")
    spot = cargo(boat).boat.seats[off]
    lead = Load(60.0, spot.x, spot.y, spot.z, "lead", movable=True)
    people = tuple(sorted([driver("demo-7m"), Occupant(60.0, off)], key=lambda p: p.seat or 0))
    found = cargo(boat, people, loads=(lead,))
    wanted = asked(found)
    task = Task.of(found, wanted, WATER, FUEL)

    def good(aboard: list[Occupant]) -> bool:
        return task.cost(aboard, [], task.lie(aboard, [])).off == 0.0

    def one_goes(who: int) -> list[list[Occupant]]:
        return [
            [replace(one, seat=seat, x=None, y=None) if n == who else one
             for n, one in enumerate(task.aboard)]
            for seat, place in enumerate(found.boat.seats) if place.id != HELM
        ]  # fmt: skip

    assert not good(list(task.aboard))
    assert any(map(good, one_goes(people.index(Occupant(60.0, off)))))
    assert any(map(good, one_goes(len(people))))
    plan = plan_loading(found, wanted, WATER, FUEL)
    assert (plan.moved, plan.bags[0].seat) == (1, None)


@pytest.mark.parametrize("case", range(60))
def test_bags_go_beside_seats_but_the_drivers_at_their_own_height(case: int) -> None:
    found, wanted = bag_case(np.random.default_rng(7000 + case))
    plan = plan_loading(found, wanted, WATER, FUEL)
    movable = [number for number, load in enumerate(found.loads) if load.movable]
    assert [bag.load for bag in plan.bags] == movable
    weights = Counter((w.name, w.mass, w.x, w.y, w.z) for w in plan.weights)
    for bag in plan.bags:
        load, spot = found.loads[bag.load], found.loads[bag.load]
        assert (bag.mass, bag.z) == (load.mass, load.z)
        x, y = spot.x, spot.y
        if bag.seat is not None:
            seat = found.boat.seats[bag.seat]
            assert seat.id != HELM
            x, y = seat.x, seat.y
        assert weights[f"load {load.name}", load.mass, x, y, load.z]


def test_without_seats_there_is_nowhere_to_go() -> None:
    bare = replace(FLEET["demo-7m"], seats=(), tanks=())
    found = cargo(bare, loads=(replace(LEAD, mass=300.0),))
    (bag,) = plan_loading(found, asked(found), WATER, FUEL).bags
    assert (bag.seat, bag.x, bag.y) == (None, 1.5, -0.9)


def test_of_many_bags_the_heaviest_are_thought_of() -> None:
    loads = tuple(replace(LEAD, mass=10.0 + n) for n in range(40))
    found = cargo(FLEET["demo-8m"], (driver("demo-8m"),), loads=loads)
    plan = plan_loading(found, asked(found), WATER, FUEL)
    gone = [bag.load for bag in plan.bags if bag.seat is not None]
    assert gone
    assert min(gone) >= 40 - MOST_BAGS


@pytest.mark.parametrize("boat", sorted(FLEET))
def test_a_mirrored_boat_gets_the_very_same_places(boat: str) -> None:
    loads = (LEAD, replace(LEAD, mass=40.0, y=0.4))
    port = cargo(FLEET[boat], (driver(boat),), loads=loads)
    starboard = cargo(mirrored(FLEET[boat]), (driver(boat),), side=Side.STARBOARD, loads=loads)
    first, second = (plan_loading(c, asked(c), WATER, FUEL) for c in (port, starboard))
    assert (first.people, first.bags, first.fills) == (second.people, second.bags, second.fills)


@pytest.mark.parametrize("case", range(30))
def test_the_changeover_shifts_each_bag_once_and_ends_at_the_plan(case: int) -> None:
    found, wanted = bag_case(np.random.default_rng(8000 + case))
    plan = plan_loading(found, wanted, WATER, FUEL)
    way = changeover(found, plan, OnTheWay(0.3, 7.0), WATER, FUEL)
    shifts = [(step.load, step.goal) for step in way.steps if step.load is not None]
    assert sorted(shifts) == [(b.load, b.seat) for b in plan.bags if b.seat is not None]
    if way.steps:
        assert way.steps[-1].after.lean == pytest.approx(plan.attitude.lean, abs=1e-9)


BODY: dict[str, Any] = {
    "boat": "demo-7m",
    "crew": [{"mass": 84, "seat": "helm"}],
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
    assert f"LOADS    lead (150 kg) to {load['to']}" in text
    picture = client.post("/v1/advice", json=body, headers={"Accept": "image/svg+xml"})
    assert f"lead, 150 kg, to {load['to']}" in picture.get_data(True)
    sheet = client.post("/v1/advice", json=body, headers={"Accept": "text/html"}).get_data(True)
    assert f"<b>{load['to']}</b>" in sheet


def test_the_answer_without_a_bag_to_shift_names_none(ask: Ask) -> None:
    body = copy.deepcopy(BODY)
    body["loads"][0]["movable"] = False
    assert ask(crew=body["crew"], loads=body["loads"])["setup"]["loads"] == []
