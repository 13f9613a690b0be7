"""A run keeps what was advised, word for word."""

from __future__ import annotations

from typing import Any

import pytest
from flask.testing import FlaskClient

import rules
from tests.resources.conftest import Caller

ANY = {"If-Match": "*"}


@pytest.fixture
def asked(boat: str, rider: str) -> dict[str, Any]:
    return {"boat": boat, "crew": 6, "rider": rider, "units": "us", "water": {"depth": 30}}


def test_what_was_advised_is_kept_word_for_word(mine: FlaskClient, asked: dict[str, Any]) -> None:
    advised = mine.post("/v1/advice", json=asked)
    card = mine.post("/v1/advice", json=asked, headers={"Accept": "text/plain"})
    made = mine.post("/v1/runs", json={"request": asked})
    assert made.status_code == 201
    run = made.get_json()
    assert run["answer"] == advised.get_json()
    assert list(run["answer"]) == list(advised.get_json())
    assert run["request"] == asked
    assert (run["rule_set"], run["boat_version"]) == (rules.load().hash, 1)
    address = f"/v1/runs/{run['id']}"

    # The boat, the rider and the run's own rest change; the advice does not.
    mine.patch(f"/v1/boats/{asked['boat']}", json={"light": {"mass": 3000}}, headers=ANY)
    mine.patch(f"/v1/riders/{asked['rider']}", json={"stance": "regular"}, headers=ANY)
    rating = {"rating": 5, "settings": {"speed": "11.5 mph"}, "notes": "clean\nand long"}
    assert mine.patch(address, json=rating, headers=ANY).status_code == 200
    forged = {"request": {"boat": "x"}, "answer": {}, "rule_set": "x", "rating": 1}
    assert mine.put(address, json=forged, headers=ANY).status_code == 200
    after = mine.get(address).get_json()
    for name in ("request", "answer", "rule_set", "boat_version", "started", "created"):
        assert after[name] == run[name], name
    assert after["rating"] == 1
    assert "notes" not in after
    assert mine.get(f"{address}/card").text == card.text


def test_runs_are_listed_by_boat_rider_time_and_rating(
    mine: FlaskClient, asked: dict[str, Any]
) -> None:
    for day, rating in ((1, 2), (2, 5), (3, 4)):
        sent = {"request": asked, "started": f"2025-07-0{day}T12:00:00+02:00", "rating": rating}
        assert mine.post("/v1/runs", json=sent).status_code == 201
    for query, days in (
        (f"boat={asked['boat']}&rider={asked['rider']}", [1, 2, 3]),
        ("since=2025-07-02T10:00:00Z", [2, 3]),
        ("until=2025-07-02T10:00:00Z", [1]),
        ("rating=4", [2, 3]),
        ("boat=another", []),
    ):
        items = mine.get(f"/v1/runs?{query}").get_json()["items"]
        assert [int(item["started"][8:10]) for item in items] == days


def test_runs_of_a_span_of_time_come_by_time_in_pages(
    mine: FlaskClient, asked: dict[str, Any]
) -> None:
    """Whenever they were kept, also two of the same moment."""
    days = ["2025-07-03", "2001-04-14", "2025-07-01", "2025-07-03", "2031-12-31"]
    for day in days:
        sent = {"request": asked, "started": f"{day}T12:00:00Z"}
        assert mine.post("/v1/runs", json=sent).status_code == 201
    for query, wanted in (
        ("since=2001-01-01T00:00:00Z", sorted(days)),
        ("until=2031-01-01T00:00:00Z", sorted(days)[:-1]),
    ):
        found, address = [], f"/v1/runs?{query}&limit=1"
        while address:
            page = mine.get(address).get_json()
            found += page["items"]
            address = page["next"]
        assert [run["started"][:10] for run in found] == wanted
        assert len({run["id"] for run in found}) == len(wanted)


@pytest.mark.parametrize(
    "started",
    [
        "2025-07-01T12:00:00",
        "yesterday",
        5,
        "9999-12-31T23:59:59-14:00",
        "0001-01-01T00:00:00+14:00",
    ],
)
def test_a_start_without_its_offset_or_out_of_time_is_refused(
    mine: FlaskClient, asked: dict[str, Any], started: Any
) -> None:
    refused = mine.post("/v1/runs", json={"request": asked, "started": started})
    assert refused.status_code == 422
    assert refused.get_json(force=True)["errors"][0]["pointer"] == "/started"
    if isinstance(started, str):
        query = {"since": started}
        assert mine.get("/v1/runs", query_string=query).status_code == 422


def test_faults_in_the_request_are_named_where_they_are(mine: FlaskClient, boat: str) -> None:
    sent = {"request": {"boat": boat, "crew": -1, "rider": {"stance": "left"}}}
    refused = mine.post("/v1/runs", json=sent)
    pointers = {fault["pointer"] for fault in refused.get_json(force=True)["errors"]}
    assert pointers == {"/request/crew", "/request/rider/stance"}


def test_a_run_of_a_boat_inline_is_kept_too(mine: FlaskClient, particulars: dict[str, Any]) -> None:
    asked = {"boat": particulars, "crew": 2, "rider": {"stance": "goofy"}}
    run = mine.post("/v1/runs", json={"request": asked}).get_json()
    assert run["request"] == asked
    assert run["boat_version"] is None


def test_without_a_key_the_demo_fleet_is_as_entered(caller: Caller, client: FlaskClient) -> None:
    """What one crew measured and logged is no reason to tell a stranger another speed."""
    ask = {"boat": "demo-6m", "crew": 5, "rider": {"mass": 80, "stance": "goofy"}}
    demo = caller("demo")
    before = client.post("/v1/advice", json=ask).get_json()
    run = demo.post("/v1/runs", json={"request": ask}).get_json()
    address = f"/v1/runs/{run['id']}"
    ridden = {"rating": 5, "settings": {"speed": "19 km/h"}}
    assert demo.patch(address, json=ridden, headers=ANY).status_code == 200
    keyed = demo.post("/v1/advice", json=ask).get_json()
    assert keyed["setup"]["speed"] > before["setup"]["speed"]
    assert client.post("/v1/advice", json=ask).get_json() == before
    assert demo.delete(address, headers=ANY).status_code == 204
