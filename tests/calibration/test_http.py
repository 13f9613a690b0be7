"""Calibrations over HTTP: measured, answered, kept, used by advice, and taken back."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from flask.testing import FlaskClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from schemas.calibration_shapes import CalibrationAnswerSchema, ModelSchema
from service.calibration.predict import predict
from service.calibration.survey import Condition, Freeboard, Heel, Survey, Unknown
from service.hydrostatics.weights import Weight, ballast_water
from tests.calibration import synthetic

pytestmark = pytest.mark.keeps

BOAT = synthetic.FLEET["demo-7m"]
TRUTH = np.array([2420.0, 2.62, 0.02, 0.79, 0.0, 0.0, math.radians(0.4)])
WATER = 998.2072  # fresh, 20 °C: what is assumed where nothing is told
FUEL = 740.0


def dock(truth: np.ndarray = TRUTH, error: float = 0.0) -> dict[str, Any]:
    """A calibration as it is sent: two loadings and an inclining of the boat ``truth``."""
    rng = np.random.default_rng(1)
    fuel = BOAT.fuel
    half = Weight("fuel", fuel.capacity * 0.5 * FUEL, fuel.x, fuel.y, fuel.z)
    full = tuple(
        ballast_water(t.capacity, t.x, t.y, t.z, t.length, t.width, 1.0, WATER, t.id)
        for t in BOAT.tanks
    )
    heels = tuple(Heel(0.0, moment) for moment in (0.0, 150.0, -150.0))
    plan = Survey(
        (
            Condition((half,), WATER, synthetic.boards(BOAT), heels),
            Condition((half, *full), WATER, synthetic.boards(BOAT)),
        )
    )
    exact, _ = predict(BOAT.hull, truth, plan)
    values = (exact + error * plan.sd * rng.standard_normal(len(exact))).tolist()

    def boards(which: tuple[Freeboard, ...]) -> list[dict[str, Any]]:
        return [{"x": b.x, "side": b.side, "height": values.pop(0)} for b in which]

    first = boards(synthetic.boards(BOAT))
    inclining = [
        {
            "moved": {"mass": 75, "distance": 2, "to": "port" if h.moment > 0 else "starboard"}
            if h.moment
            else None,
            "heel": math.degrees(values.pop(0)),
        }
        for h in heels
    ]
    return {
        "loadings": [
            {"fuel": 50, "freeboards": first, "inclining": inclining},
            {
                "fuel": 50,
                "ballast": {tank.id: 100 for tank in BOAT.tanks},
                "freeboards": boards(synthetic.boards(BOAT)),
            },
        ]
    }


def test_measured_at_the_dock_kept_and_used(mine: FlaskClient, boat: str) -> None:
    ask = {"boat": boat, "crew": 6, "rider": {"mass": 80, "stance": "goofy"}}
    before = mine.post("/v1/advice", json=ask).get_json()
    response = mine.post(f"/v1/boats/{boat}/calibrations", json=dock())
    answer = response.get_json()
    assert response.status_code == 201, answer
    assert CalibrationAnswerSchema().validate({}) != {}  # an empty one is no calibration
    table = {entry["name"]: entry for entry in answer["fit"]["known"]}
    mass = table["light.mass"]
    assert mass["before"]["value"] == BOAT.light.mass
    assert abs(mass["after"]["value"] - TRUTH[Unknown.MASS]) < mass["after"]["band"]
    assert mass["after"]["band"] < mass["before"]["band"]
    assert table["light.y"]["after"]["value"] == pytest.approx(0.02, abs=0.005)
    assert len(answer["fit"]["readings"]) == 13
    assert answer["fit"]["does_not_fit"] is None
    assert answer["fit"]["measure_next"][0]["less_uncertain"] > 0.0
    gm = answer["fit"]["gm"][0]
    assert abs(gm["fitted"]["value"] - gm["classical"]["value"]) < 0.35
    again = mine.get(response.headers["Location"])
    kept = again.get_json()["loadings"]
    for loading, sent in zip(kept, dock()["loadings"], strict=True):
        heights = [board["height"] for board in loading["freeboards"]]
        assert heights == pytest.approx([board["height"] for board in sent["freeboards"]])
    after = mine.post("/v1/advice", json=ask).get_json()
    heavier = (
        after["predicted"]["at_rest"]["displacement"]
        - before["predicted"]["at_rest"]["displacement"]
    )
    water = sum(t["mass"] for t in after["setup"]["tanks"]) - sum(
        t["mass"] for t in before["setup"]["tanks"]
    )
    assert heavier - water == pytest.approx(mass["after"]["value"] - BOAT.light.mass, abs=1.0)


def test_an_inline_boat_and_others_are_as_they_were(mine: FlaskClient, boat: str) -> None:
    ask = {"boat": "demo-7m", "crew": 6, "rider": {"mass": 80, "stance": "goofy"}}
    anonymous = mine.application.test_client()
    before = anonymous.post("/v1/advice", json=ask).get_json()
    assert mine.post(f"/v1/boats/{boat}/calibrations", json=dock()).status_code == 201
    assert anonymous.post("/v1/advice", json=ask).get_json() == before


def test_taken_back_she_is_as_entered(mine: FlaskClient, boat: str) -> None:
    path = f"/v1/boats/{boat}/calibrations"
    first = mine.get(f"/v1/boats/{boat}/model").get_json()
    made = mine.post(path, json=dock())
    where, tag = made.headers["Location"], made.headers["ETag"]
    assert mine.delete(where).status_code == 428
    assert mine.delete(where, headers={"If-Match": '"7"'}).status_code == 412
    assert mine.get(path).get_json()["items"][0]["id"] == made.get_json()["id"]
    assert mine.get(f"/v1/boats/{boat}/model").get_json() != first
    assert mine.delete(where, headers={"If-Match": tag}).status_code == 204
    assert mine.get(where).status_code == 404
    assert mine.get(f"/v1/boats/{boat}/model").get_json() == first


def test_the_model_says_what_is_known_and_what_to_measure(mine: FlaskClient, boat: str) -> None:
    fresh = mine.get(f"/v1/boats/{boat}/model").get_json()
    assert fresh["readings"] == []
    assert all(not entry["found"] for entry in fresh["known"])
    assert fresh["says"][0].endswith("as entered.")
    mine.post(f"/v1/boats/{boat}/calibrations", json=dock(error=1.0))
    model = mine.get(f"/v1/boats/{boat}/model", query_string={"units": "us"}).get_json()
    assert "from 13 readings" in model["says"][0]
    assert " lb " in model["says"][0]
    assert not ModelSchema(partial=True).validate(
        {name: value for name, value in model.items() if name in ("says", "log")}
    )
    shares = [gain["less_uncertain"] for gain in model["measure_next"]]
    assert shares == sorted(shares, reverse=True)


def test_the_model_is_a_page_too(mine: FlaskClient, boat: str) -> None:
    mine.post(f"/v1/boats/{boat}/calibrations", json=dock(error=1.0))
    shown = mine.get(f"/v1/boats/{boat}/model", headers={"Accept": "text/html"})
    assert shown.mimetype == "text/html"
    assert "from 13 readings" in shown.text
    assert shown.text.count("<svg") == 2


def test_the_wrong_reading_is_named(mine: FlaskClient, boat: str) -> None:
    sent = dock(error=0.5)
    sent["loadings"][1]["freeboards"][2]["height"] += 0.1
    fit = mine.post(f"/v1/boats/{boat}/calibrations", json=sent).get_json()["fit"]
    wrong = fit["does_not_fit"]
    assert wrong["reading"] == 10
    assert wrong["says"].startswith("The freeboard at 3.5 m on the port side of loading 2 is 0.0")
    without = {entry["name"]: entry["after"] for entry in wrong["without"]}["light.mass"]
    assert abs(without["value"] - TRUTH[Unknown.MASS]) < without["band"]
    assert len(fit["readings"]) == 13
    assert fit["widened"] > 1.0


@given(
    heights=st.lists(st.floats(-0.2, 3.0), min_size=1, max_size=5),
    heels=st.lists(st.tuples(st.floats(-30.0, 30.0), st.floats(0.0, 5.0)), max_size=3),
    mass=st.floats(1.0, 2000.0),
)
@settings(
    max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_whatever_is_read_there_is_an_answer(
    mine: FlaskClient, boat: str, heights: list[float],
    heels: list[tuple[float, float]], mass: float,
) -> None:  # fmt: skip
    """And advice afterwards, be the readings ever so wrong."""
    sent = {
        "loadings": [
            {
                "fuel": 50,
                "freeboards": [
                    {"x": 1.5 * place, "side": "port", "height": height}
                    for place, height in enumerate(heights)
                ],
                "inclining": [
                    {"moved": {"mass": mass, "distance": distance, "to": "port"}, "heel": heel}
                    for heel, distance in heels
                ],
            }
        ]
    }
    made = mine.post(f"/v1/boats/{boat}/calibrations", json=sent)
    assert made.status_code in (201, 422), made.text
    assert mine.get(f"/v1/boats/{boat}/model").status_code == 200
    ask = {"boat": boat, "crew": 2, "rider": {"mass": 80, "stance": "goofy"}}
    assert mine.post("/v1/advice", json=ask).status_code == 200
    if made.status_code == 201:
        tag = made.headers["ETag"]
        assert mine.delete(made.headers["Location"], headers={"If-Match": tag}).status_code == 204


def test_all_occasions_count_together(mine: FlaskClient, boat: str) -> None:
    path = f"/v1/boats/{boat}/calibrations"
    once = mine.post(path, json=dock(error=1.0)).get_json()["fit"]["known"][0]["after"]["band"]
    both = mine.post(path, json={"weighed": {"mass": 2420}}).get_json()["fit"]
    assert len(both["readings"]) == 14
    assert both["known"][0]["after"]["band"] < 0.6 * once


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"loadings": []}, ""),
        ({"loadings": [{"fuel": 50}]}, "/loadings/0"),
        (
            {"loadings": [{"freeboards": [{"x": 0, "side": "port", "height": 0.6}]}]},
            "/loadings/0/fuel",
        ),
        (
            {"loadings": [{"fuel": 50, "freeboards": [{"x": 9, "side": "port", "height": 0.6}]}]},
            "/loadings/0/freeboards/0/x",
        ),
        (
            {"loadings": [{"fuel": 50, "ballast": {"attic": 10},
                           "freeboards": [{"x": 0, "side": "port", "height": 0.6}]}]},
            "/loadings/0/ballast/attic",
        ),
        (
            {"loadings": [{"fuel": 50, "crew": [{"seat": "helm"}],
                           "freeboards": [{"x": 0, "side": "port", "height": 0.6}]}]},
            "/loadings/0/crew/0/mass",
        ),
        (
            {"loadings": [{"fuel": 50, "crew": [{"seat": "throne", "mass": 80}],
                           "freeboards": [{"x": 0, "side": "port", "height": 0.6}]}]},
            "/loadings/0/crew/0/seat",
        ),
        (
            {"loadings": [{"fuel": 50, "inclining": [
                {"heel": 1, "pendulum": {"length": 1, "deflection": 0}}]}]},
            "/loadings/0/inclining/0",
        ),
        ({"ashore": {"depth": 2.0}}, "/ashore/depth"),
        (
            {"loadings": [{"fuel": 50, "loads": [{"mass": 2000, "x": 3, "y": 0, "z": 0.5}] * 9,
                           "freeboards": [{"x": 0, "side": "port", "height": 0.6}]}]},
            "/loadings",
        ),
    ],
)  # fmt: skip
def test_what_is_wrong_is_named(
    mine: FlaskClient, boat: str, change: dict[str, Any], pointer: str
) -> None:
    response = mine.post(f"/v1/boats/{boat}/calibrations", json=change)
    assert response.status_code == 422
    assert pointer in [error["pointer"] for error in response.get_json()["errors"]]


def test_no_key_no_calibration_and_no_boat_no_model(mine: FlaskClient, boat: str) -> None:
    anonymous = mine.application.test_client()
    assert anonymous.post("/v1/boats/demo-7m/calibrations", json=dock()).status_code == 401
    assert mine.post("/v1/boats/nobodys/calibrations", json=dock()).status_code == 404
    assert mine.get("/v1/boats/nobodys/model").status_code == 404
    assert mine.get("/v1/boats/demo-7m/model").status_code == 404  # another outfit's


def test_a_calibration_is_of_its_boat(mine: FlaskClient, boat: str) -> None:
    made = mine.post(f"/v1/boats/{boat}/calibrations", json=dock()).get_json()
    other = mine.get(f"/v1/boats/{boat}").get_json()
    other = {name: value for name, value in other.items() if name != "units"} | {"id": "other"}
    assert mine.post("/v1/boats", json=other).status_code == 201
    assert mine.get(f"/v1/boats/other/calibrations/{made['id']}").status_code == 404


def test_a_boat_entered_anew_leaves_out_what_no_longer_fits(mine: FlaskClient, boat: str) -> None:
    made = mine.post(f"/v1/boats/{boat}/calibrations", json=dock()).get_json()
    response = mine.get(f"/v1/boats/{boat}")
    changed = response.get_json() | {"tanks": []}
    tag = response.headers["ETag"]
    assert mine.put(f"/v1/boats/{boat}", json=changed, headers={"If-Match": tag}).status_code == 200
    model = mine.get(f"/v1/boats/{boat}/model").get_json()
    assert [entry["calibration"] for entry in model["left_out"]] == [made["id"]]
    assert model["known"][0]["after"]["value"] == BOAT.light.mass


def test_a_running_trim_is_kept_and_corrects(mine: FlaskClient, boat: str) -> None:
    ask = {"boat": boat, "crew": [{"mass": 84, "seat": "helm"}], "fuel": 50,
           "rider": {"mass": 80, "stance": "goofy"}}  # fmt: skip
    before = mine.post("/v1/advice", json=ask).get_json()
    setup = before["setup"]
    sent = {
        "running_trim": {
            "fuel": 50,
            "crew": [{"mass": 84, "seat": "helm"}],
            "ballast": {tank["tank"]: tank["fill"] for tank in setup["tanks"]},
            "speed": setup["speed"],
            "centre_plate": setup["plates"]["centre"],
            "off_side_plate": setup["plates"]["port"],
            "trim": before["predicted"]["under_way"]["trim"] + 3,
        }
    }
    assert mine.post(f"/v1/boats/{boat}/calibrations", json=sent).status_code == 201
    after = mine.post("/v1/advice", json=ask).get_json()
    assert after["predicted"]["under_way"]["trim"] == pytest.approx(
        before["predicted"]["under_way"]["trim"] + 3, abs=1
    )
    assert "one measured trim" in after["predicted"]["under_way"]["note"]
    model = mine.get(f"/v1/boats/{boat}/model").get_json()
    assert model["running_trim"]["speed"] == pytest.approx(setup["speed"], abs=0.01)
    assert after["setup"] == setup


def test_runs_teach_the_boat_and_an_outfit_can_switch_that_off(
    mine: FlaskClient, boat: str
) -> None:
    ask = {"boat": boat, "crew": 6, "rider": {"mass": 80, "stance": "goofy"}}
    plain = mine.post("/v1/advice", json=ask).get_json()
    plate = plain["setup"]["plates"]["port"]
    for number in range(14):
        run = {
            "request": ask,
            "rating": 5,
            "settings": {"plates": {"port": plate + 4 + (number % 3 - 1)}},
        }
        assert mine.post("/v1/runs", json=run).status_code == 201
    taught = mine.post("/v1/advice", json=ask).get_json()
    lines = [
        line
        for line in taught["accounts"]["plates.port"]["lines"]
        if line["rule"] == "log.this_boat"
    ]
    assert [line["label"].split(": ")[0] for line in lines] == ["this boat, 14 runs"]
    # Learned from the advice less what the log had in it: later runs do not count it twice.
    assert 2.5 < lines[0]["change"] < 4.5
    log = mine.get(f"/v1/boats/{boat}/model").get_json()["log"]
    offset = next(each for each in log["offsets"] if each["target"] == "off_side_plate")
    assert offset["runs"] == log["runs"] == 14
    assert len(offset["by_people"]) == 14
    off = mine.post(f"/v1/boats/{boat}/calibrations", json={"log": {"use": False}})
    assert off.status_code == 201
    assert mine.post("/v1/advice", json=ask).get_json() == plain
    assert mine.get(f"/v1/boats/{boat}/model").get_json()["log"]["used"] is False


def test_a_kept_rider_has_offsets_of_their_own(mine: FlaskClient, boat: str) -> None:
    rider = mine.post(
        "/v1/riders", json={"mass": 80, "stance": "goofy", "level": "intermediate"}
    ).get_json()["id"]
    ask = {"boat": boat, "crew": 6, "rider": rider}
    plain = mine.post("/v1/advice", json=ask).get_json()
    speed = plain["setup"]["speed"]
    for _ in range(6):
        run = {"request": ask, "rating": 5, "settings": {"speed": speed + 0.6}}
        assert mine.post("/v1/runs", json=run).status_code == 201
    taught = mine.post("/v1/advice", json=ask).get_json()
    rules = [line["rule"] for line in taught["accounts"]["speed"]["lines"]]
    assert "log.this_boat" in rules
    assert "log.this_rider" in rules
    someone = mine.post("/v1/advice", json=ask | {"rider": {"mass": 80, "stance": "goofy"}})
    assert "log.this_rider" not in [
        line["rule"] for line in someone.get_json()["accounts"]["speed"]["lines"]
    ]


def test_us_readings_say_the_same(mine: FlaskClient, boat: str) -> None:
    metric = mine.post(f"/v1/boats/{boat}/calibrations", json=dock()).get_json()
    sent = dock()
    for loading in sent["loadings"]:
        for board in loading["freeboards"]:
            board["x"] /= 0.3048
            board["height"] /= 0.3048
        for heel in loading.get("inclining", ()):
            if heel["moved"]:
                heel["moved"] |= {"mass": 75 / 0.45359237, "distance": 2 / 0.3048}
    where, tag = f"/v1/boats/{boat}/calibrations/{metric['id']}", '"1"'
    assert mine.delete(where, headers={"If-Match": tag}).status_code == 204
    us = mine.post(f"/v1/boats/{boat}/calibrations", json=sent | {"units": "us"}).get_json()
    one, other = (each["fit"]["known"][0]["after"]["value"] for each in (metric, us))
    assert other * 0.45359237 == pytest.approx(one, abs=0.1)


def test_the_same_calibration_sent_twice_under_one_key_is_one(mine: FlaskClient, boat: str) -> None:
    path, headers = f"/v1/boats/{boat}/calibrations", {"Idempotency-Key": "dock-1"}
    first = mine.post(path, json=dock(), headers=headers)
    second = mine.post(path, json=dock(), headers=headers)
    assert second.get_json() == first.get_json()
    assert len(mine.get(path).get_json()["items"]) == 1
