"""What a list costs by what is stored: the same answers from a thousand runs and from a million.

Everything costs what it shows, but for two, which grow with the entries of an index: what is
asked of a boat and hardly any of her runs has, and how often a rule fired.

``python -m tests.bench.stored --rows 1000000`` on the database that the tests use: SQLite, or
PostgreSQL where ``WAVESETUP_TEST_POSTGRES_URL`` names a server.
"""

from __future__ import annotations

import argparse
import base64
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from flask.testing import FlaskClient

from service import create_app
from service.outfits import keys
from service.outfits.demo import DEMO
from service.outfits.keys import Scope
from service.storage import Store
from tests import stores
from tests.bench import asked
from tests.stored_runs import BEGIN, RULES, fill, started

REPEAT = 15
SIZES = (1_000, 10_000, 100_000, 1_000_000)


def mark(number: int) -> str:
    """As a link to a next page has it."""
    return base64.urlsafe_b64encode(str(number).encode()).decode()


def addresses(rows: int) -> dict[str, str]:
    """What is asked; ``rows`` is how many runs there are."""
    late = f"{started(rows - 50):%Y-%m-%dT%H:%M:%SZ}"
    return {
        "first page of runs": "/v1/runs",
        "page in the middle": f"/v1/runs?after={mark(rows // 2)}",
        "last page": f"/v1/runs?after={mark(rows - 50)}",
        "of a boat": "/v1/runs?boat=demo-7m",
        "of a rider": "/v1/runs?rider=rider-3",
        "of a boat and a rider": "/v1/runs?boat=demo-7m&rider=rider-3",
        "of a boat, a rating that none has": "/v1/runs?boat=demo-7m&rating=5",
        "the first two days": f"/v1/runs?since={BEGIN:%Y-%m-%d}T00:00:00Z"
        f"&until={BEGIN:%Y-%m}-03T00:00:00Z",
        "since the last fifty": f"/v1/runs?since={late}",
        "one run": f"/v1/runs/run-{rows // 2}",
        "a rule with its counts": f"/v1/rules/{RULES[0]}",
        "bookings of a day": "/v1/bookings?date=2030-01-02",
    }


def milliseconds(client: FlaskClient, address: str, body: dict[str, Any] | None = None) -> float:
    """The least of several answers: elapsed, since a database works in a process of its own."""
    taken = []
    for _ in range(REPEAT):
        begun = time.perf_counter()
        got = client.get(address) if body is None else client.post(address, json=body)
        taken.append(1e3 * (time.perf_counter() - begun))
        assert got.status_code == 200, got.text
    return min(taken)


def columns(most: int) -> Iterator[tuple[int, dict[str, float]]]:
    """For each size up to ``most`` what each question took (ms)."""
    with tempfile.TemporaryDirectory() as folder, stores.fresh(Path(folder)) as url:
        store = Store(url)
        with store.writing() as session:
            _, key = keys.issue(session, DEMO, "bench", Scope)
        app = create_app({"DATABASE_URL": url, "LOG_LEVEL": "warning"})
        client = app.test_client()
        client.environ_base["HTTP_AUTHORIZATION"] = f"Bearer {key}"
        already = 0
        for rows in [size for size in SIZES if size < most] + [most]:
            fill(store, rows, already)
            already = rows
            found = {what: milliseconds(client, at) for what, at in addresses(rows).items()}
            found["advice for a boat with a third of them"] = milliseconds(
                client, "/v1/advice", asked.advice()[0]
            )
            yield rows, found
        app.extensions["store"].close()
        store.close()


def rows(most: int) -> Iterator[tuple[str, ...]]:
    """A line for each question: what, then milliseconds at each size."""
    measured = [found for _, found in columns(most)]
    for what in measured[0]:
        yield (what, *(f"{found[what]:.1f}" for found in measured))


def head(most: int) -> tuple[str, ...]:
    sizes = [size for size in SIZES if size < most] + [most]
    return ("ms, least of several", *(f"{size:,} runs" for size in sizes))


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=1_000_000)
    most = parser.parse_args().rows
    sys.stdout.write(f"{' | '.join(head(most))}\n")
    for line in rows(most):
        sys.stdout.write(f"{' | '.join(line)}\n")
