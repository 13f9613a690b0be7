"""Whatever is broken off says exactly what was stored."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from flask.testing import FlaskClient
from sqlalchemy.exc import OperationalError
from sqlalchemy.orm import Session

from schemas import error_texts as say
from service import create_app
from service.api import bookings_batch
from service.api.booking_desk import Desk
from service.storage import Store
from service.storage.documents import Shelf

BATCH = "/v1/bookings:batch"


def bookings(count: int) -> list[dict[str, Any]]:
    return [
        {"id": f"b{n}", "start": f"2031-07-{n + 1:02}T10:00:00Z", "duration": "1 h", "party": 3}
        for n in range(count)
    ]


def kept(client: FlaskClient) -> set[str]:
    return {f"b{n}" for n in range(20) if client.get(f"/v1/bookings/b{n}").status_code == 200}


@pytest.fixture
def slow(monkeypatch: pytest.MonkeyPatch) -> None:
    """A booking takes a fifth of a second."""
    warm = Desk.warm

    def slowly(self: Desk, loaded: Any) -> None:
        time.sleep(0.2)
        warm(self, loaded)

    monkeypatch.setattr(Desk, "warm", slowly)


@pytest.mark.parametrize("reserve", [0.2, -0.3])
@pytest.mark.parametrize("accept", ["application/json", "application/jsonl"])
@pytest.mark.usefixtures("slow")
def test_a_batch_without_time_left_says_which_bookings_are_kept(
    mine: FlaskClient, boat: str, monkeypatch: pytest.MonkeyPatch,
    reserve: float, accept: str,
) -> None:  # fmt: skip
    """Also where it is broken off in the middle of one."""
    monkeypatch.setattr(bookings_batch, "RESERVE", reserve)
    monkeypatch.setattr(bookings_batch, "STREAMED", 1.5 if reserve > 0 else 1.5 + reserve)
    hasty = hurried(mine, 1.5)
    answer = hasty.post(BATCH, json={"bookings": bookings(20)}, headers={"Accept": accept})
    assert answer.status_code == 200
    if accept == "application/json":
        results = answer.get_json()["results"]
    else:
        results = [json.loads(line) for line in answer.text.splitlines()]
    assert [result["id"] for result in results] == [f"b{n}" for n in range(20)]
    stored = {result["id"] for result in results if result["status"] == 201}
    left = [result for result in results if result["status"] == 503]
    assert len(stored) + len(left) == 20
    assert left
    assert {result["problem"]["detail"] for result in left} == {say.NOT_ATTEMPTED}
    assert kept(mine) == stored


def hurried(client: FlaskClient, seconds: float) -> FlaskClient:
    """The same caller of an application whose requests have less time."""
    app = create_app({"BUDGET": seconds, "LOG_LEVEL": "error"})
    made = app.test_client()
    made.environ_base.update(client.environ_base)
    return made


def test_what_is_stored_is_said_to_be_stored(
    mine: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Broken off before the commit, while it is done, and between it and the answer."""
    add = Shelf.add

    def slowly(self: Any, *args: Any, **kwargs: Any) -> Any:
        time.sleep(0.5)
        return add(self, *args, **kwargs)

    hasty = hurried(mine, 0.3)
    with monkeypatch.context() as late:
        late.setattr(Shelf, "add", slowly)
        refused = hasty.post("/v1/riders", json={"id": "before"})
    assert (refused.status_code, refused.get_json(force=True)["detail"]) == (503, say.OUT_OF_TIME)
    assert mine.get("/v1/riders/before").status_code == 404

    commit, writing = Session.commit, Store.writing

    def dawdle(self: Session) -> None:
        commit(self)
        time.sleep(0.5)

    with monkeypatch.context() as late:
        late.setattr(Session, "commit", dawdle)
        assert hasty.post("/v1/riders", json={"id": "while"}).status_code == 201

    @contextmanager
    def dawdling(store: Store) -> Iterator[Session]:
        with writing(store) as session:
            yield session
        time.sleep(0.5)

    with monkeypatch.context() as late:
        late.setattr(Store, "writing", dawdling)
        refused = hasty.post("/v1/riders", json={"id": "after"})
    assert refused.status_code == 503
    assert refused.get_json(force=True)["detail"] == say.OUT_OF_TIME_STORED
    assert mine.get("/v1/riders/after").status_code == 200


def test_a_store_that_goes_away_in_a_batch_is_told_booking_by_booking(
    mine: FlaskClient, boat: str, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    take = Desk.take

    def until(self: Desk, session: Any, reference: str, *args: Any) -> Any:
        if reference in ("b2", "b3"):
            raise OperationalError("", {}, Exception("the server closed the connection"))
        return take(self, session, reference, *args)

    monkeypatch.setattr(Desk, "take", until)
    answer = mine.post(BATCH, json={"bookings": bookings(5)})
    results = answer.get_json()["results"]
    assert [result["status"] for result in results] == [201, 201, 503, 503, 201]
    assert results[2]["problem"]["detail"] == say.MAYBE_STORED
    assert kept(mine) == {"b0", "b1", "b4"}
