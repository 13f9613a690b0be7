"""What the example for nginx stops before it reaches the service, counted by subscriber."""

from __future__ import annotations

import socket
import subprocess
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from pathlib import Path

import pytest
import requests

from tests.production.server import free_port
from tests.production.test_deployment import DEPLOY, tool


@contextmanager
def nginx(folder: Path, upstream: int) -> Iterator[str]:
    """The example, told by ``X-Real-IP`` from where a request comes."""
    program = tool("nginx")
    port = free_port()
    site = (DEPLOY / "nginx.conf").read_text("utf-8")
    for was, now in (
        ("unix:/run/wavesetup.sock fail_timeout=0", f"127.0.0.1:{upstream}"),
        ("listen 80;", f"listen 127.0.0.1:{port}; set_real_ip_from 127.0.0.1;"),
        ("/var/log/nginx", str(folder)),
    ):
        assert was in site
        site = site.replace(was, now)
    folders = "".join(
        f"{name}_temp_path {folder}/{name};"
        for name in ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
    )
    configuration = folder / "nginx.conf"
    configuration.write_text(
        f"daemon off; pid {folder}/pid; error_log {folder}/error.log; events {{}}\n"
        f"http {{ {folders}\n{site} }}"
    )
    command = [program, "-e", str(folder / "error.log"), "-c", str(configuration)]
    with subprocess.Popen(command) as process:
        try:
            for _ in range(100):
                with suppress(OSError):
                    socket.create_connection(("127.0.0.1", port), timeout=5).close()
                    break
                time.sleep(0.05)
            yield f"http://127.0.0.1:{port}/v1/rules"
        finally:
            process.terminate()


@contextmanager
def upstream(seconds: float) -> Iterator[int]:
    """Answers each request after some time."""

    def answer(connection: socket.socket) -> None:
        with connection, suppress(OSError):
            connection.recv(65536)
            time.sleep(seconds)
            connection.sendall(b"HTTP/1.1 200 OK\r\nContent-Length: 0\r\nConnection: close\r\n\r\n")

    def serve() -> None:
        with suppress(OSError):
            while True:
                threading.Thread(target=answer, args=(listener.accept()[0],), daemon=True).start()

    listener = socket.create_server(("127.0.0.1", 0), backlog=256)
    threading.Thread(target=serve, daemon=True).start()
    try:
        yield listener.getsockname()[1]
    finally:
        listener.shutdown(socket.SHUT_RDWR)
        listener.close()


def ask(url: str, address: str) -> int:
    return requests.get(url, headers={"X-Real-IP": address}, timeout=20).status_code


@pytest.mark.parametrize(("one", "other"), [
    ("2001:db8:0:1::{}", "2001:db8:0:2::1"),
    ("192.0.2.1", "192.0.2.2"),
    ("::ffff:192.0.2.1", "::ffff:192.0.2.2"),
])  # fmt: skip
def test_rate_is_counted_by_subscriber(tmp_path: Path, one: str, other: str) -> None:
    with upstream(0.0) as port, nginx(tmp_path, port) as url:
        begun = time.monotonic()
        told = [ask(url, one.format(f"{number:x}")) for number in range(1, 200)]
        spent = time.monotonic() - begun
        # 60 at once and 20 a second.
        assert told.count(200) <= 62 + 20 * spent
        assert 429 in told
        assert ask(url, other) == 200


def test_connections_at_once_are_counted_by_subscriber(tmp_path: Path) -> None:
    with upstream(3.0) as port, nginx(tmp_path, port) as url, ThreadPoolExecutor(60) as pool:
        sent = [pool.submit(ask, url, f"2001:db8:0:1::{number:x}") for number in range(1, 51)]
        time.sleep(1.0)
        other = pool.submit(ask, url, "2001:db8:0:2::1")
        told = [each.result() for each in sent]
        assert (told.count(200), told.count(429)) == (40, 10)
        assert other.result() == 200
