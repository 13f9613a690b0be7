"""A rehearsal: a PostgreSQL of the test's own is lost, and is there again as of a moment."""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import tempfile
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

import pytest
from sqlalchemy import text

from service.outfits.demo import DEMO, add_demo
from service.storage import Store, schema
from service.storage.documents import Shelf
from service.storage.tables import Rider
from tests.production.server import free_port

ROOT = Path(__file__).resolve().parents[2]
SCRIPT = ROOT / "deploy" / "point-in-time.sh"
PATIENCE = 120.0


def _programs() -> str | None:
    """The folder of the server's programs."""
    folders = sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)
    needed = ("initdb", "pg_ctl", "pg_basebackup", "pg_verifybackup")
    for folder in [*map(str, folders), os.path.dirname(shutil.which("initdb") or "")]:  # noqa: PTH120
        if folder and all(Path(folder, name).exists() for name in needed):
            return folder
    return None


BIN = _programs()
pytestmark = pytest.mark.skipif(BIN is None, reason="needs the server programs of PostgreSQL")


@pytest.fixture
def folder() -> Iterator[Path]:
    """One that the database's user may write in: the server refuses to run as root."""
    with tempfile.TemporaryDirectory(prefix="wavesetup-rehearsal-", dir="/tmp") as name:
        if os.geteuid() == 0:
            shutil.chown(name, "postgres", "postgres")
        shutil.copy(SCRIPT, name)  # where that user may read it
        yield Path(name)


def run(*command: str | Path) -> str:
    """Runs as the database's user; what it wrote. Fails with what it complained of."""
    environment: Mapping[str, str] = {**os.environ, "PATH": f"{BIN}:{os.environ['PATH']}"}
    root = os.geteuid() == 0
    user = pwd.getpwnam("postgres") if root else None
    done = subprocess.run(
        [str(part) for part in command], env=environment, capture_output=True, text=True,
        cwd="/", check=False, timeout=PATIENCE,
        user=user.pw_uid if user else None, group=user.pw_gid if user else None,
        extra_groups=[] if user else None,
    )  # fmt: skip
    assert done.returncode == 0, (command, done.stdout, done.stderr)
    return done.stdout


@contextmanager
def running(data: Path, port: int) -> Iterator[str]:
    """The URL of a server on ``data``."""
    options = f"-p {port} -c listen_addresses=127.0.0.1 -c unix_socket_directories={data.parent}"
    log = data.parent / f"{data.name}.log"
    run(f"{BIN}/pg_ctl", "start", "-w", "-D", data, "-o", options, "-l", log, "-t", "100")
    try:
        yield f"postgresql://postgres@127.0.0.1:{port}/postgres"
    finally:
        run(f"{BIN}/pg_ctl", "stop", "-w", "-D", data, "-m", "immediate")


def riders(store: Store) -> list[str]:
    with store.reading() as session:
        return [rider.id for rider in Shelf(session, Rider, DEMO).page(100)]


def add(store: Store, rider: str) -> None:
    with store.writing() as session:
        Shelf(session, Rider, DEMO).add(rider, {}, name=None, level=None)


def asked(store: Store, query: str) -> str:
    with store.connected() as connection:
        return str(connection.scalar(text(query)))


def until_archived(store: Store) -> None:
    """Has the log of everything so far written to the archive."""
    wanted = asked(store, "SELECT pg_walfile_name(pg_current_wal_lsn())")
    asked(store, "SELECT pg_switch_wal()")
    end = time.monotonic() + PATIENCE
    while asked(store, "SELECT last_archived_wal FROM pg_stat_archiver") < wanted:
        assert time.monotonic() < end, "the archive got nothing"
        time.sleep(0.1)


def test_a_lost_store_is_restored_to_a_moment(folder: Path) -> None:
    data, archive, port = folder / "data", folder / "archive", free_port()
    script = folder / SCRIPT.name
    run(f"{BIN}/initdb", "--auth=trust", "--username=postgres", "--no-sync", "-D", data)
    run("mkdir", archive)
    settings = run("sh", script, "settings", archive)
    with (data / "postgresql.conf").open("a", encoding="utf-8") as out:
        out.write(settings)

    with running(data, port) as url:
        store = Store(url)
        schema.upgrade(store)
        with store.writing() as session:
            add_demo(session)
        add(store, "before-the-base-backup")
        run("sh", script, "base", folder / "base", url)
        add(store, "before-the-mishap")
        moment = asked(store, "SELECT clock_timestamp()")
        time.sleep(0.1)
        with store.writing() as session:
            session.execute(text("DELETE FROM riders"))
        until_archived(store)
        assert riders(store) == []
        store.close()
    shutil.rmtree(data)

    again = folder / "again"
    run("sh", script, "restore", folder / "base", archive, again, moment)
    with running(again, port) as url:
        store = Store(url)
        end = time.monotonic() + PATIENCE
        while asked(store, "SELECT pg_is_in_recovery()") == "True" and time.monotonic() < end:
            time.sleep(0.1)
        assert riders(store) == ["before-the-base-backup", "before-the-mishap"]
        assert schema.is_ready(store)
        add(store, "after-the-restore")
        assert riders(store)[-1] == "after-the-restore"
        store.close()


def test_a_restore_never_writes_over_a_folder(folder: Path) -> None:
    done = subprocess.run(
        ["sh", str(SCRIPT), "restore", "/none", "/none", str(folder), "2025-07-05 14:30:00+00"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 1
    assert done.stderr == f"{folder} is there already.\n"
