"""Migrations go up, down and up again, and make exactly the tables that the program has."""

from __future__ import annotations

import gc
import os
import subprocess
import sys
import weakref
from pathlib import Path

import pytest
from flask import Flask
from sqlalchemy import inspect, select

from service import create_app
from service.outfits.demo import DEMO
from service.storage import Store, StoreError, schema, usage
from service.storage.documents import Shelf
from service.storage.tables import Boat, Outfit

ROOT = Path(__file__).resolve().parents[2]


def boats_of(store: Store) -> list[str]:
    with store.reading() as session:
        return [boat.id for boat in Shelf(session, Boat, DEMO).page(10)]


def tables_of(store: Store) -> list[str]:
    with store.connected() as connection:
        return inspect(connection).get_table_names()


def test_up_down_and_up_again(empty_store: Store) -> None:
    assert tables_of(empty_store) == []
    assert not schema.is_ready(empty_store)
    for _ in range(2):
        schema.upgrade(empty_store)
        assert schema.is_ready(empty_store)
        assert schema.differences(empty_store) == []
        schema.downgrade(empty_store)
        assert schema.current(empty_store) is None
    schema.upgrade(empty_store)
    assert schema.is_ready(empty_store)


def test_down_and_up_again_loses_no_boat_and_counts_what_is_stored(store: Store) -> None:
    """Also where rows refer to one another, which keeps SQLite from writing a table anew."""

    def counted() -> list[tuple[int, int]]:
        with store.reading() as session:
            return [(one.rows, one.bytes) for one in session.scalars(select(Outfit))]

    for revision in ("0009", "0001"):
        schema.downgrade(store, revision)
        schema.upgrade(store)
        assert boats_of(store) == ["demo-6m", "demo-7m", "demo-8m"]
        found = counted()
        assert found[0] > (0, 0)
        with store.writing() as session:
            usage.recount(session, DEMO)
        assert counted() == found


def test_to_upgrade_twice_changes_nothing(store: Store) -> None:
    schema.upgrade(store)
    assert boats_of(store) == ["demo-6m", "demo-7m", "demo-8m"]


def test_several_processes_may_bring_an_empty_store_up_at_once(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path}/new/wavesetup.sqlite"
    # As a server's workers do, but with everything imported: they meet in the store.
    program = f"""
import multiprocessing, service, service.api
fork = multiprocessing.get_context("fork")
told = {{"DATABASE_URL": {url!r}}}
workers = [fork.Process(target=service.create_app, args=(told,)) for _ in range(4)]
for worker in workers: worker.start()
for worker in workers: worker.join()
assert [worker.exitcode for worker in workers] == [0, 0, 0, 0]
"""
    one_thread = os.environ | {"OPENBLAS_NUM_THREADS": "1"}  # Python minds a fork of several
    subprocess.run(
        [sys.executable, "-W", "error", "-c", program], cwd=ROOT, env=one_thread, check=True
    )
    store = Store(url)
    assert boats_of(store) == ["demo-6m", "demo-7m", "demo-8m"]
    store.close()


def test_the_application_leaves_an_empty_postgresql_to_the_operator(empty_store: Store) -> None:
    if empty_store.is_sqlite:
        pytest.skip("about PostgreSQL")
    url = empty_store.url.render_as_string(hide_password=False)
    app = create_app({"DATABASE_URL": url, "TESTING": True})
    answer = app.test_client().get("/readyz")
    assert (answer.status_code, answer.mimetype) == (503, "application/problem+json")
    assert tables_of(empty_store) == []
    upgraded = app.test_cli_runner().invoke(args=["db", "upgrade"])
    assert upgraded.output == f"The schema stands at {schema.head()}.\n"
    assert app.test_client().get("/readyz").status_code == 200
    app.extensions["store"].close()


@pytest.mark.parametrize(
    "url", ["", "nonsense", "mysql://host/name", "sqlite://", "sqlite:///:memory:", "sqlite:///"]
)
def test_a_store_that_cannot_be_is_refused_at_the_start(url: str) -> None:
    with pytest.raises(StoreError, match="WAVESETUP_DATABASE_URL"):
        create_app({"DATABASE_URL": url})


def test_sqlite_is_opened_as_it_has_to_be(store: Store) -> None:
    if not store.is_sqlite:
        pytest.skip("about SQLite")
    wanted = {"journal_mode": "wal", "foreign_keys": 1, "synchronous": 2, "busy_timeout": 3_000}
    with store.connected() as connection:
        for name, value in wanted.items():
            assert connection.exec_driver_sql(f"PRAGMA {name}").scalar() == value


def test_a_store_that_is_dropped_lets_its_connections_go(store: Store) -> None:
    """The hook for forks stays as long as the process; it must not hold the store."""
    another = Store(store.url.render_as_string(hide_password=False))
    with another.connected() as connection:
        connection.exec_driver_sql("SELECT 1")
    engine = weakref.ref(another.engine)
    del another, connection
    gc.collect()
    assert engine() is None


def test_nothing_of_the_store_lies_in_the_open(app: Flask, tmp_path: Path) -> None:
    """The default is in a folder with a dot, which git ignores."""
    done = subprocess.run(
        [sys.executable, "-c", "import service; service.create_app()"],
        cwd=tmp_path, env={"PYTHONPATH": str(ROOT)}, check=True,
    )  # fmt: skip
    assert done.returncode == 0
    assert [path.name for path in tmp_path.iterdir()] == [".data"]
    assert "/.data/" in (ROOT / ".gitignore").read_text("utf-8").splitlines()
