"""API keys: bearer tokens as of RFC 6750."""

from __future__ import annotations

import hashlib
import secrets
from datetime import timedelta

import pytest
from click.testing import Result
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import inspect, select, text, update

from service import create_app
from service.outfits import keys
from service.outfits.demo import DEMO
from service.outfits.keys import Scope
from service.storage import Store
from service.storage.tables import Key, Outfit, now
from tests.resources.conftest import Caller

ADVICE = {"boat": "demo-7m", "crew": 4, "rider": {"stance": "goofy"}}


def test_without_a_key_there_is_a_challenge(client: FlaskClient) -> None:
    """RFC 6750, section 3.1: no error code where no authentication was tried."""
    answer = client.get("/v1/boats")
    assert (answer.status_code, answer.mimetype) == (401, "application/problem+json")
    assert answer.headers["WWW-Authenticate"] == "Bearer"


@pytest.mark.parametrize(
    "header", ["Bearer wsk_nothing", "Bearer", "Bearer ", "Basic YTpi", "wsk_nothing", ""]
)
def test_a_key_that_opens_nothing_is_an_error_also_where_none_is_needed(
    client: FlaskClient, header: str
) -> None:
    for answer in (
        client.get("/v1/boats", headers={"Authorization": header}),
        client.post("/v1/advice", json=ADVICE, headers={"Authorization": header}),
    ):
        assert answer.status_code == 401
        assert answer.headers["WWW-Authenticate"] == 'Bearer error="invalid_token"'


def test_a_scope_that_is_missing_is_named(caller: Caller) -> None:
    """RFC 6750, section 3.1: 403 with insufficient_scope."""
    reader, writer = caller(None, Scope.READ), caller(None, Scope.WRITE)
    assert reader.get("/v1/riders").status_code == 200
    refused = reader.post("/v1/riders", json={})
    assert refused.status_code == 403
    assert refused.headers["WWW-Authenticate"] == 'Bearer error="insufficient_scope", scope="write"'
    assert writer.post("/v1/riders", json={}).status_code == 201
    assert writer.get("/v1/riders").status_code == 200
    assert reader.get("/v1/keys").status_code == writer.get("/v1/keys").status_code == 403


def test_a_key_is_shown_once_and_kept_as_a_hash(mine: FlaskClient, store: Store) -> None:
    made = mine.post("/v1/keys", json={"name": "till", "scopes": ["read"], "days": 1})
    assert made.status_code == 201
    assert made.headers["Cache-Control"] == "no-store"
    token, key_id = made.get_json()["token"], made.get_json()["id"]
    # 256 bits and more: 43 characters of base64url (RFC 4648) after the prefix.
    assert len(token.removeprefix("wsk_")) == 43
    with store.reading() as session:
        row = session.get_one(Key, key_id)
        kept = {str(getattr(row, column.name)) for column in Key.__table__.columns}
    assert hashlib.sha256(token.encode()).hexdigest() in kept
    assert not any(token in text for text in kept)
    assert token not in mine.get("/v1/keys").text
    assert token not in mine.get(f"/v1/keys/{key_id}").text


def test_under_an_idempotency_key_one_key_is_made_and_its_token_told_once(
    mine: FlaskClient, store: Store
) -> None:
    body, once = {"name": "till", "scopes": ["read"]}, {"Idempotency-Key": "till-1"}
    first = mine.post("/v1/keys", json=body, headers=once)
    token = first.get_json()["token"]
    assert token.startswith("wsk_")
    again = mine.post("/v1/keys", json=body, headers=once)
    assert again.status_code == 201
    assert again.get_json() == first.get_json() | {"token": None}
    assert again.headers["Idempotency-Replayed"] == "true"
    for name in ("Location", "Cache-Control"):
        assert again.headers[name] == first.headers[name]
    made = [key for key in mine.get("/v1/keys").get_json()["items"] if key["name"] == "till"]
    assert len(made) == 1
    # It is nowhere in the store: neither in a table nor in the answer that is kept.
    with store.connected() as connection:
        rows = [
            str(row)
            for table in inspect(connection).get_table_names()
            for row in connection.execute(text(f"SELECT * FROM {table}"))  # noqa: S608
        ]
    assert any("till-1" in row for row in rows)
    assert not any(token in row for row in rows)
    # Another body under it is a fault; the way out of a lost answer works.
    changed = mine.post("/v1/keys", json=body | {"scopes": ["write"]}, headers=once)
    assert changed.status_code == 422
    assert mine.delete(again.headers["Location"]).status_code == 204
    other = mine.post("/v1/keys", json=body, headers={"Idempotency-Key": "till-2"})
    assert other.get_json()["token"] not in (None, token)


def test_a_refused_key_leaves_its_idempotency_key_free(mine: FlaskClient) -> None:
    once = {"Idempotency-Key": "till-3"}
    assert mine.post("/v1/keys", json={"name": "x", "scopes": []}, headers=once).status_code == 422
    made = mine.post("/v1/keys", json={"name": "x", "scopes": ["read"]}, headers=once)
    assert made.get_json()["token"] is not None


