"""Accounts that add up, an attitude that is really that of the set-up, the same answer twice."""

from __future__ import annotations

import copy
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.advice import loading_plan
from tests.advice.conftest import Ask
from tests.advice.requests_made import BOATS, bodies
from tests.size import cases

FEW = settings(
    max_examples=cases(40, 60), deadline=None, derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)  # fmt: skip


def advice(client: Any, body: dict[str, Any]) -> dict[str, Any]:
    response = client.post("/v1/advice", json=body)
    assert response.status_code == 200, response.get_data(as_text=True)
    found: dict[str, Any] = response.json
    return found


def exactly(number: float) -> Decimal:
    return Decimal(repr(number))


@FEW
@given(body=bodies())
def test_every_number_of_the_setup_is_the_sum_of_its_lines(
    client: Any, body: dict[str, Any]
) -> None:
    answer = advice(client, body)
    setup, accounts = answer["setup"], answer["accounts"]
    numbers = {"speed": setup["speed"]}
    numbers |= {f"plates.{p}": v for p, v in setup["plates"].items() if v is not None}
    numbers |= {f"tanks.{tank['tank']}": tank["fill"] for tank in setup["tanks"]}
    assert set(numbers) <= set(accounts)
    for name, value in numbers.items():
        account = accounts[name]
        assert sum(exactly(line["change"]) for line in account["lines"]) == exactly(value), name
        assert account["value"] == value
        assert [line["kind"] for line in account["lines"]].count("base") == 1
        fired = {reason["rule"] for reason in answer["reasons"]}
        assert {line["rule"] for line in account["lines"]} - {"rounding"} <= fired


def seated(crew: Any, seating: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The people of the request, each on the seat that the answer gives them."""
    if isinstance(crew, int):
        return [
            {"mass": f"{one['mass']} kg", "seat": one["to"]}
            for one in seating
            for _ in range(one["people"])
        ]
    people = [{"mass": person["mass"]} for person in crew]
    for one in seating:
        person = crew[one["person"] - 1]
        spot = {"seat": one["to"]}
        if one["to"] == "own place":
            spot = {"x": person["x"], "y": person["y"]}
        people[one["person"] - 1] |= spot
    return people


@FEW
@given(body=bodies())
def test_the_attitude_is_that_of_exactly_this_setup(client: Any, body: dict[str, Any]) -> None:
    """``POST /v1/loading`` with the advised fills and places finds the same floating position."""
    for number, load in enumerate(body["loads"]):
        load["name"] = str(number)
    answer = advice(client, body)
    rest = answer["predicted"]["at_rest"]
    if any(one["to"] is None for one in answer["setup"]["seating"]):
        return  # standing amid the seats is no place that can be given
    crew = seated(body["crew"], answer["setup"]["seating"])
    again = copy.deepcopy(body) | {
        "crew": crew,
        "ballast": {tank["tank"]: tank["fill"] for tank in answer["setup"]["tanks"]},
    }
    seats = {seat["id"]: seat for seat in BOATS[body["boat"]]["seats"]}
    for shifted in answer["setup"]["loads"]:
        seat = seats[shifted["to"]]
        again["loads"][int(shifted["name"])] |= {"x": seat["x"], "y": seat["y"]}
    for name in ("rider", "surf_side"):
        again.pop(name, None)
    checked = client.post("/v1/loading", json=again).json
    assert checked["status"] == rest["status"]
    for name in ("heel", "trim", "displacement"):
        assert checked[name] == pytest.approx(rest[name], abs=2e-4)
    assert checked["freeboard"] == pytest.approx(rest["freeboard"], abs=2e-4)
    assert checked["gm"] == pytest.approx(rest["gm"], abs=2e-4)


@FEW
@given(body=bodies())
def test_the_same_request_gets_the_same_answer(client: Any, body: dict[str, Any]) -> None:
    """Whether its loading is remembered or searched for again."""
    first = client.post("/v1/advice", json=body)
    assert client.post("/v1/advice", json=body).data == first.data
    loading_plan._planned.cache_clear()
    client.post("/v1/advice", json=body | {"crew": 3})
    assert client.post("/v1/advice", json=body).data == first.data


@FEW
@given(body=bodies(), extra=st.integers(1, 3))
def test_more_people_never_lower_the_off_side_plate(
    client: Any, body: dict[str, Any], extra: int
) -> None:
    crew = body["crew"]
    more = crew + extra if isinstance(crew, int) else [*crew, *[{"mass": "84 kg"}] * extra]
    fewer_answer, more_answer = advice(client, body), advice(client, body | {"crew": more})
    off = "starboard" if fewer_answer["setup"]["surf_side"] == "port" else "port"
    fewer, after = (a["setup"]["plates"][off] for a in (fewer_answer, more_answer))
    assert (fewer is None and after is None) or after >= fewer


def test_stating_a_default_changes_nothing_but_the_list_of_defaults(ask: Ask) -> None:
    assumed = [(gap["pointer"], gap["value"]) for gap in ask()["assumed"]]
    assert sorted(assumed, key=str) == [
        ("/ballast", 0.0),
        ("/crew", "person 1: driver"),
        ("/crew", "person 2: observer"),
        ("/crew/*/mass", 84.0),
        ("/fuel", 50.0),
        ("/water/kind", "fresh"),
        ("/water/temperature", 20.0),
    ]
    people: list[dict[str, Any]] = [{"mass": 84} for _ in range(8)]
    people[0]["role"], people[1]["role"] = "driver", "observer"
    told = ask(
        crew=people,
        ballast={tank["tank"]: 0 for tank in ask()["setup"]["tanks"]},
        fuel=50,
        water={"kind": "fresh", "temperature": 20},
    )
    assert told["assumed"] == []
    for part in ("surf_side", "speed", "plates", "tanks", "loads"):
        assert told["setup"][part] == ask()["setup"][part]
    assert told["predicted"] == ask()["predicted"]
