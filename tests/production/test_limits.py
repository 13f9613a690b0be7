"""Rates: by address and by key. Headers as of draft-ietf-httpapi-ratelimit-headers-10."""

from __future__ import annotations

import re
from collections.abc import Mapping

import pytest
from flask.testing import FlaskClient

from service import create_app
from service.api.stored import the_store
from service.outfits import keys
from service.outfits.demo import DEMO
from service.outfits.keys import Scope

ASK = "/v1/rules/goofy_surfs_starboard"


def limited(**settings: object) -> FlaskClient:
    return create_app({"LOG_LEVEL": "warning", **settings}).test_client()


def key_of(client: FlaskClient) -> Mapping[str, str]:
    with client.application.app_context(), the_store().writing() as session:
        _, token = keys.issue(session, DEMO, "rates", [Scope.READ])
    return {"Authorization": f"Bearer {token}"}


def test_off_unless_it_is_set(client: FlaskClient) -> None:
    headers = client.get("/v1/rules").headers
    assert "RateLimit" not in headers
    assert "RateLimit-Policy" not in headers


def test_an_address_has_so_many_and_is_told_so() -> None:
    client = limited(RATE_PER_ADDRESS="3/hour")
    for left in (2, 1, 0):
        answer = client.get("/v1/rules")
        assert answer.status_code == 200
        assert answer.headers["RateLimit-Policy"] == '"address";q=3;w=3600'
        assert re.fullmatch(rf'"address";r={left};t=\d+', answer.headers["RateLimit"])
    refused = client.get("/v1/rules")
    assert refused.status_code == 429
    assert refused.mimetype == "application/problem+json"
    assert 0 < int(refused.headers["Retry-After"]) <= 3600
    assert refused.headers["RateLimit"].startswith('"address";r=0;')
    elsewhere = client.get("/v1/rules", environ_base={"REMOTE_ADDR": "192.0.2.77"})
    assert elsewhere.status_code == 200


def test_whoever_watches_is_not_limited() -> None:
    client = limited(RATE_PER_ADDRESS="1/hour")
    for path in ("/healthz", "/readyz", "/metrics") * 2:
        assert client.get(path).status_code == 200


def test_errors_and_wrong_keys_count() -> None:
    client = limited(RATE_PER_ADDRESS="2/hour")
    assert client.get("/nowhere").status_code == 404
    assert client.get("/v1/rules", headers={"Authorization": "Bearer guess"}).status_code == 401
    assert client.get("/v1/rules").status_code == 429


@pytest.mark.keeps
def test_a_key_has_a_rate_of_its_own_wherever_it_is_used() -> None:
    client = limited(RATE_PER_KEY="2/hour")
    one, other = key_of(client), key_of(client)
    statuses = [
        client.get("/v1/rules", headers=key, environ_base={"REMOTE_ADDR": address}).status_code
        for key, address in (
            (one, "192.0.2.1"),
            (one, "192.0.2.2"),
            (one, "192.0.2.3"),
            (other, "192.0.2.3"),
        )
    ]
    assert statuses == [200, 200, 429, 200]
    assert client.get("/v1/rules").status_code == 200


@pytest.mark.keeps
def test_both_are_told() -> None:
    client = limited(RATE_PER_ADDRESS="9/minute", RATE_PER_KEY="5/minute")
    headers = client.get("/v1/rules", headers=key_of(client)).headers
    assert headers["RateLimit-Policy"] == '"address";q=9;w=60, "key";q=5;w=60'


def test_a_forwarded_address_counts_only_behind_a_proxy() -> None:
    forged = [{"X-Forwarded-For": f"192.0.2.{n}"} for n in range(2)]
    client = limited(RATE_PER_ADDRESS="1/hour")
    assert [client.get("/v1/rules", headers=h).status_code for h in forged] == [200, 429]
    client = limited(RATE_PER_ADDRESS="1/hour", PROXIES=1)
    assert [client.get("/v1/rules", headers=h).status_code for h in forged] == [200, 200]
    # What a caller writes before the proxy's own entry changes nothing.
    spoofed = {"X-Forwarded-For": "198.51.100.9, 192.0.2.0"}
    assert client.get("/v1/rules", headers=spoofed).status_code == 429


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
    client = limited(RATE_PER_ADDRESS="1/hour")
    assert client.get("/v1/rules", environ_base={"REMOTE_ADDR": one}).status_code == 200
    second = client.get("/v1/rules", environ_base={"REMOTE_ADDR": other}).status_code
    assert second == (429 if same else 200)


def test_without_its_storage_the_service_goes_on_and_counts_by_itself(
    capfd: pytest.CaptureFixture[str],
) -> None:
    """Nothing listens on port 9 of this machine."""
    client = limited(RATE_PER_ADDRESS="2/hour", RATE_STORAGE_URL="redis://127.0.0.1:9")
    assert [client.get("/v1/rules").status_code for _ in range(3)] == [200, 200, 429]


@pytest.mark.parametrize("name", ["RATE_PER_ADDRESS", "RATE_PER_KEY"])
@pytest.mark.parametrize("rate", ["plenty", "10/second;600/minute", "600/minute, 5/second"])
def test_what_is_not_one_rate_is_refused(name: str, rate: str) -> None:
    with pytest.raises(ValueError, match=f"WAVESETUP_{name}"):
        limited(**{name: rate})
