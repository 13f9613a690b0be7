"""A session that is kept with its run: the same answers, and nothing lost where two extend it."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from service import create_app
from service.outfits import keys
from service.outfits.demo import DEMO
from service.outfits.keys import Scope
from tests import stores
from tests.tuning.conftest import RIDER, seen

pytestmark = pytest.mark.keeps

REQUEST = {"boat": "demo-7m", "crew": 6, "rider": RIDER}
SESSION = [
    ({"speed": 17.0}, seen("white_crest")),
    ({"speed": 17.0}, seen("white_crest")),
    ({"speed": 17.6}, seen("white_crest", strength="slight")),
    ({"speed": 17.6, "plates": {"starboard": 82}}, seen("too_steep")),
]


@pytest.fixture
def app(tmp_path: Path) -> Iterator[Flask]:
    """With a store of its own: from what is kept here the demo boats' later advice would learn."""
    with stores.fresh(tmp_path) as url:
        made = create_app({"TESTING": True, "DATABASE_URL": url})
        yield made
        made.extensions["store"].close()


def key_of(app: Flask) -> dict[str, str]:
    """A key of the outfit that has the demo boats."""
    with app.extensions["store"].writing() as session:
        _, token = keys.issue(session, DEMO, "test", Scope)
    return {"Authorization": f"Bearer {token}"}


@pytest.fixture
def write(app: Flask) -> dict[str, str]:
    return key_of(app)


