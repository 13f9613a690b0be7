"""``Idempotency-Key``: what is sent again is done once and answered alike."""

from __future__ import annotations

import signal
import subprocess
import sys
import threading
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import select, update

from service.api import idempotency
from service.outfits.keys import Scope
from service.storage import Store, claims
from service.storage.documents import Shelf
from service.storage.tables import Once, now
from tests.resources.conftest import Caller
from tests.size import cases

KEY = {"Idempotency-Key": "8e03978e-40d5-43dd-bc93-6894a57f9324"}


def riders(client: FlaskClient) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = client.get("/v1/riders").get_json()["items"]
    return found


@pytest.mark.parametrize("kind", ["boats", "riders", "setups", "runs"])
def test_what_is_sent_again_is_done_once(
    mine: FlaskClient, boat: str, rider: str, particulars: dict[str, Any], kind: str
) -> None:
    body: dict[str, Any] = {
        "boats": particulars,
        "riders": {"mass": 70},
        "setups": {"boat": boat, "settings": {}},
        "runs": {"request": {"boat": boat, "rider": rider, "crew": 1}},
    }[kind]
    before = len(mine.get(f"/v1/{kind}").get_json()["items"])
    first = mine.post(f"/v1/{kind}", json=body, headers=KEY)
    again = mine.post(f"/v1/{kind}", json=body, headers=KEY)
    assert first.status_code == again.status_code == 201
    assert again.data == first.data
    for name in ("Location", "ETag", "Content-Type"):
        assert again.headers[name] == first.headers[name]
    assert "Idempotency-Replayed" not in first.headers
    assert again.headers["Idempotency-Replayed"] == "true"
    assert len(mine.get(f"/v1/{kind}").get_json()["items"]) == before + 1


@pytest.mark.parametrize("kind", ["setups", "runs"])
def test_it_is_answered_alike_when_who_is_named_is_gone(
    mine: FlaskClient, boat: str, rider: str, kind: str
) -> None:
    """As in draft-ietf-httpapi-idempotency-key-header-06, "Idempotency Enforcement Scenarios"."""
    named = {"boat": boat, "rider": rider}
    body = {"setups": {**named, "settings": {}}, "runs": {"request": {**named, "crew": 1}}}[kind]
    first = mine.post(f"/v1/{kind}", json=body, headers=KEY)
    assert first.status_code == 201
    for address in (f"/v1/riders/{rider}", f"/v1/boats/{boat}"):
        assert mine.delete(address, headers={"If-Match": "*"}).status_code == 204
    again = mine.post(f"/v1/{kind}", json=body, headers=KEY)
    assert (again.status_code, again.data) == (201, first.data)
    assert mine.post(f"/v1/{kind}", json=body).status_code == 404


def test_a_path_longer_than_any_is_a_404(mine: FlaskClient) -> None:
    """Where the store would have it cut, which PostgreSQL refuses."""
    address = f"/v1/runs/{'x' * 300}/tuning"
    refused = mine.post(address, json={"seen": []}, headers={**KEY, "If-Match": "*"})
    assert (refused.status_code, refused.mimetype) == (404, "application/problem+json")


def test_another_body_under_the_same_key_is_a_422(mine: FlaskClient) -> None:
    assert mine.post("/v1/riders", json={"mass": 70}, headers=KEY).status_code == 201
    assert mine.post("/v1/riders", json={"mass": 71}, headers=KEY).status_code == 422
    assert len(riders(mine)) == 1


def test_keys_of_other_routes_and_outfits_are_other_keys(
    mine: FlaskClient, caller: Caller, boat: str
) -> None:
    assert mine.post("/v1/riders", json={}, headers=KEY).status_code == 201
    setup = {"boat": boat, "settings": {}}
    assert mine.post("/v1/setups", json=setup, headers=KEY).status_code == 201
    other = caller()
    assert other.post("/v1/riders", json={"mass": 70}, headers=KEY).status_code == 201
    assert len(riders(mine)) == len(riders(other)) == 1


def test_a_request_that_was_refused_may_be_put_right_under_its_key(mine: FlaskClient) -> None:
    taken = {"id": "ada"}
    mine.post("/v1/riders", json=taken)
    assert mine.post("/v1/riders", json={"mass": 7}, headers=KEY).status_code == 422
    assert mine.post("/v1/riders", json=taken, headers=KEY).status_code == 409
    assert mine.post("/v1/riders", json={"mass": 70}, headers=KEY).status_code == 201


@pytest.mark.parametrize("key", ["", "a b", "ä", "x" * 256])
def test_a_key_is_visible_ascii(mine: FlaskClient, key: str) -> None:
    refused = mine.post("/v1/riders", json={}, headers={"Idempotency-Key": key})
    assert refused.status_code == 422
    assert refused.get_json(force=True)["errors"][0]["parameter"] == "Idempotency-Key"


