"""Processor time by address, key and outfit. Headers as of
draft-ietf-httpapi-ratelimit-headers-10.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import time
from collections.abc import Iterator, Mapping

import pytest
import redis
from flask.testing import FlaskClient

from service import create_app
from service.api import buckets, limits
from service.api.buckets import Buckets, OwnBuckets, Policy, SharedBuckets
from service.api.stored import the_store
from service.outfits import keys
from service.outfits.demo import DEMO
from service.outfits.keys import Scope
from tests.production.server import SMALLEST, free_port

SMALL = "0.001 + 0.0001/s"
"""Used up by a single request, and not full again for ten seconds."""


def limited(**settings: object) -> FlaskClient:
    return create_app({"LOG_LEVEL": "error", **settings}).test_client()


def key_of(client: FlaskClient) -> Mapping[str, str]:
    with client.application.app_context(), the_store().writing() as session:
        _, token = keys.issue(session, DEMO, "limits", [Scope.READ])
    return {"Authorization": f"Bearer {token}"}


def test_they_are_on_by_default_and_no_ordinary_user_meets_them() -> None:
    client = limited(**limits.SETTINGS)
    for _ in range(12):
        answer = client.post("/v1/advice", json=SMALLEST)
        assert answer.status_code == 200
    assert answer.headers["RateLimit-Policy"] == '"address-cpu";q=5000;qu="cpu-ms";w=20'
    found = re.fullmatch(r'"address-cpu";r=(\d+);t=(\d+)', answer.headers["RateLimit"])
    assert found is not None
    assert 0 < int(found[1]) <= 5000
    assert 1 <= int(found[2]) <= 20


def test_off_is_off() -> None:
    headers = limited(CPU_PER_ADDRESS="off").get("/v1/rules").headers
    assert "RateLimit" not in headers


def test_an_address_that_has_used_it_up_is_told_when_to_come_back() -> None:
    client = limited(CPU_PER_ADDRESS=SMALL)
    assert client.post("/v1/advice", json=SMALLEST).status_code == 200
    refused = client.get("/v1/rules")
    assert (refused.status_code, refused.mimetype) == (429, "application/problem+json")
    assert int(refused.headers["Retry-After"]) > 0
    assert refused.headers["RateLimit"].startswith('"address-cpu";r=0;')
    assert "0.001 s of processor time" in refused.get_json(force=True)["detail"]
    elsewhere = client.get("/v1/rules", environ_base={"REMOTE_ADDR": "192.0.2.77"})
    assert elsewhere.status_code == 200


def test_what_a_request_is_predicted_to_cost_is_paid_before_it_is_solved(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """And what was too much of it comes back at the end."""
    paid = list[float]()
    pay = OwnBuckets.pay

    def seen(self: OwnBuckets, policy: Policy, who: str, seconds: float) -> float:
        paid.append(seconds)
        return pay(self, policy, who, seconds)

    monkeypatch.setattr(OwnBuckets, "pay", seen)
    monkeypatch.setattr("service.api.prices.ADVICE", 0.09)
    assert limited(**limits.SETTINGS).post("/v1/advice", json=SMALLEST).status_code == 200
    entered, predicted, settled = paid
    assert entered == 0.0
    assert predicted > 0.09
    assert -predicted < settled < 0.0


def test_whoever_watches_is_not_limited() -> None:
    client = limited(CPU_PER_ADDRESS=SMALL)
    assert client.post("/v1/advice", json=SMALLEST).status_code == 200
    for path in ("/healthz", "/readyz", "/metrics") * 2:
        assert client.get(path).status_code == 200


def test_guessing_keys_is_dear_and_stops_no_neighbour_without() -> None:
    client = limited(CPU_PER_ADDRESS="0.12 + 0.001/s")
    wrong = {"Authorization": "Bearer guess"}
    statuses = [client.get("/v1/rules", headers=wrong).status_code for _ in range(4)]
    assert statuses == [401, 401, 401, 429]
    assert client.get("/v1/rules").status_code == 200


@pytest.mark.keeps
def test_a_key_pays_for_itself_wherever_it_is_used_and_its_outfit_too() -> None:
    client = limited(CPU_PER_KEY=SMALL, CPU_PER_OUTFIT="5 + 1/s", CPU_PER_ADDRESS=SMALL)
    one, other = key_of(client), key_of(client)
    statuses = [
        client.get("/v1/rules", headers=key, environ_base={"REMOTE_ADDR": at}).status_code
        for key, at in ((one, "192.0.2.1"), (one, "192.0.2.2"), (other, "192.0.2.2"))
    ]
    assert statuses == [200, 429, 200]
    headers = client.get("/v1/rules", headers=key_of(client)).headers
    assert re.fullmatch(r'"key-cpu";.*, "outfit-cpu";.*', headers["RateLimit-Policy"])
    client = limited(CPU_PER_OUTFIT=SMALL)
    assert client.get("/v1/rules", headers=one).status_code == 200
    assert client.get("/v1/rules", headers=other).status_code == 429


@pytest.mark.keeps
def test_long_work_has_a_bucket_of_its_own() -> None:
    client = limited(CPU_PER_ADDRESS="5 + 1/s", JOBS_PER_ADDRESS="0.001 + 0.001/s")
    later = {"Prefer": "respond-async"}
    first = client.post("/v1/advice", json=SMALLEST, headers=later)
    assert first.status_code == 202
    assert client.post("/v1/advice", json=SMALLEST, headers=later).status_code == 429
    assert client.post("/v1/advice", json=SMALLEST).status_code == 200
    client.delete(first.headers["Location"])


def test_a_forwarded_address_counts_only_behind_a_proxy() -> None:
    forged = [{"X-Forwarded-For": f"192.0.2.{n}"} for n in range(2)]

    def ask(client: FlaskClient, headers: Mapping[str, str]) -> int:
        return client.post("/v1/advice", json=SMALLEST, headers=headers).status_code

    client = limited(CPU_PER_ADDRESS=SMALL)
    assert [ask(client, each) for each in forged] == [200, 429]
    client = limited(CPU_PER_ADDRESS=SMALL, PROXIES=1)
    assert [ask(client, each) for each in forged] == [200, 200]
    # What a caller writes before the proxy's own entry changes nothing.
    assert ask(client, {"X-Forwarded-For": "198.51.100.9, 192.0.2.0"}) == 429


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("2001:db8:1:2::1", "2001:db8:1:2:ffff::9", True),
        ("2001:db8:1:2::1", "2001:db8:1:3::1", False),
        ("::ffff:192.0.2.1", "192.0.2.1", True),
        ("", "not-an-address", True),
    ],
)
def test_a_subscriber_is_one_address(one: str, other: str, same: bool) -> None:
    """RFC 6177: a site has a /64 at least, so it has 2⁶⁴ addresses to ask from."""
    client = limited(CPU_PER_ADDRESS=SMALL)
    at = {"REMOTE_ADDR": one}
    assert client.post("/v1/advice", json=SMALLEST, environ_base=at).status_code == 200
    second = client.get("/v1/rules", environ_base={"REMOTE_ADDR": other}).status_code
    assert second == (429 if same else 200)


@pytest.mark.parametrize("name", limits.SETTINGS)
@pytest.mark.parametrize("text", ["plenty", "600/minute", "5", "0 + 1/s", "1 + 0/s", "-1 + 1/s"])
def test_what_is_no_limit_is_refused(name: str, text: str) -> None:
    with pytest.raises(ValueError, match=f"WAVESETUP_{name}"):
        limited(**{name: text})


@pytest.fixture(scope="module")
def redis_url() -> Iterator[str]:
    if shutil.which("redis-server") is None:
        pytest.skip("redis-server is not installed")
    port = free_port()
    command = ["redis-server", "--port", str(port), "--bind", "127.0.0.1", "--save", ""]
    with subprocess.Popen(command, stdout=subprocess.DEVNULL) as process:
        client = redis.Redis(port=port)
        until = time.monotonic() + 20.0
        while time.monotonic() < until:
            try:
                client.ping()
                break
            except redis.RedisError:
                time.sleep(0.05)
        client.close()
        yield f"redis://127.0.0.1:{port}/0"
        process.terminate()


@pytest.mark.parametrize("where", ["own", "shared"])
def test_a_bucket_is_paid_from_past_zero_and_fills_again(
    where: str, request: pytest.FixtureRequest
) -> None:
    made: Buckets = OwnBuckets()
    if where == "shared":
        made = SharedBuckets(request.getfixturevalue("redis_url"))
    policy, slow = Policy(f"{where}-a", 1.0, 50.0), Policy(f"{where}-b", 1.0, 1e-3)
    assert made.pay(slow, "ann", 0.0) == 1.0
    assert made.pay(slow, "ann", 0.25) == pytest.approx(0.75, abs=0.01)
    assert made.pay(slow, "ann", 20.0) == pytest.approx(-19.25, abs=0.1)
    assert made.pay(slow, "ann", -20.0) == pytest.approx(0.75, abs=0.1)
    assert made.pay(slow, "bob", 0.0) == 1.0
    made.pay(policy, "ann", 1.5)
    time.sleep(0.1)
    assert made.pay(policy, "ann", 0.0) == 1.0
    assert made.pay(policy, "ann", -0.5) == 1.0  # never more than it holds


def test_shared_levels_are_of_all_workers(redis_url: str) -> None:
    one, other = SharedBuckets(redis_url), SharedBuckets(redis_url)
    policy = Policy("of-all", 10.0, 1e-3)
    one.pay(policy, "ann", 4.0)
    assert other.pay(policy, "ann", 4.0) == pytest.approx(2.0, abs=0.1)


def test_without_its_storage_the_service_goes_on_and_counts_by_itself() -> None:
    """Nothing listens on port 9 of this machine."""
    client = limited(CPU_PER_ADDRESS=SMALL, RATE_STORAGE_URL="redis://127.0.0.1:9")
    assert client.post("/v1/advice", json=SMALLEST).status_code == 200
    assert client.get("/v1/rules").status_code == 429


def test_the_buckets_of_a_process_are_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(buckets, "MOST_BUCKETS", 3)
    own, policy = OwnBuckets(), Policy("few", 1.0, 1e-3)
    for who in "abcde":
        own.pay(policy, who, 1.0)
    assert len(own._levels) == 3
    assert own.pay(policy, "e", 0.0) == pytest.approx(0.0, abs=0.01)
    assert own.pay(policy, "a", 0.0) == 1.0
