"""Metrics fail alone: a full file system, a lost folder and dead workers cost no request."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest
import requests
from prometheus_client.mmap_dict import MmapedDict

from service.api.metric_files import SIZES, SharedFile
from tests.production.server import SMALLEST, Server, serving


@pytest.fixture
def tiny(tmp_path: Path) -> Iterator[Path]:
    """A file system in memory of 8 MB."""
    folder = tmp_path / "tiny"
    folder.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", "size=8m", "tmpfs", str(folder)]
    if subprocess.run(command, capture_output=True, check=False).returncode:
        pytest.skip("nothing can be mounted here: not tried")
    yield folder
    subprocess.run(["umount", "-l", str(folder)], check=True)


def fill(folder: Path) -> None:
    with suppress(OSError), (folder / "filler").open("wb", buffering=0) as file:
        while file.write(b"x" * 4096):
            pass


def ask(server: Server, times: int = 10) -> None:
    for _ in range(times):
        assert requests.post(server.url + "/v1/advice", json=SMALLEST, timeout=20).ok
        # A series that was not there before.
        requests.post(server.url + "/v1/loading", json={}, timeout=20)
        requests.get(server.url + "/v1/rules", timeout=20)


def counted(server: Server) -> float:
    text = requests.get(server.url + "/metrics", timeout=10).text
    found = re.search(r"^wavesetup_verdicts_total\{.*/v1/advice.*\} (\S+)$", text, re.MULTILINE)
    return float(found[1]) if found else 0.0


def test_file_system_that_fills_up_fails_no_request(
    database: str, tmp_path: Path, tiny: Path
) -> None:
    with serving(
        tmp_path / "log", workers=1, WAVESETUP_DATABASE_URL=database,
        PROMETHEUS_MULTIPROC_DIR=str(tiny),
    ) as server:  # fmt: skip
        fill(tiny)
        ask(server)
        assert counted(server) == 10.0
        assert "was sent" not in server.logged()


def test_file_system_that_is_full_fails_no_request(
    database: str, tmp_path: Path, tiny: Path
) -> None:
    fill(tiny)
    with serving(
        tmp_path / "log", WAVESETUP_DATABASE_URL=database, PROMETHEUS_MULTIPROC_DIR=str(tiny)
    ) as server:
        ask(server)
        assert requests.get(server.url + "/metrics", timeout=10).ok
        assert "metrics of this worker are not shared" in server.logged()
        assert "was sent" not in server.logged()


def test_dead_workers_leave_their_counts_and_no_files(database: str, tmp_path: Path) -> None:
    folder = tmp_path / "metrics"
    folder.mkdir()
    with serving(
        tmp_path / "log", workers=1, WAVESETUP_DATABASE_URL=database,
        PROMETHEUS_MULTIPROC_DIR=str(folder),
    ) as server:  # fmt: skip
        pid = server.process.pid
        for round_ in range(1, 4):
            ask(server, 1)
            assert counted(server) == round_
            files = sorted(path.name for path in folder.iterdir())
            before = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
            for each in before:
                os.kill(int(each), signal.SIGKILL)
            until = time.monotonic() + 30.0
            while set(before) & set(Path(f"/proc/{pid}/task/{pid}/children").read_text().split()):
                assert time.monotonic() < until
                time.sleep(0.05)
            requests.get(server.url + "/readyz", timeout=30)
        assert sorted(path.name for path in folder.iterdir()) == files
        assert len(files) == len({path.partition("_")[0] for path in files})


def test_folders_of_dead_servers_are_removed(database: str, tmp_path: Path) -> None:
    with serving(tmp_path / "log", WAVESETUP_DATABASE_URL=database) as server:
        folder = _folder_of(server)
        children = Path(f"/proc/{server.process.pid}/task/{server.process.pid}/children")
        pids = [server.process.pid, *map(int, children.read_text().split())]
        for pid in pids:
            os.kill(pid, signal.SIGKILL)
        server.process.wait(10)
        assert folder.exists()
    with serving(tmp_path / "log", WAVESETUP_DATABASE_URL=database) as server:
        assert not folder.exists()
        mine = _folder_of(server)
        assert mine.exists()
    assert not mine.exists()


def _folder_of(server: Server) -> Path:
    """That of the socket between the front and its workers."""
    descriptors = Path(f"/proc/{server.process.pid}/fd").iterdir()
    (lock,) = {
        path
        for each in descriptors
        if (path := each.readlink()).name == "lock" and "wavesetup-" in str(path)
    }
    return lock.parent


def test_file_that_is_full_counts_what_it_has(tmp_path: Path) -> None:
    path = tmp_path / "counter_0.db"
    file = SharedFile(str(path))
    for number in range(5000):
        file.write_value(f"series-{number}-{'x' * 60}", 1.0, 0.0)
    assert path.stat().st_size == SIZES["counter"]
    file.write_value("series-0-" + "x" * 60, 2.0, 0.0)
    found = {key: value for key, value, *_ in MmapedDict.read_all_values_from_file(str(path))}
    assert found["series-0-" + "x" * 60] == 2.0
    assert 1000 < len(found) < 5000
    assert set(found.values()) == {1.0, 2.0}
    file.close()
    # A worker that takes the slot goes on from there.
    again = SharedFile(str(path))
    assert again.read_value("series-0-" + "x" * 60)[0] == 2.0
    again.close()


def test_file_that_is_broken_is_removed(tmp_path: Path) -> None:
    path = tmp_path / "counter_0.db"
    path.write_bytes(b"\xff" * 100_000)
    file = SharedFile(str(path))
    file.write_value("a", 1.0, 0.0)
    assert file.read_value("a")[0] == 1.0
    assert not path.exists()
    file.close()
