"""Nothing that was acknowledged is lost, and nothing is half there, when a worker is killed.

Three rounds; WAVESETUP_TEST_SLOW=1 makes it twenty, of more writes.
"""

from __future__ import annotations

import json
import os
import random
import signal
import threading
import uuid
from concurrent.futures import ThreadPoolExecutor
from importlib.resources import files
from typing import Any

import pytest
import requests
from sqlalchemy import func, select

from service.outfits.demo import DEMO
from service.storage.tables import Boat, BoatVersion, Once
from tests.clients.conftest import Running
from tests.size import cases

ROUNDS = cases(3, 20)
WRITES = cases(100, 200)
AT_ONCE = 16
PARTICULARS = {
    **json.loads((files("service.boats") / "demo" / "demo-6m.json").read_text("utf-8")),
    "id": None,
}


def post(service: Running, path: str, body: Any, **headers: str) -> requests.Response | None:
    """The answer, or ``None`` where the connection broke off before it was whole."""
    headers["Authorization"] = f"Bearer {service.key}"
    try:
        with requests.Session() as session:
            session.trust_env = False
            return session.post(f"{service.url}{path}", json=body, headers=headers, timeout=30)
    except requests.exceptions.RequestException:
        return None


@pytest.mark.parametrize("number", range(ROUNDS))
def test_a_worker_killed_in_the_middle_of_many_writes_loses_nothing(
    service: Running, number: int
) -> None:
    draw = random.Random(number)  # noqa: S311
    kill_after = draw.randrange(20, WRITES - 40)
    done, lock = 0, threading.Lock()
    names = {str(uuid.uuid4()): f"R{number}-{write}" for write in range(WRITES)}

    def write(key: str) -> requests.Response | None:
        nonlocal done
        answer = post(service, "/v1/boats", {**PARTICULARS, "name": names[key]},
                      **{"Idempotency-Key": key})  # fmt: skip
        with lock:
            done += 1
            if done == kill_after:
                os.kill(draw.choice(service.workers()), signal.SIGKILL)
        return answer

    with ThreadPoolExecutor(AT_ONCE) as pool:
        answers = dict(zip(names, pool.map(write, names), strict=True))
    acknowledged = {
        answer.json()["id"]: names[key]
        for key, answer in answers.items()
        if answer is not None and answer.status_code == 201
    }
    # What the worker had is a 503 by the front; where the front was killed, nothing came back.
    broken = [key for key, answer in answers.items() if answer is None or answer.status_code == 503]
    assert len(acknowledged) >= WRITES - AT_ONCE * 2
    told = {answer.status_code for answer in answers.values() if answer is not None}
    assert 201 in told
    assert told <= {201, 503}

    def stored() -> dict[str, str]:
        with service.store.reading() as session:
            mine = (Boat.outfit_id == DEMO, Boat.name.startswith(f"R{number}-"))
            rows = session.scalars(select(Boat).where(*mine)).all()
            # None half-written: a boat, her first version and the kept answer, or nothing.
            versions = session.scalar(
                select(func.count())
                .select_from(BoatVersion)
                .where(BoatVersion.boat_id.in_([row.id for row in rows]))
            )
            kept = session.scalars(select(Once).where(Once.key.in_(names))).all()
        assert versions == len(rows)
        answered = [once for once in kept if once.status is not None]
        assert {json.loads(once.answer or "")["id"] for once in answered} == {r.id for r in rows}
        for row in rows:
            assert row.document == {
                name: value for name, value in PARTICULARS.items() if name != "id"
            } | {"name": row.name}
        return {row.id: row.name for row in rows}

    found = stored()
    assert acknowledged.items() <= found.items()

    # Sent again, each that broke off is there once; one that was at work is held for its lease.
    for key in broken:
        again = post(service, "/v1/boats", {**PARTICULARS, "name": names[key]},
                     **{"Idempotency-Key": key})  # fmt: skip
        assert again is not None
        assert again.status_code in (201, 409)
    names_found = sorted(stored().values())
    assert len(names_found) == len(set(names_found))
    assert set(acknowledged.values()) <= set(names_found)


def test_of_many_at_once_under_one_key_one_is_kept(service: Running) -> None:
    key = {"Idempotency-Key": str(uuid.uuid4())}

    def write(_: int) -> requests.Response | None:
        return post(service, "/v1/riders", {"name": "one of many"}, **key)

    with ThreadPoolExecutor(AT_ONCE) as pool:
        answers = list(pool.map(write, range(cases(300, 1000))))
    bodies = {answer.text for answer in answers if answer is not None and answer.status_code == 201}
    assert len(bodies) == 1
    assert {answer.status_code for answer in answers if answer is not None} <= {201, 409}
    assert None not in answers


def test_of_two_replacements_of_one_version_one_wins_also_under_load(service: Running) -> None:
    made = post(service, "/v1/riders", {"mass": 60})
    assert made is not None
    address, tag = f"{service.url}{made.headers['Location']}", made.headers["ETag"]
    start = threading.Barrier(2)

    def replace(mass: int) -> int:
        headers = {"Authorization": f"Bearer {service.key}", "If-Match": tag}
        with requests.Session() as session:
            session.trust_env = False
            start.wait()
            return session.put(
                address, json={"mass": mass}, headers=headers, timeout=30
            ).status_code

    stop = threading.Event()

    def load() -> None:
        while not stop.is_set():
            post(service, "/v1/riders", {"name": "load"})

    with ThreadPoolExecutor(4) as crowd, ThreadPoolExecutor(2) as two:
        for _ in range(4):
            crowd.submit(load)
        try:
            for _ in range(cases(10, 25)):
                assert sorted(two.map(replace, (70, 80))) == [200, 412]
                headers = {"Authorization": f"Bearer {service.key}"}
                with requests.Session() as session:
                    session.trust_env = False
                    tag = session.get(address, headers=headers, timeout=30).headers["ETag"]
        finally:
            stop.set()