def test_while_the_first_is_at_work_the_second_is_a_409(
    mine: FlaskClient, app: Flask, monkeypatch: pytest.MonkeyPatch
) -> None:
    at_work, go_on = threading.Event(), threading.Event()
    add = Shelf.add

    def slowly(self: Any, *args: Any, **kwargs: Any) -> Any:
        # Within the transaction that stores; the claim was made before and is there to be seen.
        at_work.set()
        assert go_on.wait(10)
        return add(self, *args, **kwargs)

    monkeypatch.setattr(Shelf, "add", slowly)
    with ThreadPoolExecutor(1) as pool:
        first = pool.submit(mine.post, "/v1/riders", json={"mass": 70}, headers=KEY)
        assert at_work.wait(10)
        if app.extensions["store"].is_sqlite:
            # There the second waits for the first one's lock; so the lock is let go.
            go_on.set()
            second = mine.post("/v1/riders", json={"mass": 70}, headers=KEY)
            assert second.status_code in (201, 409)
        else:
            second = mine.post("/v1/riders", json={"mass": 70}, headers=KEY)
            assert second.status_code == 409
        go_on.set()
        assert first.result().status_code == 201
    assert len(riders(mine)) == 1


DIES_AT_WORK = """
import os, sys, signal
from service import create_app
from service.storage.documents import Shelf
Shelf.add = lambda *_, **__: os.kill(os.getpid(), signal.SIGKILL)
create_app().test_client().post("/v1/riders", json={}, headers={
    "Idempotency-Key": sys.argv[1], "Authorization": sys.argv[2]})
"""


def test_a_claim_ends_with_its_process_whatever_the_clock_says(
    mine: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Killed in the middle of its work; and then the clock steps back by an hour."""
    died = subprocess.run(
        [sys.executable, "-c", DIES_AT_WORK, KEY["Idempotency-Key"],
         mine.environ_base["HTTP_AUTHORIZATION"]],
        capture_output=True, timeout=60, check=False,
    )  # fmt: skip
    assert died.returncode == -signal.SIGKILL, died.stderr
    monkeypatch.setattr(idempotency, "now", lambda: now() - timedelta(hours=1))
    assert mine.post("/v1/riders", json={}, headers=KEY).status_code == 201
    assert mine.post("/v1/riders", json={}, headers=KEY).headers["Idempotency-Replayed"] == "true"
    assert len(riders(mine)) == 1


def test_while_it_lives_a_claim_holds_and_says_when_to_ask_again(
    mine: FlaskClient, store: Store
) -> None:
    held = claims.claim(store, f"{outfit_of(mine)} POST /v1/riders {KEY['Idempotency-Key']}")
    assert held is not None
    refused = mine.post("/v1/riders", json={}, headers=KEY)
    assert (refused.status_code, refused.headers["Retry-After"]) == (409, "1")
    held.release()
    assert mine.post("/v1/riders", json={}, headers=KEY).status_code == 201


def outfit_of(client: FlaskClient) -> str:
    return str(client.get("/v1/outfit").get_json()["id"])


def test_an_answer_is_kept_for_a_day(mine: FlaskClient, store: Store) -> None:
    assert mine.post("/v1/riders", json={}, headers=KEY).status_code == 201
    outfit = outfit_of(mine)
    with store.writing() as session:
        session.execute(
            update(Once)
            .where(Once.outfit_id == outfit)
            .values(expires=now() - timedelta(seconds=1))
        )
    assert "Idempotency-Replayed" not in mine.post("/v1/riders", json={}, headers=KEY).headers
    assert len(riders(mine)) == 2
    with store.reading() as session:
        assert len(session.scalars(select(Once).where(Once.outfit_id == outfit)).all()) == 1


def test_nothing_is_kept_when_the_work_fails(
    mine: FlaskClient, app: Flask, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: Any) -> None:
        raise RuntimeError

    monkeypatch.setitem(app.config, "TESTING", False)
    monkeypatch.setitem(app.config, "PROPAGATE_EXCEPTIONS", False)
    with monkeypatch.context() as broken:
        broken.setattr(idempotency, "keep", fail)
        assert mine.post("/v1/riders", json={}, headers=KEY).status_code == 500
    assert riders(mine) == []
    assert mine.post("/v1/riders", json={}, headers=KEY).status_code == 201


def test_of_many_at_once_one_is_stored(mine: FlaskClient, app: Flask) -> None:
    def post(_: int) -> tuple[int, str]:
        client = app.test_client()
        client.environ_base.update(mine.environ_base)
        answer = client.post("/v1/riders", json={"mass": 70}, headers=KEY)
        return answer.status_code, answer.text

    with ThreadPoolExecutor(16) as pool:
        answers = list(pool.map(post, range(cases(300, 1000))))
    made = {text for status, text in answers if status == 201}
    assert len(made) == 1
    assert {status for status, _ in answers} <= {201, 409}
    assert len(riders(mine)) == 1


def test_the_scope_is_asked_before_the_key_is_used(caller: Caller) -> None:
    reader = caller(None, Scope.READ)
    assert reader.post("/v1/riders", json={}, headers=KEY).status_code == 403
