"""An outfit's quotas: what is used is counted with each write, and no write goes past them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import select, update
from werkzeug.test import TestResponse

from service import create_app
from service.calibration.fit import fit
from service.storage import Store, usage
from service.storage.tables import Once, Outfit
from service.storage.usage import Quotas
from tests.resources.conftest import RIDER, START

QUOTA = "tag:wavesetup.example,2025:quota-exceeded"
MERGE = "application/merge-patch+json"
NO_MATTER = {"If-Match": "*"}


@pytest.fixture
def quotas(store: Store) -> Iterator[Callable[..., None]]:
    """Sets other quotas for this test."""

    def put(**changes: int) -> None:
        store.quotas = Quotas(**changes)

    before = store.quotas
    yield put
    store.quotas = before


def used(client: FlaskClient, name: str = "rows") -> int:
    return int(client.get("/v1/outfit").get_json()["usage"][name]["used"])


def counted(store: Store, client: FlaskClient) -> tuple[int, int]:
    """What the counts are, having made sure that they are those of the rows there are."""
    outfit = client.get("/v1/outfit").get_json()["id"]
    query = select(Outfit.rows, Outfit.bytes).where(Outfit.id == outfit)
    with store.writing() as session:
        kept = session.execute(query).one()
        usage.recount(session, outfit)
        recounted = session.execute(query).one()
    assert kept == recounted
    return int(kept[0]), int(kept[1])


def refused(answer: TestResponse, name: str, most: int, had: int) -> None:
    assert answer.status_code == 403, answer.get_data(as_text=True)
    assert answer.mimetype == "application/problem+json"
    problem = answer.get_json()
    assert problem["type"] == QUOTA
    assert problem["quota"] == {"name": name, "limit": most, "used": had}
    assert f"{had} of its {most} {name}" in problem["detail"]


def test_counts_follow_every_kind_of_write(
    mine: FlaskClient, store: Store, particulars: dict[str, Any]
) -> None:
    rows, _ = counted(store, mine)  # the key
    boat = mine.post("/v1/boats", json=particulars).get_json()["id"]
    rider = mine.post("/v1/riders", json=RIDER | {"name": "Ada"}).get_json()["id"]
    asked = {"boat": boat, "crew": 5, "rider": rider}
    run = mine.post("/v1/runs", json={"request": asked}).get_json()["id"]
    booking = {"start": START, "duration": "2 h", "party": 6, "riders": [RIDER]}
    for answer in (
        mine.post("/v1/setups", json={"boat": boat, "rider": rider, "settings": {"speed": 17}}),
        mine.post(f"/v1/boats/{boat}/calibrations", json={"weighed": {"mass": 1650}}),
        mine.put("/v1/bookings/b1", json=booking),
    ):
        assert answer.status_code == 201, answer.get_data(as_text=True)
    assert counted(store, mine)[0] == rows + 6
    mine.patch(f"/v1/boats/{boat}", data='{"name": "Other"}', content_type=MERGE, headers=NO_MATTER)
    mine.patch(f"/v1/runs/{run}", data='{"rating": 5}', content_type=MERGE, headers=NO_MATTER)
    mine.put("/v1/bookings/b1", json=booking | {"party": 7})
    assert counted(store, mine)[0] == rows + 6
    mine.delete("/v1/bookings/b1")
    assert counted(store, mine)[0] == rows + 5
    mine.put("/v1/bookings/b1", json=booking)
    assert counted(store, mine)[0] == rows + 6
    assert mine.delete(f"/v1/riders/{rider}?erase=true", headers=NO_MATTER).status_code == 204
    assert counted(store, mine)[0] == rows + 5


def test_no_row_beyond_the_quota(mine: FlaskClient, quotas: Callable[..., None]) -> None:
    quotas(rows=3)  # the key, and two more
    for name in ("Ada", "Birk"):
        assert mine.post("/v1/riders", json={"name": name}).status_code == 201
    refused(mine.post("/v1/riders", json={"name": "Cleo"}), "rows", 3, 3)
    refused(mine.post("/v1/keys", json={"name": "x", "scopes": ["read"]}), "rows", 3, 3)
    assert used(mine) == 3
    rider = mine.get("/v1/riders").get_json()["items"][0]["id"]
    assert mine.delete(f"/v1/riders/{rider}", headers=NO_MATTER).status_code == 204
    assert mine.post("/v1/riders", json={"name": "Cleo"}).status_code == 201


def test_no_byte_beyond_the_quota(
    mine: FlaskClient, quotas: Callable[..., None], particulars: dict[str, Any]
) -> None:
    boat = mine.post("/v1/boats", json=particulars).get_json()["id"]
    had = used(mine, "bytes")
    quotas(bytes=had + 1_000)
    refused(mine.post("/v1/boats", json=particulars), "bytes", had + 1_000, had)
    # Also by putting the same one again: each version of a boat is kept.
    told = particulars | {"name": "Other"}
    refused(mine.put(f"/v1/boats/{boat}", json=told, headers=NO_MATTER), "bytes", had + 1_000, had)
    assert used(mine, "bytes") == had
    assert mine.post("/v1/riders", json={"name": "Ada"}).status_code == 201


def test_an_outfit_at_its_quota_leaves_the_others_alone(
    mine: FlaskClient, caller: Callable[..., FlaskClient], quotas: Callable[..., None]
) -> None:
    other = caller()
    quotas(rows=2)
    assert mine.post("/v1/riders", json={}).status_code == 201
    refused(mine.post("/v1/riders", json={}), "rows", 2, 2)
    assert other.post("/v1/riders", json={}).status_code == 201


def test_a_batch_says_which_bookings_had_no_room(
    mine: FlaskClient, quotas: Callable[..., None], fleet_of_two: dict[str, Any]
) -> None:
    one = {"start": START, "duration": "2 h", "party": 6, "riders": [RIDER]}
    quotas(rows=used(mine) + 1)
    sent = {"bookings": [one | {"id": "a"}, one | {"id": "b"}]}
    results = mine.post("/v1/bookings:batch", json=sent).get_json()["results"]
    assert [each["status"] for each in results] == [201, 403]
    assert results[1]["problem"]["type"] == QUOTA
    refused(
        mine.post("/v1/bookings:batch", json=sent | {"atomic": True}),
        "rows",
        used(mine),
        used(mine),
    )


def test_many_at_once_do_not_go_past_it_together(
    mine: FlaskClient, app: Flask, quotas: Callable[..., None], store: Store
) -> None:
    most = used(mine) + 5
    quotas(rows=most)
    key = mine.environ_base["HTTP_AUTHORIZATION"]

    def add(_number: int) -> int:
        return (
            app.test_client()
            .post("/v1/riders", json={}, headers={"Authorization": key})
            .status_code
        )

    with ThreadPoolExecutor(8) as pool:
        answers = list(pool.map(add, range(20)))
    assert sorted(answers) == [201] * 5 + [403] * 15
    assert counted(store, mine)[0] == most


def test_readings_of_one_boat_are_bounded(
    mine: FlaskClient, boat: str, quotas: Callable[..., None]
) -> None:
    read = {"x": 1.0, "side": "port", "height": 0.9}
    loading = {"fuel": 50, "freeboards": [read, read | {"side": "starboard"}]}
    quotas(readings=5)
    address = f"/v1/boats/{boat}/calibrations"
    for _ in range(2):
        assert mine.post(address, json={"loadings": [loading]}).status_code == 201
    refused(mine.post(address, json={"loadings": [loading]}), "readings", 5, 4)
    assert mine.post(address, json={"weighed": {"mass": 1650}}).status_code == 201


def test_a_run_that_is_rated_does_not_fit_the_calibrations_anew(
    mine: FlaskClient, boat: str, monkeypatch: pytest.MonkeyPatch
) -> None:

    fits: list[int] = []

    def counting(*given: Any) -> Any:
        fits.append(1)
        return fit(*given)

    monkeypatch.setattr("service.advice.dock.fit", counting)
    address = f"/v1/boats/{boat}"
    mine.post(f"{address}/calibrations", json={"weighed": {"mass": 1650}})
    assert mine.get(f"{address}/model").status_code == 200
    done = len(fits)
    for rating in (4, 5):
        asked = {"boat": boat, "crew": 5, "rider": {"mass": 82, "stance": "goofy"}}
        kept = mine.post("/v1/runs", json={"request": asked, "rating": rating})
        assert kept.status_code == 201
        assert mine.get(f"{address}/model").status_code == 200
    assert len(fits) == done


@pytest.mark.parametrize("value", [0, -1, "many", 1.5, True])
def test_a_quota_that_is_none_is_refused_at_the_start(value: object, database: str) -> None:
    with pytest.raises(ValueError, match="WAVESETUP_QUOTA_ROWS"):
        create_app({"QUOTA_ROWS": value, "DATABASE_URL": database})


def test_an_answer_kept_to_be_given_again_counts_until_it_expires(
    mine: FlaskClient, store: Store
) -> None:
    """A request that is sent again under new keys cannot fill the store for a day."""
    _, before = counted(store, mine)
    headers = {"Idempotency-Key": "the-first"}
    made = mine.post("/v1/riders", json=RIDER | {"name": "Ada"}, headers=headers)
    _, after = counted(store, mine)
    assert after - before > len(made.get_data())
    with store.writing() as session:
        session.execute(update(Once).values(expires=Once.claimed))
    mine.post("/v1/riders", json=RIDER | {"name": "Bo"}, headers={"Idempotency-Key": "another"})
    _, later = counted(store, mine)
    assert abs((later - after) - (after - before - len(made.get_data()))) < 50
