"""The service as it is deployed: gunicorn with its configuration, two workers."""

from __future__ import annotations

import json
import re
import socket
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor

import pytest
import requests

from tests.production.server import SMALLEST, Server, serving


@pytest.fixture(scope="module")
def server(database: str, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    log = tmp_path_factory.mktemp("server") / "log"
    with serving(
        log, "tests.production.hanging:application()", WAVESETUP_DATABASE_URL=database,
        WAVESETUP_BUDGET="0.5",
    ) as found:  # fmt: skip
        yield found


def counted(server: Server) -> float:
    text = requests.get(server.url + "/metrics", timeout=10).text
    found = re.search(r"^wavesetup_verdicts_total\{.*/v1/advice.*\} (\S+)$", text, re.MULTILINE)
    return float(found[1]) if found else 0.0


def workers(server: Server) -> set[int]:
    lines = map(json.loads, server.logged().splitlines())
    return {line["process"] for line in lines if line["logger"] == "wavesetup"}


def test_metrics_are_of_all_workers(server: Server) -> None:
    before, sent = counted(server), 0

    def ask(_: int) -> bool:
        return requests.post(server.url + "/v1/advice", json=SMALLEST, timeout=10).ok

    # The system decides who takes a connection: several at once, until both were at work.
    with ThreadPoolExecutor(8) as pool:
        for _ in range(10):
            assert all(pool.map(ask, range(16)))
            sent += 16
            if len(workers(server)) == 2:
                break
    assert len(workers(server)) == 2
    assert counted(server) == before + sent


def test_every_line_of_the_log_is_json(server: Server) -> None:
    with socket.create_connection(("127.0.0.1", server.port), timeout=10) as raw:
        raw.sendall(b"GET / HTTP/1.1\r\nAuthorization wsk_a-secret\r\n\r\n")
        assert raw.recv(1000).startswith(b"HTTP/1.1 400")
    lines = [json.loads(line) for line in server.logged().splitlines()]
    assert any(line["message"] == "Invalid request" for line in lines)
    assert "wsk_a-secret" not in server.logged()
    assert "127.0.0.1" not in server.logged()


def test_a_hung_worker_answers_503_and_is_replaced(server: Server) -> None:
    before = workers(server)
    answer = requests.get(server.url + "/hang", timeout=10)
    assert answer.status_code == 503
    assert answer.headers["Retry-After"] == "10"
    until = time.monotonic() + 30.0
    while not workers(server) - before:
        assert time.monotonic() < until, "nobody took its place"
        assert requests.post(server.url + "/v1/advice", json=SMALLEST, timeout=10).ok


def test_it_ends_cleanly(server: Server) -> None:
    server.process.terminate()
    assert server.process.wait(20) == 0
    failures = [
        line for line in map(json.loads, server.logged().splitlines()) if "exception" in line
    ]
    kinds = {line["exception"][0]["type"] for line in failures}
    assert kinds <= {"service.api.budget.OutOfTimeError"}
