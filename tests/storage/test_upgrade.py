"""An upgrade keeps a way back: a backup before it, and a clear word from an older program."""

from __future__ import annotations

import os
import shutil
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import event, text

from service import create_app
from service.outfits.demo import DEMO, bring_up
from service.storage import Store, StoreError, backup, schema
from service.storage.documents import Shelf
from service.storage.tables import Rider
from tests import stores

BEFORE_LAST = "0005"


@pytest.fixture(autouse=True)
def _clients_of_postgresql() -> None:
    if os.environ.get(stores.POSTGRES) and shutil.which("pg_dump") is None:
        pytest.skip("needs pg_dump")


@pytest.fixture
def older_program(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> pytest.MonkeyPatch:
    """This program without its later migrations; undone, it is the new one."""
    folder = tmp_path / "migrations"
    shutil.copytree(schema.FOLDER, folder)
    for path in (folder / "versions").glob("0*.py"):
        if path.name[:4] > BEFORE_LAST:
            path.unlink()
    monkeypatch.setattr(schema, "FOLDER", folder)
    return monkeypatch


def riders(store: Store) -> list[str]:
    with store.reading() as session:
        return [rider.id for rider in Shelf(session, Rider, DEMO).page(100)]


def add(store: Store, rider: str) -> None:
    with store.writing() as session:
        Shelf(session, Rider, DEMO).add(rider, {}, name=None, level=None)


def demo(store: Store) -> None:
    with store.writing() as session:
        session.execute(
            text(
                "INSERT INTO outfits (id, name, time_zone, created) VALUES (:id, 'x', 'UTC', :at)"
            ),
            {"id": DEMO, "at": "2025-07-01 10:00:00+00:00"},
        )


def test_an_upgrade_is_backed_up_and_the_backup_is_the_way_back(
    empty_store: Store, older_program: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    older, new = schema.FOLDER, Path(schema.__file__).parent / "migrations"
    schema.upgrade(empty_store)
    demo(empty_store)
    add(empty_store, "then")

    older_program.setattr(schema, "FOLDER", new)
    schema.upgrade(empty_store, before=backup.before_migration(empty_store, tmp_path / "b"))
    assert schema.is_ready(empty_store)
    add(empty_store, "since")

    older_program.setattr(schema, "FOLDER", older)
    with pytest.raises(StoreError, match="later version has migrated it"):
        schema.upgrade(empty_store)
    (made,) = (tmp_path / "b").iterdir()
    assert f"-{BEFORE_LAST}-" in made.name
    assert made.stat().st_mode & 0o777 == 0o600
    backup.restore(empty_store, made)
    assert schema.is_ready(empty_store)
    assert riders(empty_store) == ["then"]
    add(empty_store, "again")

    # And forward once more, this time down again by the new program, which loses no rider.
    older_program.setattr(schema, "FOLDER", new)
    schema.upgrade(empty_store)
    schema.downgrade(empty_store, BEFORE_LAST)
    older_program.setattr(schema, "FOLDER", older)
    assert schema.is_ready(empty_store)
    assert riders(empty_store) == ["then", "again"]


def test_no_backup_no_migration(
    empty_store: Store, older_program: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    schema.upgrade(empty_store)
    older_program.setattr(schema, "FOLDER", Path(schema.__file__).parent / "migrations")
    (tmp_path / "file").write_text("")
    with pytest.raises(StoreError, match="Nothing was migrated"):
        schema.upgrade(empty_store, before=backup.before_migration(empty_store, tmp_path / "file"))
    assert schema.current(empty_store) == BEFORE_LAST


def test_an_empty_or_current_store_is_not_backed_up(empty_store: Store, tmp_path: Path) -> None:
    for _ in range(2):
        schema.upgrade(empty_store, before=backup.before_migration(empty_store, tmp_path / "b"))
    assert not (tmp_path / "b").exists()


def test_the_commands_say_that_the_program_is_older_than_the_store(
    store: Store, older_program: pytest.MonkeyPatch
) -> None:
    url = store.url.render_as_string(hide_password=False)
    if store.is_sqlite:
        with pytest.raises(
            StoreError, match=f"at {schema.current(store)}.*only knows {BEFORE_LAST}"
        ):
            create_app({"DATABASE_URL": url})
        with pytest.raises(StoreError, match="later version"):
            bring_up(store)
    older_program.setenv("FLASK_RUN_FROM_CLI", "true")
    app = create_app({"DATABASE_URL": url, "TESTING": True})
    run = app.test_cli_runner().invoke
    shown = run(args=["db", "current"])
    assert "A later version of this program has migrated it." in shown.output
    refused = run(args=["db", "upgrade"])
    assert refused.exit_code == 1
    assert "restore the backup it made before its migration" in refused.output
    app.extensions["store"].close()


def test_readiness_says_which_of_the_two_is_behind(
    store: Store, older_program: pytest.MonkeyPatch
) -> None:
    new = Path(schema.__file__).parent / "migrations"
    older, url = schema.FOLDER, store.url.render_as_string(hide_password=False)
    older_program.setattr(schema, "FOLDER", new)
    app = create_app({"DATABASE_URL": url, "TESTING": True})
    client = app.test_client()
    assert client.get("/readyz").status_code == 200
    older_program.setattr(schema, "FOLDER", older)
    later = client.get("/readyz")
    assert later.status_code == 503
    assert "later version" in later.get_json()["detail"]
    older_program.setattr(schema, "FOLDER", new)
    schema.downgrade(store, BEFORE_LAST)
    assert f"is at {BEFORE_LAST}" in client.get("/readyz").get_json()["detail"]
    app.extensions["store"].close()


def test_readiness_tells_a_store_that_cannot_be_written(store: Store) -> None:
    url = store.url.render_as_string(hide_password=False)
    app = create_app({"DATABASE_URL": url, "TESTING": True})
    client, opened = app.test_client(), app.extensions["store"]
    assert client.get("/readyz").status_code == 200
    opened.close()

    @event.listens_for(opened.engine, "connect")
    def read_only(connection: Any, _record: object) -> None:
        sqlite = "PRAGMA query_only = ON"
        postgresql = "SET SESSION CHARACTERISTICS AS TRANSACTION READ ONLY"
        connection.execute(sqlite if store.is_sqlite else postgresql)
        if not store.is_sqlite:
            connection.commit()

    refused = client.get("/readyz")
    assert refused.status_code == 503
    assert "nothing can be written" in refused.get_json()["detail"]
    opened.close()


def test_a_store_that_somebody_writes_in_is_ready(store: Store) -> None:
    url = store.url.render_as_string(hide_password=False)
    app = create_app({"DATABASE_URL": url, "TESTING": True})
    with store.writing() as session:
        session.execute(text("UPDATE alembic_version SET version_num = version_num"))
        assert app.test_client().get("/readyz").status_code == 200
    app.extensions["store"].close()
