"""What the forms of an outing's answer say of movable loads."""

from __future__ import annotations

import json
from typing import Any

import icalendar
import pytest
from flask.testing import FlaskClient

from service import create_app
from tests.advice.requests_made import BOATS, mirrored_boat, swapped
from tests.api.test_answers import Specification
from tests.outings.boats import body
from tests.outings.loaded import PARTIES
from tests.outings.test_api import seen_in_a_mirror


@pytest.fixture(scope="module")
def client() -> FlaskClient:
    return create_app({"TESTING": True}).test_client()


@pytest.mark.parametrize("name", ["four", "pair"])
def test_the_mirrored_request_gets_the_mirrored_plan(client: FlaskClient, name: str) -> None:
    told = PARTIES[name] | {"boat": BOATS[PARTIES[name]["boat"]]}
    other = json.loads(json.dumps(told)) | {"boat": mirrored_boat(told["boat"])}
    facing = {"regular": "goofy", "goofy": "regular"}
    for rider in other["riders"]:
        rider["rider"]["stance"] = facing[rider["rider"]["stance"]]
    for load in other["loads"]:
        load["y"] = -load["y"]
    answers: list[Any] = [client.post("/v1/outing-plans", json=each).json for each in (told, other)]
    for answer in answers:
        for turn in answer["turns"]:
            del turn["advice_request"]
        for part in (*(turn["setup"] for turn in answer["turns"]), answer["way_home"]):
            assert len(part["loads"]) == len(told["loads"])
    for part in (*(turn["setup"] for turn in answers[1]["turns"]), answers[1]["way_home"]):
        for load in part["loads"]:
            load["at"] = swapped(load["at"])
    for key in ("turns", "way_home"):
        one = seen_in_a_mirror(answers[0][key], key)
        assert one == seen_in_a_mirror(seen_in_a_mirror(answers[1][key], key), key)
    assert answers[0]["totals"] == answers[1]["totals"]


def _written(client: FlaskClient, told: dict[str, Any], kind: str) -> str:
    answer = client.post("/v1/outing-plans", json=told, headers={"Accept": kind})
    assert (answer.status_code, answer.mimetype) == (200, kind)
    return answer.get_data(as_text=True)


@pytest.mark.parametrize("units", ["metric", "us"])
def test_every_form_of_the_answer_says_where_loads_lie_and_go(
    client: FlaskClient, units: str
) -> None:
    told = json.loads(json.dumps(PARTIES["pair"])) | {"units": units}
    for rider in told["riders"]:
        rider["rider"]["mass"] = f"{rider['rider']['mass']} kg"
    told["loads"] = [
        load | {"mass": f"{load['mass']} kg"} | {axis: f"{load[axis]} m" for axis in "xyz"}
        for load in told["loads"]
    ]
    answer: Any = client.post("/v1/outing-plans", json=told).json
    Specification(client).hold("/v1/outing-plans", "post", answer)
    changes = [turn["change_over"] for turn in answer["turns"]] + [
        answer["way_home"]["change_over"]
    ]
    steps = [step for change in changes for step in change["steps"] if step["kind"] == "shift"]
    assert len(steps) == answer["totals"]["loads_shifted"] > 0
    assert sum(change["loads_shifted"] for change in changes) == len(steps)
    text, page, dates = (
        _written(client, told, kind) for kind in ("text/plain", "text/html", "text/calendar")
    )
    events = icalendar.Calendar.from_ical(dates).walk("VEVENT")
    for forms in (" ".join(text.split()), page, " ".join(str(e["DESCRIPTION"]) for e in events)):
        for step in steps:
            mass = f"{step['mass']:.0f} {answer['units']['mass']}"
            start = "" if step["from"] == "own place" else f" from {step['from']}"
            goal = step["to"] if step["to"] == "own place" else f"beside {step['to']}"
            assert f"shift {step['load']} ({mass}){start} to {goal}" in forms
        for part in (*(turn["setup"] for turn in answer["turns"]), answer["way_home"]):
            for load in part["loads"]:
                mass = f"{load['mass']:.0f} {answer['units']['mass']}"
                assert load["at"] == "own place" or (
                    f"{load['load']} ({mass}) beside {load['at']}" in forms
                )
    for turn in answer["turns"]:
        advice: Any = client.post("/v1/advice", json=turn["advice_request"]).json
        away = {load["name"]: load["to"] for load in advice["setup"]["loads"]}
        for load in turn["setup"]["loads"]:
            assert load["at"] == away.get(load["load"], "own place")


def test_without_a_movable_load_the_answer_says_nothing_of_loads(client: FlaskClient) -> None:
    told = body(2, loads=[{"mass": 40, "x": 1.5, "y": -0.9, "z": 0.5, "name": "lead"}])
    answer: Any = client.post("/v1/outing-plans", json=told).json
    assert "loads" not in answer["way_home"]
    assert "loads_shifted" not in answer["totals"]
    assert all("loads" not in turn["setup"] for turn in answer["turns"])
    assert "/loads/*/movable" not in {gap["pointer"] for gap in answer["assumed"]}