@pytest.fixture
def elsewhere(
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[tuple[FlaskClient, dict[str, str]]]:
    """The same service with another store, and a key there."""
    with stores.fresh(tmp_path_factory.mktemp("elsewhere")) as url:
        made = create_app({"TESTING": True, "DATABASE_URL": url})
        yield made.test_client(), key_of(made)
        made.extensions["store"].close()


@pytest.fixture
def run(client: FlaskClient, write: dict[str, str]) -> tuple[str, str]:
    """A kept run: its address for tuning, and its ETag."""
    made = client.post("/v1/runs", json={"request": REQUEST}, headers=write)
    assert made.status_code == 201, made.json
    return f"/v1/runs/{made.get_json()['id']}/tuning", made.headers["ETag"]


def came(answer: dict[str, Any], before: list[Any], did: str) -> dict[str, Any]:
    """The history's next entry: the proposed change as it was, or only a look."""
    if answer["look_again"]:
        return {"lever": "look", "did": "same", "seen": before}
    change = answer["change"]
    names = ("lever", "move", "from", "to", "unit", "people", "tanks")
    return {name: change[name] for name in names} | {"did": did, "seen": before}


def rode_slower(client: FlaskClient, write: dict[str, str]) -> None:
    """An earlier run of the same boat that says something else than the rules do."""
    body = {"request": REQUEST, "rating": 5, "settings": {"speed": 16.2}}
    made = client.post("/v1/runs", json=body, headers=write)
    assert made.status_code == 201, made.json


@pytest.mark.parametrize("rating", [None, 3, 5])
def test_the_kept_session_answers_as_the_history_in_the_request_does(
    client: FlaskClient, write: dict[str, str], run: tuple[str, str],
    elsewhere: tuple[FlaskClient, dict[str, str]], rating: int | None,
) -> None:  # fmt: skip
    """Where nothing of this session is kept, so that the boat's log cannot tell of it as well."""
    address, tag = run
    not_kept, headers = elsewhere
    rode_slower(client, write)
    rode_slower(not_kept, headers)
    history: list[dict[str, Any]] = []
    new: list[dict[str, Any]] = []
    for settings, signs in SESSION:
        body = {"settings": settings, "seen": signs}
        told = not_kept.post(
            "/v1/tuning", json=REQUEST | body | {"history": history}, headers=headers
        )
        kept = client.post(address, json=body | {"history": new}, headers=write | {"If-Match": tag})
        assert kept.status_code == 200, kept.json
        assert kept.data == told.data
        rated = client.patch(
            address.removesuffix("/tuning"),
            json={"rating": rating, "settings": settings},
            headers=write | {"If-Match": kept.headers["ETag"]},
        )
        assert rated.status_code == 200, rated.json
        tag = rated.headers["ETag"]
        new = [came(told.get_json(), signs, "better")]
        history += new
    stored: Any = client.get(address.removesuffix("/tuning"), headers=write).json
    assert [entry["lever"] for entry in stored["tuning"]] == [e["lever"] for e in history[:-1]]
    again = client.post(
        "/v1/tuning", json=REQUEST | {"units": "us", "seen": [], "history": stored["tuning"]}
    )
    assert again.status_code == 200, again.json


def test_another_run_of_the_boat_learns_of_the_session(
    client: FlaskClient, write: dict[str, str], run: tuple[str, str]
) -> None:
    address, tag = run
    body = REQUEST | {"seen": seen("white_crest")}
    before = client.post("/v1/tuning", json=body, headers=write)
    past = {"lever": "speed", "from": 18.0, "to": 18.6, "did": "better"}
    kept = client.post(address, json={"history": [past]}, headers=write | {"If-Match": tag})
    assert kept.status_code == 200
    after = client.post("/v1/tuning", json=body, headers=write)
    speeds = [
        next(a["value"] for a in answer.get_json()["assumed"] if a["pointer"] == "/settings/speed")
        for answer in (before, after)
    ]
    assert speeds[1] > speeds[0]


def test_a_change_of_the_run_keeps_the_session(
    client: FlaskClient, write: dict[str, str], run: tuple[str, str]
) -> None:
    address, tag = run
    past = {"lever": "speed", "from": 17.0, "to": 17.6, "did": "better"}
    kept = client.post(address, json={"history": [past]}, headers=write | {"If-Match": tag})
    whole = client.put(
        address.removesuffix("/tuning"),
        json={"rating": 4},
        headers=write | {"If-Match": kept.headers["ETag"]},
    )
    assert whole.status_code == 200, whole.json
    assert [entry["to"] for entry in whole.get_json()["tuning"]] == [17.6]


def test_a_rule_of_the_tuning_counts_once_a_run(
    client: FlaskClient, write: dict[str, str], run: tuple[str, str]
) -> None:
    address, tag = run
    named: set[str] = set()
    for settings, signs in SESSION:
        body = {"settings": settings, "seen": signs}
        kept = client.post(address, json=body, headers=write | {"If-Match": tag})
        tag = kept.headers["ETag"]
        named |= {reason["rule"] for reason in kept.get_json()["reasons"]}
    assert named
    for rule in named:
        shown: Any = client.get(f"/v1/rules/{rule}", headers=write).json
        assert (shown["feedback"]["fired"], shown["feedback"]["overridden"]) == (1, 0)
        page = client.get(f"/v1/rules/{rule}", headers=write | {"Accept": "text/html"})
        assert "It fired in 1 of the kept runs" in page.text
        assert "feedback" not in client.get(f"/v1/rules/{rule}").get_json()
    silent: Any = client.get("/v1/rules/tuning_safety.exhaust", headers=write).json
    assert silent["feedback"]["fired"] == 0


def test_a_version_that_is_no_longer_the_last_is_refused(
    client: FlaskClient, write: dict[str, str], run: tuple[str, str]
) -> None:
    address, tag = run
    body = {"seen": seen("white_crest")}
    assert client.post(address, json=body, headers=write).status_code == 428
    first, second = (
        client.post(address, json=body, headers=write | {"If-Match": tag}) for _ in "ab"
    )
    assert (first.status_code, second.status_code) == (200, 412)


def test_sent_again_under_its_key_it_is_done_once(
    client: FlaskClient, write: dict[str, str], run: tuple[str, str]
) -> None:
    address, tag = run
    past = {"lever": "speed", "from": 17.0, "to": 17.6, "did": "better"}
    headers = write | {"If-Match": tag, "Idempotency-Key": "a"}
    first, second = (client.post(address, json={"history": [past]}, headers=headers) for _ in "ab")
    assert (first.status_code, second.status_code) == (200, 200)
    for name in ("ETag", "Rule-Set"):
        assert first.headers[name] == second.headers[name]
    assert first.data == second.data
    stored: Any = client.get(address.removesuffix("/tuning"), headers=write).json
    assert len(stored["tuning"]) == 1


def test_where_many_extend_it_at_once_no_step_is_lost(
    app: Flask, client: FlaskClient, write: dict[str, str], run: tuple[str, str]
) -> None:
    address, tag = run

    def extend(number: int) -> int:
        """One more step, in whatever version it takes."""
        mine, known, tries = app.test_client(), tag, 0
        past = {"lever": "speed", "from": 17.0, "to": 17.0 + number / 10, "did": "better"}
        while True:
            tries += 1
            sent = mine.post(address, json={"history": [past]}, headers=write | {"If-Match": known})
            if sent.status_code == 200:
                return tries
            assert sent.status_code == 412, sent.json
            known = mine.get(address.removesuffix("/tuning"), headers=write).headers["ETag"]

    with ThreadPoolExecutor(3) as pool:
        list(pool.map(extend, range(1, 7)))
    stored: Any = client.get(address.removesuffix("/tuning"), headers=write).json
    assert sorted(round(entry["to"] * 10) for entry in stored["tuning"]) == list(range(171, 177))


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({"boat": "demo-8m"}, "/boat"),
        ({"units": "us"}, "/units"),
        ({"history": "none"}, "/history"),
        ({"seen": [{"sign": "nice"}]}, "/seen/0/sign"),
    ],
)
def test_a_fault_is_named(
    client: FlaskClient, write: dict[str, str], run: tuple[str, str],
    body: dict[str, Any], pointer: str,
) -> None:  # fmt: skip
    address, tag = run
    answer = client.post(address, json=body, headers=write | {"If-Match": tag})
    assert answer.status_code == 422
    assert pointer in [fault["pointer"] for fault in answer.get_json()["errors"]]