def test_a_revoked_key_is_closed_from_the_next_request_on(mine: FlaskClient, app: Flask) -> None:
    made = mine.post("/v1/keys", json={"name": "lost", "scopes": ["read"]}).get_json()
    header = {"Authorization": f"bearer {made['token']}"}  # the name of a scheme has no case
    client = app.test_client()
    assert client.get("/v1/riders", headers=header).status_code == 200
    assert mine.get(f"/v1/keys/{made['id']}").get_json()["last_used"] is not None
    for _ in range(2):
        assert mine.delete(f"/v1/keys/{made['id']}").status_code == 204
    assert client.get("/v1/riders", headers=header).status_code == 401
    assert mine.get(f"/v1/keys/{made['id']}").get_json()["revoked"] is not None


def test_an_expired_key_is_closed(app: Flask, store: Store) -> None:
    with store.writing() as session:
        _, token = keys.issue(session, DEMO, "old", [Scope.READ], now() - timedelta(seconds=1))
    answer = app.test_client().get("/v1/boats", headers={"Authorization": f"Bearer {token}"})
    assert answer.status_code == 401


def test_last_use_is_written_once_a_minute_not_with_each_request(
    mine: FlaskClient, store: Store
) -> None:
    seen = set()
    for _ in range(3):
        (key,) = mine.get("/v1/keys").get_json()["items"]
        seen.add(key["last_used"])
    assert len(seen) == 1


def test_a_key_opens_where_its_use_cannot_be_noted(mine: FlaskClient, store: Store) -> None:
    with store.writing() as session:
        session.execute(update(Key).values(last_used=None))
        assert mine.get("/v1/riders").status_code == 200


def test_keys_by_command(app: Flask, store: Store) -> None:
    runner = app.test_cli_runner()
    token = runner.invoke(args=["keys", "create", "--name", "till", "--scope", "read"]).output
    client = app.test_client()
    header = {"Authorization": f"Bearer {token.strip()}"}
    assert client.get("/v1/boats", headers=header).status_code == 200
    assert client.post("/v1/riders", json={}, headers=header).status_code == 403
    with store.reading() as session:
        key_id = session.scalars(select(Key.id).where(Key.hash == keys.hashed(token.strip()))).one()
    listed = runner.invoke(args=["keys", "list"]).output
    assert key_id in listed
    assert token.strip() not in listed
    replaced = runner.invoke(args=["keys", "create", "--name", "till", "--replace"])
    assert replaced.exit_code == 0
    assert client.get("/v1/boats", headers=header).status_code == 401
    assert runner.invoke(args=["keys", "revoke", key_id]).exit_code == 0
    assert runner.invoke(args=["keys", "revoke", "no-such-key"]).exit_code == 1
    assert runner.invoke(args=["keys", "create", "--outfit", "nobody", "--name", "x"]).exit_code


def test_the_operator_may_close_what_is_open(database: str, caller: Caller) -> None:
    closed = create_app({"OPEN": False, "TESTING": True})
    client = closed.test_client()
    assert client.post("/v1/advice", json=ADVICE).status_code == 401
    assert client.get("/v1/rules").status_code == 401
    for path in ("/healthz", "/readyz", "/openapi.json"):
        assert client.get(path).status_code == 200
    token = caller(DEMO, Scope.READ).environ_base["HTTP_AUTHORIZATION"]
    header = {"Authorization": token}
    assert client.post("/v1/advice", json=ADVICE, headers=header).status_code == 200
    with pytest.raises(ValueError, match="WAVESETUP_OPEN"):
        create_app({"OPEN": "no"})


def test_an_outfit_is_seen_and_changed_by_its_admin(mine: FlaskClient) -> None:
    changes = {"name": "Lake End", "time_zone": "Europe/Zurich", "retention_days": 400}
    assert mine.patch("/v1/outfit", json=changes).status_code == 200
    assert changes.items() <= mine.get("/v1/outfit").get_json().items()
    refused = mine.patch("/v1/outfit", json={"time_zone": "Moon/Tycho", "retention_days": 0})
    assert {fault["pointer"] for fault in refused.get_json()["errors"]} == {
        "/time_zone",
        "/retention_days",
    }


def test_an_outfit_made_by_command_is_looked_at_as_one_that_is_sent(
    app: Flask, store: Store
) -> None:
    runner, made = app.test_cli_runner(), f"outfit-{secrets.token_hex(4)}"

    def create(outfit: str, name: str = "Lake End", zone: str = "Europe/Zurich") -> Result:
        told = ("--name", name, "--time-zone", zone)
        return runner.invoke(args=["outfits", "create", *told, outfit])

    for refused, of in (
        (create("bad id/x"), "id"),
        (create(""), "id"),
        (create(made, name=""), "name"),
        (create(made, name="x" * 100_000), "name"),
        (create(made, zone="Berlin"), "time_zone"),
    ):
        assert refused.exit_code == 1
        assert refused.output.startswith(f"Error: {of}: ")
    assert create(made).exit_code == 0
    assert create(made).exit_code == 1  # there is one already
    with store.reading() as session:
        assert session.get_one(Outfit, made).time_zone == "Europe/Zurich"
