"""Every scope against every route; a route that is missing in the table fails."""

from __future__ import annotations

from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from service import create_app
from service.outfits import keys
from service.outfits.keys import Scope
from service.storage import Store
from service.storage.tables import Key, now
from tests.resources.conftest import Caller

ANYBODY, WHILE_OPEN = "anybody", "anybody while WAVESETUP_OPEN is true, else read"
READ, WRITE, ADMIN = Scope

TABLE: dict[str, str] = {
    "GET /": WHILE_OPEN,
    "POST /": WHILE_OPEN,
    "GET /assets/<path:name>": WHILE_OPEN,
    "GET /docs": ANYBODY,
    "GET /docs/tutorial": ANYBODY,
    "GET /healthz": ANYBODY,
    "GET /metrics": ANYBODY,
    "GET /openapi.json": ANYBODY,
    "GET /readyz": ANYBODY,
    "POST /v1/advice": WHILE_OPEN,
    "GET /v1/boats": READ,
    "POST /v1/boats": WRITE,
    "GET /v1/boats/<boat_id>/calibrations": READ,
    "POST /v1/boats/<boat_id>/calibrations": WRITE,
    "GET /v1/boats/<boat_id>/calibrations/<row_id>": READ,
    "DELETE /v1/boats/<boat_id>/calibrations/<row_id>": WRITE,
    "GET /v1/boats/<boat_id>/model": READ,
    "GET /v1/boats/<row_id>": READ,
    "PUT /v1/boats/<row_id>": WRITE,
    "PATCH /v1/boats/<row_id>": WRITE,
    "DELETE /v1/boats/<row_id>": WRITE,
    "GET /v1/bookings": READ,
    "PUT /v1/bookings/<reference>": WRITE,
    "GET /v1/bookings/<reference>": READ,
    "DELETE /v1/bookings/<reference>": WRITE,
    "GET /v1/bookings/<reference>/sheet": READ,
    "POST /v1/bookings:batch": WRITE,
    "GET /v1/jobs/<job_id>": WHILE_OPEN,
    "GET /v1/jobs/<job_id>/answer": WHILE_OPEN,
    "DELETE /v1/jobs/<job_id>": WHILE_OPEN,
    "GET /v1/keys": ADMIN,
    "POST /v1/keys": ADMIN,
    "GET /v1/keys/<key_id>": ADMIN,
    "DELETE /v1/keys/<key_id>": ADMIN,
    "POST /v1/loading": WHILE_OPEN,
    "GET /v1/outfit": READ,
    "PATCH /v1/outfit": ADMIN,
    "GET /v1/outfit/rules": READ,
    "PUT /v1/outfit/rules": ADMIN,
    "POST /v1/outing-plans": WHILE_OPEN,
    "GET /v1/riders": READ,
    "POST /v1/riders": WRITE,
    "GET /v1/riders/<row_id>": READ,
    "PUT /v1/riders/<row_id>": WRITE,
    "PATCH /v1/riders/<row_id>": WRITE,
    "DELETE /v1/riders/<row_id>": WRITE,
    "GET /v1/riders/<row_id>/export": READ,
    "GET /v1/rules": WHILE_OPEN,
    "GET /v1/rules/<rule_id>": WHILE_OPEN,
    "GET /v1/runs": READ,
    "POST /v1/runs": WRITE,
    "GET /v1/runs/<row_id>": READ,
    "PUT /v1/runs/<row_id>": WRITE,
    "PATCH /v1/runs/<row_id>": WRITE,
    "DELETE /v1/runs/<row_id>": WRITE,
    "GET /v1/runs/<row_id>/card": READ,
    "POST /v1/runs/<row_id>/tuning": WRITE,
    "GET /v1/setups": READ,
    "POST /v1/setups": WRITE,
    "GET /v1/setups/<row_id>": READ,
    "PUT /v1/setups/<row_id>": WRITE,
    "PATCH /v1/setups/<row_id>": WRITE,
    "DELETE /v1/setups/<row_id>": WRITE,
    "POST /v1/tuning": WHILE_OPEN,
    "GET /v1/tuning/signs": WHILE_OPEN,
}
RIDER = {"name": "Ada", "mass": 82, "stance": "goofy"}


