"""A backup is one state of the store, taken while others write; restored, it is all there."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import threading
from pathlib import Path

import pytest
from sqlalchemy import select, text

from service import create_app
from service.outfits.demo import DEMO
from service.storage import Store, StoreError, backup, schema
from service.storage.documents import Shelf
from service.storage.tables import Outfit, Rider
from tests import stores

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(autouse=True)
def _clients_of_postgresql() -> None:
    if os.environ.get(stores.POSTGRES) and shutil.which("pg_dump") is None:
        pytest.skip("needs pg_dump")


def riders(store: Store) -> list[str]:
    with store.reading() as session:
        return [rider.id for rider in Shelf(session, Rider, DEMO).page(10_000)]


def add(store: Store, *ids: str) -> None:
    with store.writing() as session:
        for rider_id in ids:
            Shelf(session, Rider, DEMO).add(rider_id, {"notes": "ä\n"}, name=None, level=None)


def test_what_was_backed_up_is_there_again_and_no_more(store: Store, tmp_path: Path) -> None:
    add(store, "a", "b")
    backup.backup(store, tmp_path / "copy")
    assert (tmp_path / "copy").stat().st_mode & 0o777 == 0o600
    add(store, "c")
    with store.writing() as session:
        Shelf(session, Rider, DEMO).remove("a", 1)
    backup.restore(store, tmp_path / "copy")
    assert riders(store) == ["a", "b"]
    # It is a store to work with, whose numbers go on.
    add(store, "c")
    assert riders(store) == ["a", "b", "c"]


@pytest.mark.parametrize("name", ["a#b", "a?b", "a%b", "a%41b", "a b"])
def test_a_folder_may_have_any_name(store: Store, tmp_path: Path, name: str) -> None:
    (tmp_path / name).mkdir()
    add(store, "a")
    backup.backup(store, tmp_path / name / "copy")
    add(store, "b")
    backup.restore(store, tmp_path / name / "copy")
    assert riders(store) == ["a"]


def test_a_backup_never_writes_over_a_file(store: Store, tmp_path: Path) -> None:
    (tmp_path / "copy").write_text("something else")
    with pytest.raises(FileExistsError):
        backup.backup(store, tmp_path / "copy")
    assert (tmp_path / "copy").read_text() == "something else"


def test_what_is_no_backup_changes_nothing(store: Store, tmp_path: Path) -> None:
    add(store, "a")
    backup.backup(store, tmp_path / "whole")
    whole = (tmp_path / "whole").read_bytes()
    for content in (b"", b"no database", whole[: len(whole) // 2]):
        (tmp_path / "broken").write_bytes(content)
        with pytest.raises(StoreError):
            backup.restore(store, tmp_path / "broken")
        assert riders(store) == ["a"]


def test_a_backup_made_before_a_migration_is_restored(empty_store: Store, tmp_path: Path) -> None:
    schema.upgrade(empty_store, "0001")
    with empty_store.writing() as session:  # in the columns of then
        at = {"at": "2025-07-01 10:00:00+00:00"}
        columns = "(id, name, time_zone, created)"
        then = text(f"INSERT INTO outfits {columns} VALUES ('then', 'Of then', 'UTC', :at)")  # noqa: S608
        session.execute(then, at)
    backup.backup(empty_store, tmp_path / "old")
    schema.upgrade(empty_store)
    with empty_store.writing() as session:
        session.add(Outfit(id="since", name="Of since"))
    backup.restore(empty_store, tmp_path / "old")
    assert schema.current(empty_store) == "0001"
    schema.upgrade(empty_store)
    assert not schema.differences(empty_store)
    with empty_store.reading() as session:
        assert session.scalars(select(Outfit.id)).all() == ["then"]


def test_a_backup_of_a_later_version_changes_nothing(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    add(store, "a")
    backup.backup(store, tmp_path / "later")
    add(store, "b")
    monkeypatch.setattr(backup, "later", lambda _revision: True)  # to a program before
    with pytest.raises(StoreError, match="later version"):
        backup.restore(store, tmp_path / "later")
    assert riders(store) == ["a", "b"]


def test_a_backup_while_others_write_has_whole_units_of_work(store: Store, tmp_path: Path) -> None:
    stop, number = threading.Event(), 0

    def write() -> None:
        nonlocal number
        while not stop.is_set():
            add(store, f"{number}-left", f"{number}-right")
            number += 1

    writer = threading.Thread(target=write)
    writer.start()
    try:
        while number < 5:
            pass
        for copy in range(3):
            backup.backup(store, tmp_path / f"copy{copy}")
    finally:
        stop.set()
        writer.join()
    for copy in range(3):
        backup.restore(store, tmp_path / f"copy{copy}")
        found = riders(store)
        count = len(found) // 2
        assert count >= 5
        assert sorted(found) == sorted(
            f"{n}-{side}" for n in range(count) for side in ("left", "right")
        )


def test_by_command(store: Store, tmp_path: Path) -> None:
    url = store.url.render_as_string(hide_password=False)
    app = create_app({"DATABASE_URL": url})
    runner = app.test_cli_runner()
    add(store, "a")
    target = str(tmp_path / "copy")
    assert runner.invoke(args=["db", "backup", target]).exit_code == 0
    assert runner.invoke(args=["db", "backup", target]).exit_code == 1
    add(store, "b")
    assert runner.invoke(args=["db", "restore", target]).exit_code == 1  # nobody confirmed
    assert riders(store) == ["a", "b"]
    assert runner.invoke(args=["db", "restore", "--yes", target]).exit_code == 0
    assert riders(store) == ["a"]
    app.extensions["store"].close()


def flask(url: str, *arguments: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "flask", "--app", "service", *arguments]
    environment = {**os.environ, "WAVESETUP_DATABASE_URL": url}
    return subprocess.run(
        command, cwd=ROOT, env=environment, capture_output=True, text=True, check=False
    )


@pytest.mark.skipif(bool(os.environ.get(stores.POSTGRES)), reason="a store in a file")
@pytest.mark.parametrize("left", [0, 150, 9000])
def test_a_damaged_store_is_restored_by_command(store: Store, tmp_path: Path, left: int) -> None:
    add(store, "a")
    backup.backup(store, tmp_path / "copy")
    store.close()
    assert store.path is not None
    damaged = store.path.read_bytes()[:left] or b"no database " * 500
    store.path.write_bytes(damaged)
    url = store.url.render_as_string()
    done = flask(url, "db", "restore", "--yes", str(tmp_path / "copy"))
    assert done.returncode == 0, done.stderr
    assert riders(store) == ["a"]
    assert Path(f"{store.path}.damaged").read_bytes() == damaged


@pytest.mark.skipif(
    bool(os.environ.get(stores.POSTGRES)), reason="there nothing migrates by itself"
)
def test_a_command_on_the_whole_store_leaves_its_schema(empty_store: Store, tmp_path: Path) -> None:
    schema.upgrade(empty_store, "0001")
    url = empty_store.url.render_as_string()
    assert flask(url, "db", "backup", str(tmp_path / "copy")).returncode == 0
    assert "0001" in flask(url, "db", "current").stdout
    assert schema.current(empty_store) == "0001"
    assert flask(url, "outfits", "create", "since", "--name", "Of since").returncode == 0
    assert schema.current(empty_store) == schema.head()


def test_the_newest_backups_are_kept(store: Store, tmp_path: Path) -> None:
    folder = tmp_path / "back ups"
    folder.mkdir()
    for old in ("wavesetup-20240101T000000Z.backup", "wavesetup-20240102T000000Z.backup", "mine"):
        (folder / old).write_text(old)
    url = store.url.render_as_string(hide_password=False)
    command = ["sh", str(ROOT / "deploy" / "backup.sh"), str(folder), "2"]
    subprocess.run(
        command, check=True, capture_output=True, env={**os.environ, "WAVESETUP_DATABASE_URL": url}
    )
    left = sorted(path.name for path in folder.iterdir())
    assert left[:2] == ["mine", "wavesetup-20240102T000000Z.backup"]
    assert len(left) == 3


def test_what_others_keep_in_the_same_database_stays(store: Store, tmp_path: Path) -> None:
    """A store may share a database; with a file of its own nothing else is in it."""
    if store.is_sqlite:
        pytest.skip("about PostgreSQL")
    backup.backup(store, tmp_path / "kept")
    with store.writing() as session:
        session.execute(text("CREATE TABLE of_others (number integer)"))
        session.execute(text("INSERT INTO of_others VALUES (7)"))
    backup.restore(store, tmp_path / "kept")
    with store.connected() as connection:
        assert connection.scalar(text("SELECT number FROM of_others")) == 7
