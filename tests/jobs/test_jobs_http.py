"""``/v1/jobs``: what is dear is done as a job, and what is accepted is answered."""

from __future__ import annotations

import json
import os
import signal
import time
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import delete, update
from werkzeug.test import TestResponse

from service import create_app
from service.api import admission, jobs
from service.jobs import queue, worker
from service.jobs.worker import Worker
from service.outfits.keys import Scope
from service.storage import Store
from service.storage.tables import Job
from tests.bench.prices import outing
from tests.outings.boats import body
from tests.production.server import SMALLEST
from tests.resources.conftest import RIDER, Caller

pytestmark = pytest.mark.keeps
LATER = {"Prefer": "respond-async, wait=10"}
ROOT = Path(__file__).parents[2] / "service" / "boats" / "demo"
BOOKING = {"start": "2031-07-05T10:00:00Z", "duration": "1 h", "party": 4}


@pytest.fixture(autouse=True)
def none_left(store: Store) -> None:
    with store.writing() as session:
        session.execute(delete(Job))


def do_all(app: Flask, client: FlaskClient, location: str) -> dict[str, Any]:
    """The job when it has ended."""
    at_work = Worker(app.extensions["store"], jobs.performer(app))
    until = time.monotonic() + 120.0
    job: dict[str, Any] = client.get(location).get_json()
    while job["ended"] is None and time.monotonic() < until:
        at_work.step()
        time.sleep(0.02)
        job = client.get(location).get_json()
    at_work.stop()
    return job


def begun(answer: TestResponse) -> str:
    assert answer.status_code == 202, answer.text
    job = answer.get_json()
    assert answer.headers["Location"] == f"/v1/jobs/{job['id']}"
    assert int(answer.headers["Retry-After"]) > 0
    assert (job["state"], job["answer"], job["progress"]) == ("queued", None, None)
    return answer.headers["Location"]


@pytest.mark.parametrize(
    ("address", "sent"),
    [
        ("/v1/advice?trace=full", SMALLEST),
        ("/v1/outing-plans", body(3)),
        ("/v1/tuning", {**SMALLEST, "seen": ["too_steep"]}),
    ],
)
def test_the_answer_is_what_it_would_have_been_at_once(
    app: Flask, client: FlaskClient, address: str, sent: dict[str, Any]
) -> None:
    for accept in ("application/json", "text/plain"):
        at_once = client.post(address, json=sent, headers={"Accept": accept})
        later = client.post(address, json=sent, headers={"Accept": accept, **LATER})
        assert later.headers["Preference-Applied"] == "respond-async"
        location = begun(later)
        early = client.get(f"{location}/answer")
        assert (early.status_code, "Retry-After" in early.headers) == (409, True)
        job = do_all(app, client, location)
        assert (job["state"], job["status"], job["fault"]) == ("done", 200, None)
        answer = client.get(job["answer"])
        assert (answer.status_code, answer.mimetype) == (200, accept)
        assert answer.data == at_once.data
        assert answer.headers["Rule-Set"] == at_once.headers["Rule-Set"]
        assert client.delete(location).status_code == 204
        assert client.get(location).status_code == 404


def test_a_picture_comes_whole(app: Flask, client: FlaskClient) -> None:
    headers = {"Accept": "image/png", **LATER}
    job = do_all(app, client, begun(client.post("/v1/advice", json=SMALLEST, headers=headers)))
    picture = client.get(job["answer"])
    assert picture.mimetype == "image/png"
    assert picture.data.startswith(b"\x89PNG")


