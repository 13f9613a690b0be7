"""What every test may ask for."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import AbstractContextManager

import pytest
from flask import Flask
from flask.testing import FlaskClient
from hypothesis import HealthCheck, settings
from sqlalchemy.orm import Session

from schemas.fleet import demo_fleet
from service import create_app
from service.api import limits
from service.boats.fleet import Fleet
from service.storage import Store
from tests import stores
from tests.size import SLOW


@pytest.fixture(scope="session", autouse=True)
def database(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A store of this test process's own, with the demo outfit; every application opens it.

    SQLite, or PostgreSQL where WAVESETUP_TEST_POSTGRES_URL names a server (and any database
    there that may be connected to, such as ``postgresql://postgres@127.0.0.1/postgres``).
    """
    with stores.fresh(tmp_path_factory.mktemp("store")) as url, pytest.MonkeyPatch.context() as env:
        env.setenv("WAVESETUP_DATABASE_URL", url)
        for limit in limits.SETTINGS:  # tests ask more than anybody; those about limits set them
            env.setenv(f"WAVESETUP_{limit}", "off")
        yield url


# One profile for all, so that a failure is of the code and not of the machine: no deadline, since
# an example of a millisecond took 1.3 s beside four busy processes; the same examples each time.
# Before a release others are drawn; what fails then is printed so that it can be repeated.
settings.register_profile(
    "wavesetup",
    deadline=None,
    derandomize=not SLOW,
    print_blob=True,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("wavesetup")

FOLDERS_THAT_KEEP = {"storage", "resources", "clients"}


def pytest_itemcollected(item: pytest.Item) -> None:
    if item.path.parent.name in FOLDERS_THAT_KEEP:
        item.add_marker("keeps")


@pytest.fixture(autouse=True)
def marked(request: pytest.FixtureRequest) -> Iterator[None]:
    """What writes in the store is marked ``keeps``: only that runs once more on PostgreSQL."""
    if request.node.get_closest_marker("keeps"):
        yield
        return
    written, writing = list[Store](), Store.writing

    def seen(store: Store) -> AbstractContextManager[Session]:
        written.append(store)
        return writing(store)

    with pytest.MonkeyPatch.context() as store:
        store.setattr(Store, "writing", seen)
        yield
    assert not written, "this test keeps something: mark it with pytest.mark.keeps"


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
