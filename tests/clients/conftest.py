"""The service as a client meets it: gunicorn, two workers, on loopback."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest

from service.outfits import keys
from service.outfits.demo import DEMO
from service.outfits.keys import Scope
from service.storage import Store
from tests import stores

ROOT = Path(__file__).resolve().parents[2]


@dataclass(frozen=True)
class Running:
    """A running service, the store behind it, a key of its demo outfit, its process."""

    url: str
    store: Store
    key: str
    process: subprocess.Popen[bytes]

    def workers(self) -> list[int]:
        listed = subprocess.run(
            ["pgrep", "-P", str(self.process.pid)], capture_output=True, text=True, check=False
        )
        return [int(line) for line in listed.stdout.split()]


@contextmanager
def running(folder: Path, workers: int = 2) -> Iterator[Running]:
    """A service of its own, on a store of its own."""
    with stores.fresh(folder) as database:
        store = Store(database)
        with store.writing() as session:
            _, key = keys.issue(session, DEMO, "client", Scope)
        with socket.create_server(("127.0.0.1", 0)) as probe:
            port = probe.getsockname()[1]
        process = subprocess.Popen(
            [sys.executable, "-m", "gunicorn", "--config", ROOT / "deploy" / "gunicorn.conf.py",
             "--bind", f"127.0.0.1:{port}", "--workers", str(workers), "service:create_app()"],
            cwd=ROOT,
            env={
                **os.environ, "WAVESETUP_DATABASE_URL": database, "WAVESETUP_LOG_LEVEL": "error",
            },
            start_new_session=True,
        )  # fmt: skip
        try:
            url = f"http://127.0.0.1:{port}"
            _await(url, process)
            yield Running(url, store, key, process)
        finally:
            process.send_signal(signal.SIGTERM)
            process.wait(30)
            store.close()


def _await(url: str, process: subprocess.Popen[bytes]) -> None:
    deadline = time.monotonic() + 60
    while time.monotonic() < deadline and process.poll() is None:
        try:
            with urllib.request.urlopen(f"{url}/readyz", timeout=5):  # noqa: S310
                return
        except OSError:
            time.sleep(0.1)
    raise AssertionError("the service does not come up")


@pytest.fixture(scope="session")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    with running(tmp_path_factory.mktemp("service")) as found:
        yield found
