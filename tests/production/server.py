"""The service as it is deployed, on a free port of this machine."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import requests

ROOT = Path(__file__).resolve().parents[2]
PATIENCE = 60.0
SMALLEST = {
    "boat": "demo-7m",
    "crew": 8,
    "rider": {"mass": "82 kg", "stance": "goofy", "board": "skim", "level": "intermediate"},
}


@dataclass(frozen=True)
class Server:
    """A server that is up: where, its process and the file of its log."""

    url: str
    port: int
    process: subprocess.Popen[bytes]
    log: Path

    def logged(self) -> str:
        return self.log.read_text("utf-8")


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


@contextmanager
def serving(
    log: Path, application: str = "service:create_app()", *, workers: int = 2, **settings: str
) -> Iterator[Server]:
    """A gunicorn with ``deploy/gunicorn.conf.py``; ``settings`` go into its environment."""
    port = free_port()
    environment = {
        **{k: v for k, v in os.environ.items() if k != "PROMETHEUS_MULTIPROC_DIR"},
        "WAVESETUP_BIND": f"127.0.0.1:{port}",
        "WEB_CONCURRENCY": str(workers),
        **settings,
    }
    command = [
        sys.executable, "-m", "gunicorn", "--config", "deploy/gunicorn.conf.py", application,
    ]  # fmt: skip
    with log.open("wb") as out:
        process = subprocess.Popen(command, cwd=ROOT, env=environment, stderr=out)
        server = Server(f"http://127.0.0.1:{port}", port, process, log)
        try:
            _await(server)
            yield server
        finally:
            process.terminate()
            process.wait(30)


def _await(server: Server) -> None:
    until = time.monotonic() + PATIENCE
    while time.monotonic() < until and server.process.poll() is None:
        try:
            if requests.get(server.url + "/readyz", timeout=5).ok:
                return
        except (requests.ConnectionError, requests.Timeout):
            pass
        time.sleep(0.1)
    raise RuntimeError(f"the server does not come up:\n{server.logged()}")
