"""Who drives, who watches and who moves in an outing, by name, and tanks in whole steps."""

from __future__ import annotations

import copy
import itertools
from typing import Any

import pytest

import rules
from rules.model import Verdict
from schemas.fleet import demo_fleet
from service import create_app
from service.advice.crew import CrewRules
from service.advice.requests import Role
from service.outings.answer import Outing
from service.outings.steps import Move
from tests.advice.requests_made import BOATS
from tests.outings.boats import body, planned

RULES = rules.load()
CREW = CrewRules.of(RULES)


def with_role(turn: Any, role: Role) -> list[str]:
    return [each.person.label for each in turn.setup.seating if each.role is role]


def rider(name: str, **about: Any) -> dict[str, Any]:
    own = {key: about.pop(key) for key in ("mass", "stance", "level") if key in about}
    return {
        "name": name,
        "rider": {"mass": 70, "stance": "goofy", "level": "beginner"} | own,
    } | about


def all_in_seats(outing: Outing) -> list[Any]:
    return [outing.trip.now, *(line.turn.stand for line in outing.lines), outing.home.stand]


@pytest.mark.parametrize("mode", ["each", "one_per_side", "one_for_all"])
@pytest.mark.parametrize("boat", ["demo-6m", "demo-7m", "demo-8m"])
def test_one_of_the_crew_drives_all_the_time_and_someone_able_watches(boat: str, mode: str) -> None:
    found = planned(body(5, boat, mode=mode, crew=1))
    seats = {seat.id: seat for seat in found.trip.boat.seats}
    for line in found.lines:
        assert with_role(line.turn, Role.DRIVER) == ["crew 1"]
        (watching,) = with_role(line.turn, Role.OBSERVER)
        assert watching not in ("crew 1", found.trip.riders[line.turn.rider].name)
        at = next(s for s in line.turn.setup.seating if s.person.label == watching)
        assert CREW.may_watch(at.person)
        assert at.goal is not None
        assert seats[at.goal].can_watch
    for stand in all_in_seats(found):
        assert seats[stand.places[0]].role.value == "driver"


@pytest.mark.parametrize(
    ("crew", "driver"),
    [
        ([{"name": "Guest", "role": "guest"}, {"name": "Staff", "role": "crew"}], "Staff"),
        ([{"name": "Youth", "age": 17}, {"name": "Adult", "age": 40}], "Adult"),
        ([{"name": "One"}, {"name": "Two"}], "One"),
        ([{"name": "One"}, {"name": "Two", "role": "driver"}], "Two"),
        ([{"name": "Young", "age": 14, "mass": 80}, {"name": "Adult", "age": 40}], "Adult"),
    ],
)
def test_the_driver_is_staff_before_guest_adult_before_youth_and_then_the_first(
    crew: list[dict[str, Any]], driver: str
) -> None:
    found = planned(body(3, crew=crew))
    assert {name for line in found.lines for name in with_role(line.turn, Role.DRIVER)} == {driver}
    said = [gap.value for gap in found.trip.assumed if str(gap.value).endswith(": driver")]
    given = any(person.get("role") == "driver" for person in crew)
    assert said == ([] if given else [f"{driver}: driver"])


def test_table_and_page_say_who_drives_and_who_watches_in_each_turn() -> None:
    client = create_app({"TESTING": True}).test_client()
    told = body(3)
    answer: Any = client.post("/v1/outing-plans", json=told).json
    for kind in ("text/plain", "text/html"):
        text = client.post("/v1/outing-plans", json=told, headers={"Accept": kind}).text
        text = " ".join(text.split())
        for turn in answer["turns"]:
            setup = turn["setup"]
            assert setup["driver"] == "crew 1"
            assert f"{setup['driver']} drives, {setup['observer']} watches" in text


def test_seat_ids_mean_nothing_to_an_outing() -> None:
    """The same boat with every seat and tank renamed, the driver's seat called like no other."""
    boat = copy.deepcopy(BOATS["demo-7m"])
    new = {seat["id"]: f"s{n}" for n, seat in enumerate(boat["seats"])}
    new |= {tank["id"]: f"t{n}" for n, tank in enumerate(boat["tanks"])}
    for part in (*boat["seats"], *boat["tanks"]):
        part["id"] = new[part["id"]]
    one, other = planned(body(4)), planned(body(4) | {"boat": boat | {"id": "renamed"}})
    for a, b in zip(all_in_seats(one), all_in_seats(other), strict=True):
        assert [new.get(spot, spot) for spot in a.places] == list(b.places)
        assert a.fills == b.fills
    assert [line.turn.rider for line in one.lines] == [line.turn.rider for line in other.lines]


