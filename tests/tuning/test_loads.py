"""Where bags lie while it is tuned: as told, or with the people where the advice puts them."""

from __future__ import annotations

from typing import Any

import pytest
from flask.testing import FlaskClient

from tests.tuning.conftest import RIDER, Ask, seen

SEATS = ("helm", "observer", "bench-port", "bench-port")
TANKS = {"aft-port": 90, "aft-starboard": 40, "mid-port": 60, "mid-starboard": 30, "bow": 40}
BAG = {"name": "lead", "mass": 200, "x": 5.5, "y": 0.6, "z": 0.6, "movable": True}
CHEST = {"name": "chest", "mass": 60, "x": 4.9, "y": 0.5, "z": 0.7, "movable": False}
LOADS = [CHEST, BAG]
NUMBERS = ("heel", "trim")


def lies(answer: dict[str, Any]) -> dict[str, float]:
    """How the boat lies before the change: heel and trim in degrees, by the hydrostatics."""
    return {name: answer["change"]["predicted"][name]["before"] for name in NUMBERS}


def advised(client: FlaskClient, **members: Any) -> Any:
    body = {"boat": "demo-7m", "rider": RIDER} | members
    response = client.post("/v1/advice", json=body)
    assert response.status_code == 200, response.json
    return response.get_json()


def pointers(answer: dict[str, Any]) -> dict[str, Any]:
    return {gap["pointer"]: gap["value"] for gap in answer["assumed"]}


@pytest.mark.parametrize("stance", ["regular", "goofy"])
@pytest.mark.parametrize("loads", [LOADS, [BAG, CHEST, BAG]])
def test_with_nothing_else_told_the_run_is_the_advised_one(
    ask: Ask, client: FlaskClient, stance: str, loads: list[Any]
) -> None:
    """The same numbers that ``/v1/advice`` predicts, bags shifted as it says."""
    told = {"crew": 2, "loads": loads, "rider": RIDER | {"stance": stance}}
    advice, answer = advised(client, **told), ask(**told, seen=seen("too_steep"))
    shifted = advice["setup"]["loads"]
    assert shifted, "otherwise this says nothing"
    at_rest = advice["predicted"]["at_rest"]
    assert lies(answer) == {name: at_rest[name] for name in NUMBERS}
    found = {pointer: value for pointer, value in pointers(answer).items() if "loads" in pointer}
    assert sorted(found.values()) == sorted(f"at {each['to']}" for each in shifted)
    assert all(loads[int(pointer.rpartition("/")[2])]["movable"] for pointer in found)


def test_where_everybody_s_seat_is_told_the_loads_are_where_they_were_told(
    ask: Ask, client: FlaskClient
) -> None:
    crew = [{"mass": 80, "seat": seat} for seat in SEATS]
    told = {"crew": crew, "loads": LOADS}
    assert advised(client, **told)["setup"]["loads"], "otherwise this says nothing"
    answer = ask(**told, settings={"tanks": TANKS}, seen=seen("too_steep"))
    plain = [{name: load[name] for name in ("mass", "x", "y", "z")} for load in LOADS]
    body = {"boat": "demo-7m", "crew": crew, "loads": plain, "ballast": TANKS}
    loading: Any = client.post("/v1/loading", json=body).get_json()
    assert lies(answer) == {name: loading[name] for name in NUMBERS}
    assert not any("loads" in pointer for pointer in pointers(answer))


def test_what_cannot_be_moved_stays(ask: Ask, client: FlaskClient) -> None:
    told = {"crew": 2, "loads": [load | {"movable": False} for load in LOADS]}
    answer = ask(**told, seen=seen("too_steep"))
    at_rest = advised(client, **told)["predicted"]["at_rest"]
    assert lies(answer) == {name: at_rest[name] for name in NUMBERS}
    assert not any("loads" in pointer for pointer in pointers(answer))
