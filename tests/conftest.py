"""What every test may ask for."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from flask import Flask
from flask.testing import FlaskClient

from schemas.fleet import demo_fleet
from service import create_app
from service.boats.fleet import Fleet
from tests import stores


@pytest.fixture(scope="session", autouse=True)
def database(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A store of this test process's own, with the demo outfit; every application opens it.

    SQLite, or PostgreSQL where WAVESETUP_TEST_POSTGRES_URL names a server (and any database
    there that may be connected to, such as ``postgresql://postgres@127.0.0.1/postgres``).
    """
    with stores.fresh(tmp_path_factory.mktemp("store")) as url, pytest.MonkeyPatch.context() as env:
        env.setenv("WAVESETUP_DATABASE_URL", url)
        yield url


@pytest.fixture(scope="session")
def fleet() -> Fleet:
    """The demo fleet."""
    return demo_fleet()


@pytest.fixture(scope="session")
def app(database: str) -> Iterator[Flask]:
    """The application as it is shipped, one for all that leave it as it is."""
    made = create_app({"TESTING": True})
    yield made
    made.extensions["store"].close()


@pytest.fixture
def client(app: Flask) -> FlaskClient:
    """A client of that application."""
    return app.test_client()