def test_what_is_predicted_to_be_dear_is_a_job_and_completes(
    app: Flask, client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(admission, "AT_ONCE", 0.05)
    answer = client.post("/v1/outing-plans", json=body(6))
    assert "Preference-Applied" not in answer.headers
    assert do_all(app, client, begun(answer))["state"] == "done"


def test_what_takes_longer_than_it_may_becomes_a_job(
    app: Flask, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever was predicted: seconds of work, in a fifth of a second."""
    hurried = create_app({"BUDGET": 0.2, "LOG_LEVEL": "warning"})
    monkeypatch.setattr(admission, "AT_ONCE", 1e9)
    answer = hurried.test_client().post("/v1/outing-plans", json=outing("demo-8m", 8, 3))
    location = begun(answer)
    job = do_all(hurried, hurried.test_client(), location)
    assert (job["state"], job["status"]) == ("done", 200)


def test_bad_input_is_told_at_once(client: FlaskClient) -> None:
    refused = client.post("/v1/advice", json={**SMALLEST, "crew": -1}, headers=LATER)
    assert refused.status_code == 422


def test_a_batch_of_bookings_may_be_a_job_and_says_how_far_it_is(
    app: Flask, mine: FlaskClient, boat: str
) -> None:
    sent = {"bookings": [{**BOOKING, "id": f"b{n}"} for n in range(3)]}
    headers = {**LATER, "Idempotency-Key": "once"}
    first = mine.post("/v1/bookings:batch", json=sent, headers=headers)
    again = mine.post("/v1/bookings:batch", json=sent, headers=headers)
    assert (again.status_code, again.data) == (202, first.data)
    assert again.headers["Location"] == begun(first)
    job = do_all(app, mine, begun(first))
    assert (job["state"], job["progress"]) == ("done", {"done": 3, "total": 3})
    results = mine.get(job["answer"]).get_json()["results"]
    assert [result["status"] for result in results] == [201] * 3
    assert mine.get("/v1/bookings/b2").status_code == 200


def test_another_outfit_s_job_is_a_404(app: Flask, mine: FlaskClient, caller: Caller) -> None:
    sent = {**SMALLEST, "boat": json.loads((ROOT / "demo-7m.json").read_text())}
    location = begun(mine.post("/v1/advice", json=sent, headers=LATER))
    for other in (caller(), app.test_client()):
        for ask in (other.get, other.delete):
            refused = ask(location)
            assert (refused.status_code, refused.mimetype) == (404, "application/problem+json")
        assert other.get(f"{location}/answer").status_code == 404
    assert do_all(app, mine, location)["state"] == "done"


def test_a_job_is_done_for_whoever_asked(app: Flask, mine: FlaskClient, boat: str) -> None:
    """With their boats, and with no more than their scopes."""
    job = do_all(
        app, mine, begun(mine.post("/v1/advice", json={**SMALLEST, "boat": boat}, headers=LATER))
    )
    answer = mine.get(job["answer"]).get_json()
    assert answer["boat"]["id"] == boat


def test_a_reader_cannot_have_a_batch_done(caller: Caller) -> None:
    reader = caller(None, Scope.READ)
    sent = {"bookings": [{**BOOKING, "id": "b"}]}
    assert reader.post("/v1/bookings:batch", json=sent, headers=LATER).status_code == 403


def test_one_caller_has_so_many_and_is_told_so(client: FlaskClient, mine: FlaskClient) -> None:
    for _ in range(queue.MOST_OPEN):
        begun(client.post("/v1/advice", json=SMALLEST, headers=LATER))
    refused = client.post("/v1/advice", json=SMALLEST, headers=LATER)
    assert (refused.status_code, refused.mimetype) == (429, "application/problem+json")
    assert int(refused.headers["Retry-After"]) > 0
    sent = {**SMALLEST, "boat": json.loads((ROOT / "demo-7m.json").read_text())}
    begun(mine.post("/v1/advice", json=sent, headers=LATER))


def test_a_job_that_cannot_be_done_says_why(
    app: Flask, client: FlaskClient, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its process is killed each time."""
    monkeypatch.setattr(jobs, "_principal", lambda _: os.kill(os.getpid(), signal.SIGKILL))
    job = do_all(app, client, begun(client.post("/v1/advice", json=SMALLEST, headers=LATER)))
    assert (job["state"], job["answer"]) == ("failed", None)
    assert job["fault"] == worker.DIED.format(attempts=2, signal=9)
    refused = client.get(f"/v1/jobs/{job['id']}/answer")
    assert refused.status_code == 409


def test_an_answer_that_is_an_error_is_a_failed_job(
    app: Flask, mine: FlaskClient, boat: str
) -> None:
    sent = {**SMALLEST, "boat": boat}
    location = begun(mine.post("/v1/advice", json=sent, headers=LATER))
    assert mine.delete(f"/v1/boats/{boat}", headers={"If-Match": "*"}).status_code == 204
    job = do_all(app, mine, location)
    assert (job["state"], job["status"]) == ("failed", 404)
    assert mine.get(job["answer"]).mimetype == "application/problem+json"


def test_who_is_erased_is_in_no_job(
    app: Flask, mine: FlaskClient, boat: str, rider: str, store: Store
) -> None:
    sent = {"boat": boat, "crew": 2, "rider": rider}
    done = begun(mine.post("/v1/advice", json=sent, headers=LATER))
    assert do_all(app, mine, done)["state"] == "done"
    asked = begun(mine.post("/v1/advice", json=sent, headers=LATER))
    other = begun(mine.post("/v1/advice", json={**sent, "rider": RIDER}, headers=LATER))
    erased = mine.delete(f"/v1/riders/{rider}?erase=true", headers={"If-Match": "*"})
    assert erased.status_code == 204
    assert [mine.get(job).status_code for job in (done, asked, other)] == [404, 404, 200]


def test_nobody_waits_for_ever(client: FlaskClient, store: Store) -> None:
    location = begun(client.post("/v1/advice", json=SMALLEST, headers=LATER))
    with store.writing() as session:
        session.execute(update(Job).values(expires=Job.created))
    assert client.get(location).status_code == 404
