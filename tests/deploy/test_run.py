"""``deploy/run.sh``, from where the environment is set up: the program it starts."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest
import requests

from tests.production.server import SMALLEST, free_port

ROOT = Path(__file__).resolve().parents[2]
COMMAND = [sys.executable, str(ROOT / "deploy" / "run.py")]


def environment(folder: Path, **settings: str) -> dict[str, str]:
    kept = {k: v for k, v in os.environ.items() if k not in ("WAVESETUP_BIND", "WEB_CONCURRENCY")}
    return kept | {"WAVESETUP_DATABASE_URL": f"sqlite:///{folder}/store.sqlite"} | settings


@pytest.fixture
def taken() -> Iterator[None]:
    """Port 8000 is taken, by this test or by whatever else runs here."""
    with socket.socket() as sock:
        with suppress(OSError):
            sock.bind(("127.0.0.1", 8000))
            sock.listen()
        yield


def test_once_takes_a_free_port_where_the_usual_one_is_taken(taken: None, tmp_path: Path) -> None:
    done = subprocess.run(
        [*COMMAND, "--once"], env=environment(tmp_path), capture_output=True, text=True,
        check=False, timeout=120,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("Brindle Cove 7")


@pytest.mark.parametrize(("once", "settings"), [
    ([], {}), (["--once"], {"WAVESETUP_BIND": "127.0.0.1:8000"}),
])  # fmt: skip
def test_taken_port_is_an_error_where_someone_would_ask_there(
    taken: None, tmp_path: Path, once: list[str], settings: dict[str, str]
) -> None:
    done = subprocess.run(
        [*COMMAND, *once], env=environment(tmp_path, **settings), capture_output=True, text=True,
        check=False, timeout=60,
    )  # fmt: skip
    assert done.returncode == 1
    assert "Cannot listen on 127.0.0.1:8000" in done.stderr
    assert not done.stdout


def test_it_serves_with_50_idle_connections_open(tmp_path: Path) -> None:
    """As browsers leave them."""
    port = free_port()
    env = environment(tmp_path, WAVESETUP_BIND=f"127.0.0.1:{port}")
    with subprocess.Popen(COMMAND, env=env, stderr=subprocess.PIPE, text=True) as process:
        assert process.stderr is not None
        try:
            assert any(line.startswith("Serving on") for line in process.stderr)
            idle = [socket.create_connection(("127.0.0.1", port)) for _ in range(50)]
            for _ in range(5):
                answer = requests.post(
                    f"http://127.0.0.1:{port}/v1/advice", json=SMALLEST, timeout=20
                )
                assert answer.ok
            for each in idle:
                each.close()
        finally:
            process.terminate()
        assert process.wait(30) == 0
