"""The database is taken away under a running service: what needs none of it is answered."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import make_url

from service import create_app
from service.api import errors
from service.outfits import keys
from service.outfits.demo import DEMO
from service.outfits.keys import Scope
from service.storage import Store
from tests import stores
from tests.outings.boats import body
from tests.production.server import SMALLEST

DEMO_BOAT = Path(__file__).parents[2] / "service" / "boats" / "demo" / "demo-7m.json"
INLINE = SMALLEST | {"boat": json.loads(DEMO_BOAT.read_text("utf-8"))}
LOADED = {name: SMALLEST[name] for name in ("boat", "crew")}
STATELESS: list[tuple[str, dict[str, Any]]] = [
    ("/v1/advice", SMALLEST),
    ("/v1/advice", INLINE),
    ("/v1/loading", LOADED),
    ("/v1/tuning", {**SMALLEST, "seen": ["too_steep"]}),
    ("/v1/outing-plans", body(3)),
]


@pytest.fixture
def url(tmp_path: Path) -> Iterator[str]:
    (tmp_path / "store").mkdir()
    with stores.fresh(tmp_path / "store") as url:
        yield url


def take_away(app: Flask, folder: Path) -> None:
    """As if its machine were gone: connections break, and there are no new ones."""
    store: Store = app.extensions["store"]
    if store.is_sqlite:
        store.engine.dispose()
        shutil.move(folder / "store", folder / "elsewhere")
        return
    server = store.url.set(database="postgres", drivername="postgresql")
    name = store.url.database
    stores._on_server(make_url(server), f"ALTER DATABASE {name} ALLOW_CONNECTIONS false")
    stores._on_server(
        make_url(server),
        f"SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = '{name}'",  # noqa: S608
    )


@pytest.mark.parametrize("warm", [True, False])
def test_stateless_work_is_answered_while_the_store_is_away(
    url: str, tmp_path: Path, warm: bool
) -> None:
    app = create_app({"DATABASE_URL": url, "LOG_LEVEL": "error"})
    client = app.test_client()
    store: Store = app.extensions["store"]
    with store.writing() as session:
        _, token = keys.issue(session, DEMO, "away", [Scope.READ])
    before = {}
    if warm:
        for address, sent in STATELESS:
            before[address] = client.post(address, json=sent).data
    take_away(app, tmp_path)
    for address, sent in STATELESS:
        answer = client.post(address, json=sent)
        assert answer.status_code == 200, answer.text
        if warm and sent is not INLINE and address != "/v1/advice":
            assert answer.data == before[address]
    assert client.get("/readyz").status_code == 503
    refused = with_key(client, token).post("/v1/advice", json=SMALLEST)
    assert refused.status_code == 503
    assert refused.get_json(force=True)["type"] == errors.STORE_AWAY
    assert int(refused.headers["Retry-After"]) > 0


def with_key(client: FlaskClient, token: str) -> FlaskClient:
    keyed = client.application.test_client()
    keyed.environ_base["HTTP_AUTHORIZATION"] = f"Bearer {token}"
    return keyed