def test_a_turn_in_which_nobody_can_watch_is_not_to_go_and_says_why() -> None:
    """A driver, an adult and a child of nine: while the adult rides only the child is left."""
    told = body(0, crew=1) | {"riders": [rider("Adult", age=40), rider("Child", age=9, mass=30)]}
    found = planned(told)
    turns = {found.trip.riders[line.turn.rider].name: line.turn for line in found.lines}
    assert turns["Child"].verdict is not Verdict.DO_NOT_GO
    assert turns["Adult"].verdict is Verdict.DO_NOT_GO
    assert "crew.nobody_watches" in {warned.rule for warned in turns["Adult"].cautions}
    assert with_role(turns["Adult"], Role.OBSERVER) == []
    assert found.verdict is Verdict.DO_NOT_GO
    older = copy.deepcopy(told)
    older["riders"][1] |= {"age": 12}
    found = planned(older)
    assert found.verdict is not Verdict.DO_NOT_GO
    turns = {found.trip.riders[line.turn.rider].name: line.turn for line in found.lines}
    assert with_role(turns["Adult"], Role.OBSERVER) == ["Child"]


def test_two_children_alone_with_each_other_never_drive() -> None:
    told = body(0, crew=[{"mass": 32}]) | {"riders": [rider("A", mass=36), rider("B", mass=32)]}
    assert planned(told).verdict is Verdict.DO_NOT_GO


@pytest.mark.parametrize("boat", ["demo-6m", "demo-7m", "demo-8m"])
def test_whoever_changes_places_is_named_and_nobody_else(boat: str) -> None:
    found = planned(body(5, boat))
    names = [person.label for person in found.trip.people]
    places = list(found.trip.now.places)
    off: int | None = None
    for line, change in zip(
        [*found.lines, None], [*(x.between for x in found.lines), found.home.between], strict=True
    ):
        goal = line.turn.stand if line else found.home.stand
        for step in change.steps:
            if isinstance(step, Move):
                who = names.index(step.person)
                assert step.origin == (None if who == off else places[who])
                places[who] = step.goal
        there = [n for n in range(len(names)) if n != goal.off]
        assert [places[n] for n in there] == [goal.places[n] for n in there]
        off = goal.off


@pytest.mark.parametrize(
    "ballast",
    [
        {"aft-port": 37, "aft-starboard": 37, "bow": 37},
        {"aft-port": 85, "aft-starboard": 82, "bow": 95},
        {"aft-port": 96, "aft-starboard": 91, "bow": 3},
        {"aft-port": 4, "aft-starboard": 4, "bow": 4},
    ],
)
@pytest.mark.parametrize("mode", ["each", "one_per_side", "one_for_all"])
def test_no_pump_runs_for_less_than_a_step(ballast: dict[str, float], mode: str) -> None:
    told = body(4, mode=mode, ballast=ballast)
    found = planned(told)
    changes = [*(line.between for line in found.lines), found.home.between]
    runs: dict[tuple[int, str], list[float]] = {}
    for number, change in enumerate(changes):
        for pump in change.pumps:
            runs.setdefault((number, pump.tank), []).append(pump.to_fill - pump.fill)
    assert runs
    assert all(abs(sum(parts)) >= 0.1 - 1e-6 for parts in runs.values())


@pytest.mark.parametrize("mode", ["each", "one_per_side", "one_for_all"])
def test_tanks_are_filled_in_the_steps_that_the_gauges_show(mode: str) -> None:
    boat = copy.deepcopy(BOATS["demo-7m"])
    for step in (10, 5):
        found = planned(body(4, mode=mode) | {"boat": boat | {"fill_step": step}})
        for fill in itertools.chain(*(line.turn.stand.fills for line in found.lines)):
            assert fill * 100 / step == pytest.approx(round(fill * 100 / step))


def test_the_surf_side_gets_no_less_than_the_off_side_in_a_common_set_up() -> None:
    found = planned(body(6, mode="one_per_side"))
    boat = demo_fleet().find("demo-7m")
    sides = {tank.id: tank.y for tank in boat.tanks}
    for line in found.lines:
        fills = dict(zip(found.trip.tanks, line.turn.stand.fills, strict=True))
        surf, off = (
            [fills[tank] for tank, y in sides.items() if y * line.turn.side.sign * which > 0.1]
            for which in (1, -1)
        )
        assert sum(surf) >= sum(off)
