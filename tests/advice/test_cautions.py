"""Each caution appears when it applies, through the HTTP API, and not when it does not."""

from __future__ import annotations

import copy
from typing import Any

import pytest

from tests.advice.conftest import Ask
from tests.advice.requests_made import BOATS


def inline(name: str = "demo-7m", **changes: Any) -> dict[str, Any]:
    boat: dict[str, Any] = copy.deepcopy(BOATS[name]) | changes
    return boat


def rules_of(answer: dict[str, Any]) -> set[str]:
    return {caution["rule"] for caution in answer["cautions"]}


def caution(answer: dict[str, Any], rule: str) -> dict[str, str]:
    found: dict[str, str] = next(c for c in answer["cautions"] if c["rule"] == rule)
    return found


ALWAYS = {
    "law.comes_first", "carbon_monoxide.exhaust", "equipment.observer_and_jacket",
    "equipment.rope", "weather.daylight_and_thunder", "lake_care.drain",
}  # fmt: skip


def test_the_usual_cautions_always_stand(ask: Ask) -> None:
    for crew in (2, 8, 30):
        answer = ask(crew=crew)
        assert rules_of(answer) >= ALWAYS
        assert "local law" in caution(answer, "law.comes_first")["text"].lower()


def test_an_ordinary_outing_in_deep_water_far_from_shore_is_a_go(ask: Ask) -> None:
    answer = ask(water={"depth": 12, "distance_to_shore": 400})
    assert answer["verdict"] == "go"
    assert rules_of(answer) == ALWAYS


def test_over_the_limit_on_persons_says_how_many_must_stay_ashore(ask: Ask) -> None:
    assert ask(crew=15)["verdict"] == "go"  # with the rider the 16 that it is rated for
    answer = ask(crew=18)
    assert answer["verdict"] == "do_not_go"
    found = caution(answer, "people_and_load.too_many_people")
    assert "3 people" in found["action"]
    assert found["severity"] == "danger"


def test_the_rider_wants_a_seat_too(ask: Ask, client: Any) -> None:
    """Everybody rides out and home together, so advice and loading say the same."""
    kept = {"helm", "observer", "stern"}
    boat = inline(seats=[seat for seat in BOATS["demo-7m"]["seats"] if seat["id"] in kept])
    rule = "people_and_load.more_people_than_places"
    assert sum(seat["places"] for seat in boat["seats"]) == 8
    assert rule not in rules_of(ask(boat=boat, crew=7))
    answer = ask(boat=boat, crew=8)
    loaded = client.post("/v1/loading", json={"boat": boat, "crew": 9}).json
    for found in (answer, loaded):
        assert found["verdict"] == "go_with_care"
        assert caution(found, rule)["text"] == "No seat for 1 person with everyone aboard."


def test_over_the_load_limit_says_how_much_must_come_off(ask: Ask) -> None:
    gear = {"mass": 1000, "x": 2.5, "y": 0, "z": 0.8}
    answer = ask(crew=8, loads=[gear])  # 8 × 84 + 82 + 1000 = 1754 kg against 1700 kg
    assert answer["verdict"] == "do_not_go"
    assert "54 kg" in caution(answer, "people_and_load.load_too_heavy")["action"]


def test_water_counts_where_the_maker_counts_it(ask: Ask) -> None:
    limits = {"persons": 16, "persons_mass": 1360, "load_mass": 1500}
    for counted in (True, None):
        boat = inline(limits=limits | {"includes_ballast": counted})
        answer = ask(boat=boat, crew=10)
        water = sum(tank["mass"] for tank in answer["setup"]["tanks"])
        assert water <= 1500 - 10 * 84 - 82 + 1
        assert ("people_and_load.ballast_counting_unknown" in rules_of(answer)) is (counted is None)
    boat = inline(limits=limits | {"includes_ballast": False})
    free = sum(tank["mass"] for tank in ask(boat=boat, crew=10)["setup"]["tanks"])
    assert free > 1000


def test_a_tank_that_is_too_full_already_is_drained_before_people_board(ask: Ask) -> None:
    limits = {"persons": 16, "persons_mass": 1360, "load_mass": 1500, "includes_ballast": True}
    full = {tank["id"]: 100 for tank in BOATS["demo-7m"]["tanks"]}
    answer = ask(boat=inline(limits=limits), crew=10, ballast=full)
    assert "people_and_load.too_much_water_now" in rules_of(answer)
    assert answer["verdict"] == "go_with_care"


def test_an_unknown_limit_is_said_to_be_unknown(ask: Ask) -> None:
    answer = ask(boat=inline(limits={}))
    assert answer["verdict"] == "go_with_care"
    assert "not entered" in caution(answer, "people_and_load.persons_limit_unknown")["text"]
    assert "not entered" in caution(answer, "people_and_load.load_limit_unknown")["text"]


@pytest.mark.parametrize("drive", ["outboard", "stern_drive"])
def test_nobody_rides_behind_an_open_propeller(ask: Ask, drive: str) -> None:
    answer = ask(boat=inline(propulsion=drive))
    assert answer["verdict"] == "do_not_go"
    assert answer["cautions"][0]["rule"] == f"drive.{drive}"


@pytest.mark.parametrize("drive", ["forward_drive", "jet"])
def test_a_forward_drive_or_a_jet_wants_law_and_maker_checked(ask: Ask, drive: str) -> None:
    answer = ask(boat=inline(propulsion=drive))
    assert answer["verdict"] == "go_with_care"
    assert "maker" in caution(answer, f"drive.{drive}")["action"]


@pytest.mark.parametrize("drive", ["inboard", "v_drive"])
def test_an_inboard_gets_no_word_about_its_drive(ask: Ask, drive: str) -> None:
    assert not any(
        rule.startswith("drive.") for rule in rules_of(ask(boat=inline(propulsion=drive)))
    )


