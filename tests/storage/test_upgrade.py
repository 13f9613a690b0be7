"""An upgrade keeps a way back: a backup before it, and a clear word from an older program."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
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

LATER = "9999"
MIGRATION = """
import sqlalchemy as sa
from alembic import op

revision, down_revision, branch_labels, depends_on = "9999", "{head}", None, None


def upgrade():
    op.add_column("outfits", sa.Column("later", sa.Text()))


def downgrade():
    op.drop_column("outfits", "later")
"""

Programs = Callable[[str], None]
"""Called with "this" or "later": which version of the program runs from now on."""


@pytest.fixture(autouse=True)
def _clients_of_postgresql() -> None:
    if os.environ.get(stores.POSTGRES) and shutil.which("pg_dump") is None:
        pytest.skip("needs pg_dump")


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Programs:
    """The later version of this program has one more migration."""
    folders = {"this": schema.FOLDER, "later": tmp_path / "migrations"}
    shutil.copytree(folders["this"], folders["later"])
    written = MIGRATION.format(head=schema.head())
    (folders["later"] / "versions" / f"{LATER}_later.py").write_text(written, "utf-8")
    return lambda program: monkeypatch.setattr(schema, "FOLDER", folders[program])


def riders(store: Store) -> list[str]:
    with store.reading() as session:
        return [rider.id for rider in Shelf(session, Rider, DEMO).page(100)]


def add(store: Store, rider: str) -> None:
    with store.writing() as session:
        Shelf(session, Rider, DEMO).add(rider, {}, name=None, level=None)


def test_an_upgrade_is_backed_up_and_the_backup_is_the_way_back(
    store: Store, run: Programs, tmp_path: Path
) -> None:
    this = schema.head()
    add(store, "then")
    run("later")
    schema.upgrade(store, before=backup.before_migration(store, tmp_path / "b"))
    assert schema.current(store) == LATER
    add(store, "since")

    run("this")
    with pytest.raises(StoreError, match="later version has migrated it"):
        schema.upgrade(store)
    (made,) = (tmp_path / "b").iterdir()
    assert f"-{this}-" in made.name
    assert made.stat().st_mode & 0o777 == 0o600
    backup.restore(store, made)
    assert schema.is_ready(store)
    assert riders(store) == ["then"]
    add(store, "again")

    # And forward once more, this time down again by the later program, which loses no rider.
    run("later")
    schema.upgrade(store)
    schema.downgrade(store, str(this))
    run("this")
    assert schema.is_ready(store)
    assert riders(store) == ["then", "again"]


def test_no_backup_no_migration(store: Store, run: Programs, tmp_path: Path) -> None:
    this = schema.head()
    run("later")
    (tmp_path / "file").write_text("")
    with pytest.raises(StoreError, match="Nothing was migrated"):
        schema.upgrade(store, before=backup.before_migration(store, tmp_path / "file"))
    assert schema.current(store) == this


def test_an_empty_or_current_store_is_not_backed_up(empty_store: Store, tmp_path: Path) -> None:
    for _ in range(2):
        schema.upgrade(empty_store, before=backup.before_migration(empty_store, tmp_path / "b"))
    assert not (tmp_path / "b").exists()


def test_the_start_of_the_service_backs_an_older_store_up(
    store: Store, run: Programs, tmp_path: Path
) -> None:
    if not store.is_sqlite:
        pytest.skip("PostgreSQL is migrated by a command")
    run("later")
    bring_up(store, tmp_path / "b")
    assert schema.current(store) == LATER
    assert len(list((tmp_path / "b").iterdir())) == 1


def test_the_program_says_that_it_is_older_than_the_store(
    store: Store, run: Programs, monkeypatch: pytest.MonkeyPatch
) -> None:
    url = store.url.render_as_string(hide_password=False)
    this = schema.head()
    run("later")
    schema.upgrade(store)
    run("this")
    if store.is_sqlite:
        with pytest.raises(StoreError, match=f"at {LATER}, this program only knows {this}"):
            create_app({"DATABASE_URL": url})
    monkeypatch.setenv("FLASK_RUN_FROM_CLI", "true")
    app = create_app({"DATABASE_URL": url, "TESTING": True})
    command = app.test_cli_runner().invoke
    shown = command(args=["db", "current"])
    assert "A later version of this program has migrated it." in shown.output
    refused = command(args=["db", "upgrade"])
    assert refused.exit_code == 1
    assert "restore the backup it made before its migration" in refused.output
    app.extensions["store"].close()


def test_readiness_says_which_of_the_two_is_behind(store: Store, run: Programs) -> None:
    url = store.url.render_as_string(hide_password=False)
    app = create_app({"DATABASE_URL": url, "TESTING": True})
    client = app.test_client()
    assert client.get("/readyz").status_code == 200
    this = schema.head()
    run("later")
    older = client.get("/readyz")
    assert older.status_code == 503
    assert f"is at {this}, this program needs {LATER}" in older.get_json()["detail"]
    schema.upgrade(store)
    run("this")
    assert "a later version has migrated it" in client.get("/readyz").get_json()["detail"]
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


def test_a_store_that_someone_writes_in_is_ready(store: Store) -> None:
    url = store.url.render_as_string(hide_password=False)
    app = create_app({"DATABASE_URL": url, "TESTING": True})
    with store.writing() as session:
        session.execute(text("UPDATE alembic_version SET version_num = version_num"))
        assert app.test_client().get("/readyz").status_code == 200
    app.extensions["store"].close()
