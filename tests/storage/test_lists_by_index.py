"""Every list is found by an index, on either database: asked of the database itself.

The statements are those that the service sends; ``EXPLAIN`` says how they are carried out.
"""

from __future__ import annotations

import base64
import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import Connection, event

from service import create_app
from service.outfits import keys
from service.outfits.demo import DEMO
from service.outfits.keys import Scope
from service.storage import Store
from tests import stores
from tests.stored_runs import RULES, fill

RUNS = 4_000
FEW = 200
# As a link to a next page has it; what it was made with is looked at only where it is gone.
MIDDLE = base64.urlsafe_b64encode(b"0..run-2000").decode()

LISTS = (
    "/v1/boats",
    "/v1/riders",
    "/v1/setups?boat=demo-7m",
    "/v1/setups?rider=rider-3",
    "/v1/runs",
    f"/v1/runs?after={MIDDLE}",
    "/v1/runs?boat=demo-7m",
    f"/v1/runs?boat=demo-7m&after={MIDDLE}",
    "/v1/runs?rider=rider-3",
    "/v1/runs?boat=demo-7m&rider=rider-3",
    "/v1/runs?boat=demo-7m&rating=4",
    "/v1/runs?since=2030-01-02T00:00:00Z",
    "/v1/runs?since=2030-01-02T00:00:00Z&until=2030-01-03T00:00:00Z",
    "/v1/runs/run-77",
    "/v1/bookings?date=2030-01-02",
    "/v1/boats/demo-7m/calibrations",
    f"/v1/rules/{RULES[0]}",
)
TABLES = "boats|riders|setups|runs|run_rules|bookings|calibrations"


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """A store with thousands of runs; nobody writes to it."""
    with stores.fresh(tmp_path_factory.mktemp("many")) as url:
        store = Store(url)
        fill(store, RUNS)
        yield store
        store.close()


@pytest.fixture(scope="module")
def app(store: Store) -> Iterator[Flask]:
    url = store.url.render_as_string(hide_password=False)
    app = create_app({"DATABASE_URL": url, "TESTING": True})
    yield app
    app.extensions["store"].close()


@pytest.fixture(scope="module")
def client(app: Flask, store: Store) -> FlaskClient:
    """A client with a key of the outfit whose runs they are."""
    with store.writing() as session:
        _, key = keys.issue(session, DEMO, "test", Scope)
    client = app.test_client()
    client.environ_base["HTTP_AUTHORIZATION"] = f"Bearer {key}"
    return client


@contextmanager
def selects(store: Store) -> Iterator[list[tuple[str, Any]]]:
    """The statements that read a list while the block runs, each with its parameters."""
    seen: list[tuple[str, Any]] = []

    def note(_c: Connection, _cursor: Any, sql: str, parameters: Any, *_: Any) -> None:
        if re.search(rf"\bFROM ({TABLES})\b", sql):
            seen.append((sql, parameters))

    event.listen(store.engine, "before_cursor_execute", note)
    try:
        yield seen
    finally:
        event.remove(store.engine, "before_cursor_execute", note)


def plan(store: Store, sql: str, parameters: Any) -> str:
    """How the database carries a statement out, in its own words."""
    with store.connected() as connection:
        how = "EXPLAIN QUERY PLAN" if store.is_sqlite else "EXPLAIN"
        rows = connection.exec_driver_sql(f"{how} {sql}", parameters).all()
    return "\n".join(str(row[-1]) for row in rows)


def slow(store: Store, found: str) -> list[str]:
    """Lines of a plan that look through a whole table, or sort more than a few rows.

    A few that an index found by their time may well be sorted.
    """
    if store.is_sqlite:
        bad = r"^SCAN |TEMP B-TREE FOR ORDER"
        return [line for line in found.splitlines() if re.search(bad, line)]
    return [
        line
        for line in found.splitlines()
        if "Seq Scan on" in line
        or ((sort := re.search(r"\bSort .* rows=(\d+)", line)) and int(sort[1]) > FEW)
    ]


@pytest.mark.parametrize("address", LISTS)
def test_lists_are_found_by_index(app: Flask, client: FlaskClient, address: str) -> None:
    store: Store = app.extensions["store"]
    with selects(store) as seen:
        assert client.get(address).status_code == 200
    assert seen
    for sql, parameters in seen:
        found = plan(store, sql, parameters)
        assert not slow(store, found), f"{sql}\n{found}"


@pytest.mark.parametrize(
    "sql",
    ["SELECT * FROM runs WHERE card = 'x'", "SELECT * FROM runs ORDER BY rule_set, card"],
)
def test_a_look_through_everything_would_be_seen(store: Store, sql: str) -> None:
    assert slow(store, plan(store, sql, ()))