@pytest.mark.parametrize(
    ("depth", "rule"),
    [
        (None, "depth.unknown"), (4.5, "depth.shallow"), (4.6, "depth.middling"),
        (6.0, "depth.middling"), (6.1, None), (30, None),
    ],
)  # fmt: skip
def test_depth_under_6_1_and_under_4_6_metres(ask: Ask, depth: float | None, rule: str) -> None:
    answer = ask(water={} if depth is None else {"depth": depth})
    found = {r for r in rules_of(answer) if r.startswith("depth.")} - {"depth.feels_the_bottom"}
    assert found == ({rule} if rule else set())


@pytest.mark.parametrize(
    ("distance", "rule"),
    [
        (None, "shore.unknown"), (60, "shore.too_near"), (61, "shore.near"), (152, "shore.near"),
        (153, "shore.fair"), (299, "shore.fair"), (300, None),
    ],
)  # fmt: skip
def test_distances_to_shore_are_told_with_the_range_published(
    ask: Ask, distance: float | None, rule: str
) -> None:
    answer = ask(water={} if distance is None else {"distance_to_shore": distance})
    found = [r for r in rules_of(answer) if r.startswith("shore.")]
    assert found == ([rule] if rule else [])
    if rule:
        said = caution(answer, rule)
        assert "61 m to 300 m" in said["text"]
        assert "local law" in said["action"].lower()


def test_people_forward_are_to_come_aft_before_slowing_or_turning(ask: Ask) -> None:
    places = [s["id"] for s in BOATS["demo-7m"]["seats"] for _ in range(s["places"])]
    full = [{"mass": 70, "seat": seat} for seat in places]  # everybody seated, the bow too
    answer = ask(crew=full)
    assert "slowing or turning" in caution(answer, "attitude.people_forward")["action"]
    assert "attitude.people_forward" not in rules_of(ask(crew=2))


def test_a_low_bow_is_told(ask: Ask) -> None:
    anchor = {"mass": 1300, "x": 6.0, "y": 0, "z": 0.9}
    answer = ask(crew=10, loads=[anchor])
    assert answer["predicted"]["at_rest"]["freeboard"]["bow"] < 0.6
    assert "attitude.low_bow" in rules_of(answer)
    assert "attitude.low_bow" not in rules_of(ask(crew=10))


def test_a_load_that_turns_the_boat_over_is_an_answer(ask: Ask) -> None:
    tower = {"mass": 900, "x": 2.5, "y": 1.2, "z": 4.9}
    answer = ask(crew=2, loads=[tower])
    assert answer["verdict"] == "do_not_go"
    assert answer["predicted"]["at_rest"]["status"] != "floats"
    assert {"attitude.capsizes", "attitude.swamps", "attitude.lolls"} & rules_of(answer)


def test_a_load_that_sinks_the_boat_is_an_answer(ask: Ask) -> None:
    answer = ask(loads=[{"mass": 2000, "x": 2.5, "y": 0, "z": 0.6}] * 10)
    assert answer["verdict"] == "do_not_go"
    assert answer["predicted"]["at_rest"]["status"] == "sinks"
    assert answer["predicted"]["at_rest"]["freeboard"] is None
    assert "attitude.sinks" in rules_of(answer)


def test_a_wish_that_is_given_up_is_said(ask: Ask) -> None:
    answer = ask(rider={"wants": ["steeper", "longer"]})
    assert "wishes.steeper_first" in rules_of(answer)
    fired = {reason["rule"] for reason in answer["reasons"]}
    assert "centre_plate.steeper" in fired
    assert "speed.longer" not in fired
    both = ask(rider={"wants": ["steeper", "mellower"]})
    assert "wishes.steeper_and_mellower" in rules_of(both)
    assert both["setup"]["plates"] == ask()["setup"]["plates"]


def test_a_load_is_no_person_whatever_it_is_called(ask: Ask) -> None:
    answer = ask(crew=2, loads=[{"mass": 300, "x": 5.5, "y": 0, "z": 0.9, "name": "person"}])
    assert "attitude.people_forward" not in rules_of(answer)


def test_what_a_request_calls_for_stands_before_what_always_stands(ask: Ask) -> None:
    answer = ask(crew=1, rider={"mass": 30}, water={"distance_to_shore": 76})
    order = {"danger": 0, "warning": 1, "note": 2}
    always = ALWAYS - {"lake_care.drain"}  # called for by tanks
    keys = [(order[c["severity"]], c["rule"] in always) for c in answer["cautions"]]
    assert keys == sorted(keys)
    assert {"watch.child", "crew.nobody_watches", "shore.near"} <= rules_of(answer)
    assert caution(answer, "watch.child")["severity"] == "warning"


@pytest.mark.parametrize(("degrees", "cold"), [(2, True), (14, True), (15, False), (None, False)])
def test_cold_water_is_told(ask: Ask, degrees: float | None, cold: bool) -> None:
    answer = ask(water={} if degrees is None else {"temperature": degrees})
    assert ("cold_water.cold_shock" in rules_of(answer)) is cold
    assert (answer["verdict"] == "go_with_care") is cold


def test_cold_water_is_told_in_the_units_of_the_request(ask: Ask) -> None:
    answer = ask(units="us", rider={"mass": "82 kg"}, water={"temperature": 50})
    assert "50 °F" in caution(answer, "cold_water.cold_shock")["text"]


@pytest.mark.parametrize(("fuel", "low"), [(1, True), (9, True), (10, False)])
def test_next_to_no_fuel_is_told(ask: Ask, fuel: float, low: bool) -> None:
    assert ("fuel.low" in rules_of(ask(fuel=fuel))) is low
