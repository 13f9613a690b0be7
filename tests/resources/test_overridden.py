"""Advice that was not followed: said of a run, counted with the rule."""

from __future__ import annotations

from typing import Any

import pytest
from flask.testing import FlaskClient

ANY = {"If-Match": "*"}
RULE = "speed.start"


@pytest.fixture
def run(mine: FlaskClient, boat: str, rider: str) -> dict[str, Any]:
    sent = {"request": {"boat": boat, "crew": 6, "rider": rider}}
    kept: dict[str, Any] = mine.post("/v1/runs", json=sent).get_json()
    return kept


def counted(client: FlaskClient) -> Any:
    return client.get(f"/v1/rules/{RULE}").get_json().get("feedback")


def test_a_rule_tells_how_often_it_was_overridden(
    mine: FlaskClient, run: dict[str, Any], client: FlaskClient
) -> None:
    assert counted(mine) == {"fired": 1, "overridden": 0, "last": []}
    address = f"/v1/runs/{run['id']}"
    said = {"overridden": [{"rule": RULE, "reason": "chop"}], "rating": 4}
    assert mine.patch(address, json=said, headers=ANY).status_code == 200
    found = counted(mine)
    assert (found["fired"], found["overridden"]) == (1, 1)
    assert [(one["run"], one["reason"]) for one in found["last"]] == [(run["id"], "chop")]
    # The rest may change; what was overridden stays said at the time it was said.
    mine.patch(address, json={"rating": 5}, headers=ANY)
    assert counted(mine) == found
    mine.patch(address, json={"overridden": []}, headers=ANY)
    assert counted(mine) == {"fired": 1, "overridden": 0, "last": []}
    assert counted(client) is None  # no key, no counts
    mine.delete(address, headers=ANY)
    assert counted(mine) == {"fired": 0, "overridden": 0, "last": []}


def test_it_may_be_said_with_the_run_and_is_nobody_elses(
    mine: FlaskClient, run: dict[str, Any], caller: Any
) -> None:
    sent = {"request": run["request"], "overridden": [{"rule": RULE, "reason": "a tow rope"}]}
    assert mine.post("/v1/runs", json=sent).status_code == 201
    assert (counted(mine)["fired"], counted(mine)["overridden"]) == (2, 1)
    assert counted(caller())["fired"] == 0


@pytest.mark.parametrize(
    "overridden",
    [
        [{"rule": "no.such", "reason": "x"}],
        [{"rule": "drive.outboard", "reason": "it did not fire"}],
        [{"rule": RULE}],
        [{"rule": RULE, "reason": "once"}, {"rule": RULE, "reason": "twice"}],
    ],
)
def test_only_what_was_advised_can_be_overridden(
    mine: FlaskClient, run: dict[str, Any], overridden: list[Any]
) -> None:
    refused = mine.patch(f"/v1/runs/{run['id']}", json={"overridden": overridden}, headers=ANY)
    assert refused.status_code == 422
    pointer = refused.get_json(force=True)["errors"][0]["pointer"]
    assert pointer.startswith("/overridden/")
    assert counted(mine)["overridden"] == 0


def test_erasing_the_rider_erases_the_reasons(
    mine: FlaskClient, run: dict[str, Any], rider: str
) -> None:
    said = {"overridden": [{"rule": RULE, "reason": "Ada's knee"}]}
    mine.patch(f"/v1/runs/{run['id']}", json=said, headers=ANY)
    assert mine.delete(f"/v1/riders/{rider}?erase=true").status_code == 204
    assert counted(mine) == {"fired": 0, "overridden": 0, "last": []}
    assert "knee" not in mine.get(f"/v1/runs/{run['id']}").get_data(as_text=True)


def test_the_page_of_a_rule_names_its_cases(client: FlaskClient) -> None:
    shown = client.get(f"/v1/rules/{RULE}").get_json()
    assert any(case["fires"] for case in shown["cases"])
    page = client.get(f"/v1/rules/{RULE}", headers={"Accept": "text/html"})
    assert shown["cases"][0]["name"] in page.get_data(as_text=True)


def test_the_page_of_a_rule_tells_the_same_to_who_has_a_key(
    mine: FlaskClient, run: dict[str, Any], client: FlaskClient
) -> None:
    said = {"overridden": [{"rule": RULE, "reason": "<b>chop</b>"}]}
    mine.patch(f"/v1/runs/{run['id']}", json=said, headers=ANY)
    html = {"Accept": "text/html"}
    page = mine.get(f"/v1/rules/{RULE}", headers=html).get_data(as_text=True)
    assert "fired in 1 of the kept runs and was overridden in 1 of these" in page
    assert "&lt;b&gt;chop" in page
    assert f"/v1/runs/{run['id']}" in page
    assert "of the kept runs" not in client.get(f"/v1/rules/{RULE}", headers=html).text
