"""Another outfit's things are not there: on no route of the specification, by no method."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from tests.resources.conftest import Caller

METHODS = ("get", "put", "patch", "delete", "post")


@pytest.fixture
def theirs(mine: FlaskClient, boat: str, rider: str) -> dict[str, str]:
    """One of everything of an outfit: the first part of the path → id."""
    setup = mine.post("/v1/setups", json={"boat": boat, "rider": rider, "settings": {}})
    run = mine.post("/v1/runs", json={"request": {"boat": boat, "rider": rider, "crew": 2}})
    booking = {"start": "2025-07-05T10:00:00Z", "duration": 60, "party": 2, "boat": boat}
    assert mine.put("/v1/bookings/their-booking", json=booking).status_code == 201
    (key,) = mine.get("/v1/keys").get_json()["items"]
    return {
        "boats": boat,
        "riders": rider,
        "setups": setup.get_json()["id"],
        "runs": run.get_json()["id"],
        "bookings": "their-booking",
        "keys": key["id"],
    }


def operations(client: FlaskClient) -> Iterator[tuple[str, str, dict[str, Any]]]:
    for path, item in client.get("/openapi.json").get_json()["paths"].items():
        for method in METHODS:
            if method in item:
                yield path, method, item[method]


def test_every_route_with_an_id_is_a_404(
    mine: FlaskClient, caller: Caller, theirs: dict[str, str], particulars: dict[str, Any]
) -> None:
    foreign = caller()
    bodies: dict[str, Any] = {
        "boats": particulars,
        "bookings": {"start": "2025-07-05T10:00:00Z", "duration": 60, "party": 2},
        "setups": {"boat": "x", "settings": {}},
        "calibrations": {},
    }
    walked = set()
    for path, method, _ in operations(mine):
        first, *more = path.removeprefix("/v1/").split("/")
        if not more or "{" not in path or first not in theirs:
            continue
        address = "/v1/" + "/".join([first, theirs[first], *(part for part in more[1:])])
        if (first, method) == ("bookings", "put"):
            continue  # it makes one's own under the same reference; see below
        body = bodies.get(first, {})
        answer = foreign.open(address, method=method.upper(), json=body, headers={"If-Match": "*"})
        assert answer.status_code == 404, (method, address, answer.text)
        walked.add((first, method))
    assert {("boats", "put"), ("riders", "delete"), ("runs", "patch"), ("keys", "get")} <= walked


def test_no_list_shows_anything_of_it(
    mine: FlaskClient, caller: Caller, theirs: dict[str, str]
) -> None:
    foreign = caller()
    for path, method, _ in operations(mine):
        if method == "get" and path.startswith("/v1/") and "{" not in path:
            text = foreign.get(path).text
            assert not any(f'"{row_id}"' in text for row_id in theirs.values()), path


def test_no_request_reaches_it_by_its_id(
    caller: Caller, theirs: dict[str, str], app: Flask, particulars: dict[str, Any]
) -> None:
    foreign = caller()
    boat, rider = theirs["boats"], theirs["riders"]
    of_boat: dict[str, Any] = {"boat": boat, "crew": 2, "rider": {"stance": "goofy"}}
    of_rider: dict[str, Any] = {"boat": particulars, "crew": 2, "rider": rider}
    for client in (foreign, app.test_client()):
        assert client.post("/v1/loading", json={"boat": boat, "crew": 2}).status_code == 404
        assert client.post("/v1/advice", json=of_boat).status_code == 404
        assert client.post("/v1/advice", json=of_rider).status_code == 404
    assert foreign.post("/v1/runs", json={"request": of_boat}).status_code == 404
    assert foreign.post("/v1/setups", json={"boat": boat, "settings": {}}).status_code == 404


def test_a_reference_of_theirs_is_free_for_one_s_own(
    mine: FlaskClient, caller: Caller, theirs: dict[str, str], particulars: dict[str, Any]
) -> None:
    foreign = caller()
    before = mine.get("/v1/bookings/their-booking").data
    foreign.post("/v1/boats", json=particulars)
    booking = {"start": "2025-07-05T10:00:00Z", "duration": 90, "party": 3}
    own = foreign.put("/v1/bookings/their-booking", json=booking)
    assert (own.status_code, own.headers["ETag"]) == (201, '"1"')
    # Nor is a boat out because another outfit's is.
    assert own.get_json()["answer"]["fits"]
    assert mine.get("/v1/bookings/their-booking").data == before


def test_that_it_exists_does_not_show_in_the_answer(caller: Caller, theirs: dict[str, str]) -> None:
    """What is not there and what is not one's own look the same but for the id."""
    foreign = caller()
    for kind in ("boats", "riders", "setups", "runs", "bookings", "keys"):
        row_id, nothing = theirs[kind], "0" * 16
        there = json.loads(foreign.get(f"/v1/{kind}/{row_id}").text.replace(row_id, "ID"))
        not_there = json.loads(foreign.get(f"/v1/{kind}/{nothing}").text.replace(nothing, "ID"))
        assert there == not_there