def test_a_run_that_was_advised_without_saved_set_ups_is_tuned_too(
    client: FlaskClient, write: dict[str, str]
) -> None:
    made = client.post("/v1/runs", json={"request": REQUEST | {"saved": None}}, headers=write)
    address = f"/v1/runs/{made.get_json()['id']}/tuning"
    answer = client.post(address, json={"seen": "good"}, headers=write | {"If-Match": "*"})
    assert (answer.status_code, answer.get_json()["action"]) == (200, "leave")


def test_tanks_are_taken_as_advised_not_as_they_were_before_it(
    client: FlaskClient, write: dict[str, str]
) -> None:
    tanks = {"aft-port": 0, "aft-starboard": 0, "mid-port": 0, "mid-starboard": 0, "bow": 0}
    body = {"request": REQUEST | {"ballast": tanks}}
    made = client.post("/v1/runs", json=body, headers=write).get_json()
    address = f"/v1/runs/{made['id']}/tuning"
    headers = write | {"If-Match": "*"}
    left_out: Any = client.post(address, json={"seen": ["too_steep"]}, headers=headers).json
    before = left_out["change"]["predicted"]["trim"]["before"]
    assert before == made["answer"]["predicted"]["at_rest"]["trim"]
    told = {"seen": ["too_steep"], "ballast": tanks}
    empty: Any = client.post(address, json=told, headers=headers).json
    assert empty["change"]["predicted"]["trim"]["before"] != before


def test_another_outfit_has_no_such_run(client: FlaskClient, write: dict[str, str]) -> None:
    answer = client.post("/v1/runs/none/tuning", json={}, headers=write | {"If-Match": "*"})
    assert answer.status_code == 404
    assert client.post("/v1/runs/none/tuning", json={}).status_code == 401
