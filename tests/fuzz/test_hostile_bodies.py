"""Whatever comes in, an answer goes out: never a 5xx, never slow, never more memory.

A quick version by default; ``WAVESETUP_FUZZ=20000`` sends so many requests.
"""

from __future__ import annotations

import json
import os
import resource
import sys
import time
from collections import Counter
from collections.abc import Iterator

import pytest
from flask.testing import FlaskClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service import create_app
from tests.fuzz.bodies import RAW, WHOLE, bodies

REQUESTS = int(os.environ.get("WAVESETUP_FUZZ", "400"))
SLOWEST = 1.0
"""Seconds of a processor, which others at work on the machine do not stretch as they do time."""
MOST_GROWTH = 60.0
"""MB from the middle of the run to its end."""

ADDRESSES = ("/v1/advice", "/v1/loading", "/v1/advice", "/v1/tuning", "/v1/outing-plans")
ACCEPTED = ("application/json", "text/plain", "text/html", "image/svg+xml", "*/*")
seen: Counter[int] = Counter()
slowest: list[float] = [0.0]
resident: list[float] = []


@pytest.fixture(scope="module")
def client() -> Iterator[FlaskClient]:
    app = create_app({"PROPAGATE_EXCEPTIONS": False, "LOG_LEVEL": "error"})
    yield app.test_client()
    if resident:
        found = ", ".join(f"{count} of {status}" for status, count in sorted(seen.items()))
        half = resident[len(resident) // 2]
        sys.stdout.write(
            f"\n{seen.total()} hostile requests: {found}; slowest {slowest[0]:.2f} s of CPU;"
            f"\nmemory {half:.0f} MB half-way, {resident[-1]:.0f} MB at most\n"
        )


def ask(client: FlaskClient, address: str, body: bytes, accept: str) -> None:
    begun = time.process_time()
    answer = client.post(
        address, data=body, content_type="application/json", headers={"Accept": accept}
    )
    taken = time.process_time() - begun
    assert answer.status_code < 500, (address, body[:2000])
    assert taken < SLOWEST, (taken, address, body[:2000])
    if answer.status_code >= 400:
        assert answer.mimetype == "application/problem+json"
        problem = json.loads(answer.data)
        assert problem["status"] == answer.status_code
        assert len(answer.data) < 200_000
    elif answer.mimetype == "application/json":
        json.loads(answer.data, parse_constant=pytest.fail)
    seen[answer.status_code] += 1
    slowest[0] = max(slowest[0], taken)
    resident.append(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0)


@pytest.mark.parametrize("address", sorted(set(ADDRESSES)))
def test_what_is_no_interoperable_json(client: FlaskClient, address: str) -> None:
    for body in RAW:
        ask(client, address, body, "application/json")


def test_hostile_bodies(client: FlaskClient) -> None:
    """No 5xx, none slow, and no more memory in the second half than in the first."""

    @settings(
        max_examples=REQUESTS,
        deadline=None,
        database=None,
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
    )
    @given(st.sampled_from(ADDRESSES), bodies, st.sampled_from(ACCEPTED))
    def send(address: str, body: bytes, accept: str) -> None:
        # The others do not offer every form.
        ask(client, address, body, accept if address == "/v1/advice" else "*/*")

    begun = len(resident)
    send()
    # ``ru_maxrss`` never falls, so this is the most there was.
    used = resident[begun:]
    assert len(used) >= REQUESTS // 2
    assert used[-1] - used[len(used) // 2] < MOST_GROWTH


def test_the_seed_itself_is_advised(client: FlaskClient) -> None:
    """Else everything above would be refused for the same reason."""
    assert client.post("/v1/advice", json=WHOLE).status_code == 200
