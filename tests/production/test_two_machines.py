"""Two instances before one PostgreSQL and one Redis, behind nginx: as on two machines.

Needs WAVESETUP_TEST_POSTGRES_URL, redis-server and nginx; without them it is skipped.
"""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest
import requests

from service.outfits import keys
from service.outfits.demo import DEMO
from service.outfits.keys import Scope
from service.storage import Store
from tests import stores
from tests.outings.boats import body
from tests.production.server import Server, free_port, serving

WRITES = 120
SECONDS = 3
"""Of processor time that one key has."""

missing = [name for name in ("redis-server", "nginx") if shutil.which(name) is None]
pytestmark = [
    pytest.mark.keeps,
    pytest.mark.skipif(not os.environ.get(stores.POSTGRES), reason=f"{stores.POSTGRES} is not set"),
    pytest.mark.skipif(bool(missing), reason=f"not installed: {', '.join(missing)}"),
]


@dataclass(frozen=True)
class Pair:
    """Two instances, the proxy before them, and the store behind."""

    one: Server
    other: Server
    proxy: str
    store: Store

    def key(self) -> dict[str, str]:
        with self.store.writing() as session:
            _, token = keys.issue(session, DEMO, "pair", [Scope.READ, Scope.WRITE, Scope.ADMIN])
        return {"Authorization": f"Bearer {token}"}


@contextmanager
def running(*command: str) -> Iterator[None]:
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        yield
    finally:
        process.terminate()
        process.wait(20)


def proxy_before(folder: Path, *servers: Server) -> tuple[str, Path]:
    """``deploy/nginx.conf`` with the instances that there are, and a port that is free."""
    port = free_port()
    site = (Path(__file__).parents[2] / "deploy" / "nginx.conf").read_text("utf-8")
    upstream = "".join(f"server 127.0.0.1:{each.port};" for each in servers)
    for was, now in (
        ("server unix:/run/wavesetup.sock fail_timeout=0;", upstream),
        ("listen 80;", f"listen 127.0.0.1:{port};"),
        ("rate=20r/s", "rate=1000r/s"),
        ("/var/log/nginx", str(folder)),
    ):
        assert was in site
        site = site.replace(was, now)
    folders = "".join(
        f"{name}_temp_path {folder}/{name};"
        for name in ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
    )
    configuration = folder / "nginx.conf"
    configuration.write_text(
        f"daemon off; pid {folder}/pid; error_log {folder}/error.log; events {{}}\n"
        f"http {{ {folders}\n{site} }}"
    )
    return f"http://127.0.0.1:{port}", configuration


@pytest.fixture
def pair(tmp_path: Path) -> Iterator[Pair]:
    redis = free_port()
    with stores.fresh(tmp_path) as url:
        settings = {
            "WAVESETUP_DATABASE_URL": url,
            "WAVESETUP_CPU_PER_KEY": f"{SECONDS} + 0.0001/s",
            "WAVESETUP_RATE_STORAGE_URL": f"redis://127.0.0.1:{redis}/0",
            "WAVESETUP_PROXIES": "1",
        }
        with (
            running("redis-server", "--port", str(redis), "--bind", "127.0.0.1", "--save", ""),
            serving(tmp_path / "one", workers=1, **settings) as one,
            serving(tmp_path / "other", workers=1, **settings) as other,
        ):
            address, configuration = proxy_before(tmp_path, one, other)
            store = Store(url)
            with running("nginx", "-e", str(tmp_path / "error.log"), "-c", str(configuration)):
                yield Pair(one, other, address, store)
            store.close()


def kill(server: Server) -> None:
    """As if the machine lost its power."""
    pid = server.process.pid
    workers = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    for each in (pid, *map(int, workers)):
        os.kill(each, signal.SIGKILL)


def test_limits_keys_and_what_was_acknowledged_hold_across_both(pair: Pair) -> None:
    a_limit_is_one_for_both(pair)
    a_key_revoked_at_one_opens_nothing_at_the_other(pair)
    what_is_sent_twice_is_done_once(pair)
    nothing_acknowledged_is_lost_when_one_dies(pair)


def a_limit_is_one_for_both(pair: Pair) -> None:
    key = pair.key()

    def ask(at: Server) -> int:
        url = at.url + "/v1/outing-plans"
        return requests.post(url, json=body(12), headers=key, timeout=30).status_code

    statuses = [ask(pair.one) for _ in range(3)]
    while statuses[-1] == 200 and len(statuses) < 1000:
        statuses.append(ask(pair.other))
    assert statuses[:4] == [200] * 4
    assert statuses[-1] == ask(pair.one) == 429
    assert "does not answer" not in pair.one.logged() + pair.other.logged()


def a_key_revoked_at_one_opens_nothing_at_the_other(pair: Pair) -> None:
    admin, key = pair.key(), pair.key()
    assert requests.get(pair.other.url + "/v1/boats", headers=key, timeout=10).status_code == 200
    with pair.store.reading() as session:
        newest = max(keys.every(session, DEMO), key=lambda each: each.created)
    gone = requests.delete(f"{pair.one.url}/v1/keys/{newest.id}", headers=admin, timeout=10)
    assert gone.status_code == 204, gone.text
    assert requests.get(pair.other.url + "/v1/boats", headers=key, timeout=10).status_code == 401


def what_is_sent_twice_is_done_once(pair: Pair) -> None:
    headers = {**pair.key(), "Idempotency-Key": "sent-twice"}
    answers = [
        requests.post(at.url + "/v1/riders", headers=headers, json={"name": "twice"}, timeout=10)
        for at in (pair.one, pair.other)
    ]
    assert [answer.status_code for answer in answers] == [201, 201]
    assert answers[0].json()["id"] == answers[1].json()["id"]
    assert answers[1].headers["Idempotency-Replayed"] == "true"


def nothing_acknowledged_is_lost_when_one_dies(pair: Pair) -> None:
    acknowledged: dict[str, str] = {}
    failed: list[str] = []

    def work(number: int, key: dict[str, str]) -> None:
        for n in range(WRITES):
            name = f"rider-{number}-{n}"
            headers = {**key, "Idempotency-Key": name}
            try:
                answer = requests.post(
                    pair.proxy + "/v1/riders", headers=headers, json={"name": name}, timeout=30
                )
            except requests.ConnectionError:
                failed.append(name)
                continue
            if answer.status_code == 201:
                acknowledged[answer.json()["id"]] = name
            else:
                assert answer.status_code == 503, answer.text
                failed.append(name)

    crowd = [threading.Thread(target=work, args=(n, pair.key())) for n in range(4)]
    for each in crowd:
        each.start()
    while len(acknowledged) < 100:
        time.sleep(0.01)
    kill(pair.one)
    at_death = len(acknowledged)
    for each in crowd:
        each.join(60.0)

    key = pair.key()
    kept: dict[str, str] = {}
    address: str | None = "/v1/riders?limit=200"
    while address:
        page = requests.get(pair.other.url + address, headers=key, timeout=10).json()
        kept |= {rider["id"]: rider["name"] for rider in page["items"]}
        address = page["next"]
    assert acknowledged.items() <= kept.items()
    names = list(kept.values())
    assert len(names) == len(set(names))
    # The other one took over: nearly all that came after was done.
    assert len(acknowledged) > at_death + 100
    assert len(failed) <= len(crowd)