@pytest.fixture(scope="module")
def closed(database: str) -> Flask:
    return create_app({"TESTING": True, "OPEN": False, "DATABASE_URL": database})


def ask(client: FlaskClient, route: str) -> TestResponse:
    """Without a body; what a path names is not there."""
    method, path = route.split()
    for name in ("row_id", "boat_id", "reference", "key_id", "rule_id", "job_id", "path:name"):
        path = path.replace(f"<{name}>", "none")
    return client.open(path, method=method)


def test_every_route_is_in_the_table(app: Flask) -> None:
    there = {
        f"{method} {rule.rule}"
        for rule in app.url_map.iter_rules()
        for method in (rule.methods or set()) - {"HEAD", "OPTIONS"}
    }
    assert there == TABLE.keys()


@pytest.mark.parametrize("route", TABLE)
def test_route_without_a_key(route: str, client: FlaskClient, closed: Flask) -> None:
    needs = TABLE[route]
    assert (ask(client, route).status_code == 401) == (needs in tuple(Scope))
    assert (ask(closed.test_client(), route).status_code == 401) == (needs != ANYBODY)


@pytest.mark.parametrize("held", Scope)
@pytest.mark.parametrize("route", TABLE)
def test_scope_against_route(route: str, held: Scope, caller: Caller, closed: Flask) -> None:
    needs = TABLE[route]
    key = caller(None, held)
    answer = ask(key, route)
    levels = list(Scope)
    if needs in levels and levels.index(Scope(needs)) > levels.index(held):
        assert answer.status_code == 403
        assert f'scope="{needs}"' in answer.headers["WWW-Authenticate"]
    else:
        assert answer.status_code not in (401, 403)
    if needs == WHILE_OPEN:
        client = closed.test_client()
        client.environ_base.update(key.environ_base)
        assert ask(client, route).status_code not in (401, 403)


def test_a_key_that_reads_gets_no_rider_out_of_a_change(mine: FlaskClient, caller: Caller) -> None:
    made = mine.post("/v1/riders", json=RIDER)
    outfit = mine.get("/v1/outfit").get_json()["id"]
    address, any_version = f"/v1/riders/{made.get_json()['id']}", {"If-Match": "*"}
    kind = "application/merge-patch+json"
    reader, writer = caller(outfit, READ), caller(outfit, WRITE)
    sent: dict[str, Any] = {"data": "{}", "content_type": kind, "headers": any_version}
    assert reader.patch(address, **sent).status_code == 403
    # A key that writes reads as well: what an empty change shows it may see anyway.
    assert writer.patch(address, **sent).get_json()["name"] == "Ada"
    assert writer.get(address).get_json()["name"] == "Ada"


def test_a_key_with_several_levels_is_shown_with_all_it_may(mine: FlaskClient) -> None:
    made = mine.post("/v1/keys", json={"name": "desk", "scopes": ["write"]}).get_json()
    assert made["scopes"] == ["read", "write"]


def test_a_key_of_before_the_levels_has_the_lower_ones(
    caller: Caller, store: Store, app: Flask
) -> None:
    client = caller(None, ADMIN)
    token = client.environ_base["HTTP_AUTHORIZATION"].split()[1]
    with store.writing() as session:
        session.query(Key).where(Key.hash == keys.hashed(token)).update({"scopes": "admin"})
    assert client.get("/v1/riders").status_code == 200
    (shown,) = client.get("/v1/keys").get_json()["items"]
    assert shown["scopes"] == ["read", "write", "admin"]


def test_no_key_makes_one_that_outlives_it(mine: FlaskClient, app: Flask) -> None:
    told = {"name": "for a day", "scopes": ["admin"], "days": 1}
    token = mine.post("/v1/keys", json=told).get_json()["token"]
    short = app.test_client()
    short.environ_base["HTTP_AUTHORIZATION"] = f"Bearer {token}"
    for days in ({"days": 2}, {}):
        refused = short.post("/v1/keys", json={"name": "more", "scopes": ["read"], **days})
        assert refused.status_code == 422
        (fault,) = refused.get_json()["errors"]
        assert fault["pointer"] == "/days"
        assert f"{now():%Y}" in fault["detail"] or f"{now().year + 1}" in fault["detail"]
