"""An outfit's own values over HTTP: used at once, for itself alone, and said to be local."""

from __future__ import annotations

from typing import Any

import pytest
from flask.testing import FlaskClient

from service.outfits.keys import Scope

ANY = {"If-Match": "*"}


def advised(client: FlaskClient, boat: Any) -> Any:
    asked = {"boat": boat, "crew": 3, "rider": {"stance": "goofy"}}
    return client.post("/v1/advice", json=asked).get_json()


def test_own_values_are_used_at_once_and_said_to_be_local(
    mine: FlaskClient, boat: str, particulars: dict[str, Any], client: FlaskClient
) -> None:
    read = mine.get("/v1/outfit/rules")
    assert read.get_json() == {"version": 0, "fleet": {}, "boats": {}}
    before = advised(mine, boat)
    sent: dict[str, Any] = {"fleet": {"speed.start": 17.0}}
    put = mine.put("/v1/outfit/rules", json=sent, headers={"If-Match": read.headers["ETag"]})
    assert put.status_code == 200, put.get_data(as_text=True)
    after = advised(mine, boat)
    moved = after["setup"]["speed"] - before["setup"]["speed"]
    assert moved == pytest.approx(17.0 - 17.2, abs=0.06)
    assert after["rule_set"]["local"] == ["speed.start"]
    assert advised(client, "demo-7m")["rule_set"]["local"] == []  # another outfit's

    sent["boats"] = {boat: {"speed.start": 16.8}}
    stale = mine.put("/v1/outfit/rules", json=sent, headers={"If-Match": read.headers["ETag"]})
    assert stale.status_code == 412
    assert mine.put("/v1/outfit/rules", json=sent, headers=ANY).get_json()["version"] == 2
    assert advised(mine, boat)["setup"]["speed"] < after["setup"]["speed"]
    assert advised(mine, particulars)["setup"]["speed"] == after["setup"]["speed"]
    mine.put("/v1/outfit/rules", json={}, headers=ANY)
    assert advised(mine, boat)["rule_set"] == before["rule_set"]


@pytest.mark.parametrize(
    ("sent", "pointer"),
    [
        ({"fleet": {"speed.no_such": 1}}, "/fleet/speed.no_such"),
        ({"fleet": {"speed.start": "fast"}}, "/fleet/speed.start"),
        ({"boats": {"BOAT": {"speed.start": [1, 2]}}}, "/boats/BOAT/speed.start"),
        ({"boats": {"nowhere": {"speed.start": 17.0}}}, "/boats/nowhere"),
    ],
)
def test_a_value_that_does_not_fit_is_named(
    mine: FlaskClient, boat: str, sent: dict[str, Any], pointer: str
) -> None:
    sent = {
        part: {boat if key == "BOAT" else key: value for key, value in values.items()}
        for part, values in sent.items()
    }
    refused = mine.put("/v1/outfit/rules", json=sent, headers=ANY)
    assert refused.status_code == 422
    named = refused.get_json(force=True)["errors"][0]["pointer"]
    assert named.startswith(pointer.replace("BOAT", boat))
    assert mine.get("/v1/outfit/rules").get_json()["version"] == 0


def test_only_an_admin_changes_them(caller: Any) -> None:
    refused = caller(None, Scope.READ, Scope.WRITE).put("/v1/outfit/rules", json={}, headers=ANY)
    assert refused.status_code == 403
