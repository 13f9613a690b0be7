"""Requests that meet: each is done as if the other had come before it or after it.

On SQLite whoever writes has the whole store. On PostgreSQL this is what the outfit's hold is for.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor, wait
from contextlib import contextmanager, suppress
from typing import Any

import pytest
from flask.testing import FlaskClient
from sqlalchemy import event
from werkzeug.test import TestResponse

from service.api import etag
from service.bookings import register
from service.storage import Store
from tests.resources.conftest import START, Book

LONG_ENOUGH = 1.0
"""Seconds in which the other one comes to the same place, if nothing keeps it from there."""

BODY = {"start": START, "duration": 60}


class Meeting:
    """A place in the program where two requests wait for each other, if both get there."""

    def __init__(self) -> None:
        self._barrier = threading.Barrier(2)

    def __call__(self, *_: Any) -> None:
        # Broken where the other one is kept from here until this one is done.
        with suppress(threading.BrokenBarrierError):
            self._barrier.wait(LONG_ENOUGH)


def both(
    mine: FlaskClient, first: dict[str, Any], second: dict[str, Any]
) -> tuple[TestResponse, TestResponse]:
    """The answers to two requests that are sent at once."""

    def send(sent: dict[str, Any]) -> TestResponse:
        client = mine.application.test_client()
        client.environ_base.update(mine.environ_base)
        return client.open(**sent)

    with ThreadPoolExecutor(2) as pool:
        one, other = pool.map(send, (first, second))
    return one, other


@pytest.fixture
def met_before_the_check(monkeypatch: pytest.MonkeyPatch) -> None:
    meeting, check = Meeting(), etag.check

    def met(*args: Any, **kwargs: Any) -> None:
        meeting()
        check(*args, **kwargs)

    monkeypatch.setattr(etag, "check", met)


@pytest.mark.usefixtures("met_before_the_check")
def test_of_two_who_book_anew_one_has_seen_another_version(mine: FlaskClient, book: Book) -> None:
    """RFC 9110, 13.1.1: If-Match is there so that no change is lost."""
    tag = book("r1").headers["ETag"]
    put = {"path": "/v1/bookings/r1", "method": "PUT", "headers": {"If-Match": tag}}
    answers = both(mine, *({**put, "json": {**BODY, "party": party}} for party in (2, 3)))
    assert sorted(answer.status_code for answer in answers) == [200, 412]
    done = next(answer for answer in answers if answer.status_code == 200)
    left = mine.get("/v1/bookings/r1")
    assert (left.data, left.headers["ETag"]) == (done.data, done.headers["ETag"])


@pytest.mark.usefixtures("met_before_the_check")
def test_of_two_first_values_for_rules_one_has_seen_another_version(mine: FlaskClient) -> None:
    put = {"path": "/v1/outfit/rules", "method": "PUT", "headers": {"If-Match": '"0"'}}
    answers = both(mine, *({**put, "json": {"fleet": {"speed.start": v}}} for v in (17.0, 16.9)))
    assert sorted(answer.status_code for answer in answers) == [200, 412]
    assert mine.get("/v1/outfit/rules").get_json()["version"] == 1


@pytest.mark.parametrize(
    ("tag", "status", "left"), [({}, 204, 404), ({"If-Match": '"1"'}, 412, 200)]
)
def test_who_cancels_while_it_is_booked_anew_comes_after_that(
    mine: FlaskClient, book: Book, monkeypatch: pytest.MonkeyPatch,
    tag: dict[str, str], status: int, left: int,
) -> None:  # fmt: skip
    book("r1")
    other = mine.application.test_client()
    other.environ_base.update(mine.environ_base)
    cancelled: list[Future[TestResponse]] = []
    busy = register.busy

    with ThreadPoolExecutor(1) as pool:

        def cancelled_meanwhile(*args: Any) -> Any:
            cancelled.append(pool.submit(other.delete, "/v1/bookings/r1", headers=tag))
            wait(cancelled, LONG_ENOUGH)
            assert not cancelled[0].done()
            return busy(*args)

        monkeypatch.setattr(register, "busy", cancelled_meanwhile)
        assert mine.put("/v1/bookings/r1", json={**BODY, "party": 2}).status_code == 200
    assert cancelled[0].result().status_code == status
    assert mine.get("/v1/bookings/r1").status_code == left


@contextmanager
def meeting_after(store: Store, statement: str) -> Iterator[None]:
    """Two requests meet after the first statement of each that begins so."""
    meeting = Meeting()

    def met(_connection: Any, _cursor: Any, executed: str, *_: Any) -> None:
        if executed.startswith(statement):
            meeting()

    event.listen(store.engine, "after_cursor_execute", met)
    try:
        yield
    finally:
        event.remove(store.engine, "after_cursor_execute", met)


def booked(number: int, riders: list[str]) -> dict[str, Any]:
    body = {**BODY, "party": 3, "riders": riders}
    return {"path": f"/v1/bookings/r{number}", "method": "PUT", "json": body}


def in_a_batch(number: int, riders: list[str]) -> dict[str, Any]:
    bookings = [
        {**BODY, "id": f"{number}-{rider}", "party": 3, "riders": [rider]} for rider in riders
    ]
    asked = {"atomic": True, "bookings": bookings}
    return {"path": "/v1/bookings:batch", "method": "POST", "json": asked}


def saved(_number: int, riders: list[str]) -> dict[str, Any]:
    crew = [{"rider": rider} for rider in riders]
    body = {"boat": "small", "crew": crew, "settings": {}}
    return {"path": "/v1/setups", "method": "POST", "json": body}


@pytest.mark.usefixtures("fleet_of_two")
@pytest.mark.parametrize("sent", [booked, in_a_batch, saved])
def test_two_who_name_riders_the_other_way_round_do_not_wait_for_each_other(
    mine: FlaskClient, store: Store, sent: Callable[[int, list[str]], dict[str, Any]]
) -> None:
    for rider in ("ann", "bob"):
        mine.post("/v1/riders", json={"id": rider, "mass": 70, "stance": "regular"})
    with meeting_after(store, "UPDATE riders"):
        answers = both(mine, sent(1, ["ann", "bob"]), sent(2, ["bob", "ann"]))
    assert {answer.status_code for answer in answers} <= {200, 201}
