"""Starts the service, asks it for advice once, prints the card, and stays until stopped."""

from __future__ import annotations

import argparse
import json
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path
from types import FrameType

ROOT = Path(__file__).resolve().parent.parent
DEFAULT_BIND = "127.0.0.1:8000"
LOOPBACK = ("127.0.0.1", "::1", "localhost")
PATIENCE = 60.0  # seconds until the service has to be ready
# The smallest useful request.
REQUEST = {
    "boat": "demo-7m",
    "crew": 8,
    "rider": {"mass": "82 kg", "stance": "goofy", "board": "skim", "level": "intermediate"},
}


def main() -> int:
    parser = argparse.ArgumentParser(prog="run.sh", description=__doc__)
    parser.add_argument("--once", action="store_true", help="stop after the first advice")
    once = parser.parse_args().once
    try:
        host, port = where_to_listen(once=once)
    except ValueError as error:
        return complain(str(error))

    # Before the server starts, so that no signal can leave it behind.
    for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        signal.signal(number, stop)
    server = subprocess.Popen(
        [
            sys.executable,
            "-m",
            "gunicorn",
            "--config",
            ROOT / "deploy" / "gunicorn.conf.py",
            "--bind",
            f"[{host}]:{port}" if ":" in host else f"{host}:{port}",
            "service:create_app()",
        ],
        cwd=ROOT,
        # Tried out at a desk, a line for every request is in the way.
        env={"WAVESETUP_LOG_LEVEL": "warning"} | os.environ,
    )
    try:
        reachable = {"0.0.0.0": "127.0.0.1", "::": "::1"}.get(host, host)
        address = (
            f"http://[{reachable}]:{port}" if ":" in reachable else f"http://{reachable}:{port}"
        )
        if not ready(address, server):
            return complain("The service does not come up; its own messages say why.")
        print(ask(address), flush=True)
        if once:
            return 0
        show_demo_key(reachable)
        print(f"Serving on {address} — stop with Ctrl-C.", file=sys.stderr)
        return server.wait()
    except urllib.error.HTTPError as error:
        return complain(f"No advice: {error.code} {error.read().decode(errors='replace')}")
    except OSError as error:
        return complain(f"No advice: {error}")
    except Stopped:
        return 0
    finally:
        # A second signal must not break off the stopping.
        for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
            signal.signal(number, signal.SIG_IGN)
        server.terminate()
        server.wait()


def where_to_listen(*, once: bool) -> tuple[str, int]:
    """Host and port. Raises :class:`ValueError` that says why nothing can listen there."""
    bind = os.environ.get("WAVESETUP_BIND", DEFAULT_BIND)
    host, _, digits = bind.rpartition(":")
    if not (host and digits.isdecimal() and 0 < int(digits) < 65536):
        raise ValueError(f"WAVESETUP_BIND is {bind!r}; give host:port, such as {DEFAULT_BIND}.")
    host, port = host.strip("[]"), int(digits)
    reason = unusable(host, port)
    if reason and once and "WAVESETUP_BIND" not in os.environ:
        # With --once nobody asks at this address afterwards.
        return host, free_port(host)
    if reason:
        raise ValueError(f"Cannot listen on {bind}: {reason}. Set WAVESETUP_BIND=host:port.")
    return host, port


class Stopped(BaseException):
    """Someone asked the service to stop."""


def stop(_number: int, _frame: FrameType | None) -> None:
    raise Stopped


def complain(line: str) -> int:
    print(line, file=sys.stderr)
    return 1


def unusable(host: str, port: int) -> str | None:
    """Why nothing can listen there, or None."""
    try:
        family, kind, protocol, _, address = socket.getaddrinfo(
            host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
        )[0]
        with socket.socket(family, kind, protocol) as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            probe.bind(address)
    except (OSError, OverflowError) as error:
        return getattr(error, "strerror", None) or str(error)
    return None


def free_port(host: str) -> int:
    """A port of this machine that nothing listens on now."""
    with socket.create_server((host, 0)) as probe:
        port: int = probe.getsockname()[1]
        return port


def ready(address: str, server: subprocess.Popen[bytes]) -> bool:
    """Whether the service becomes ready before it dies or patience ends."""
    deadline = time.monotonic() + PATIENCE
    while time.monotonic() < deadline and server.poll() is None:
        try:
            with OPENER.open(f"{address}/readyz", timeout=5):
                return True
        except OSError:
            time.sleep(0.1)
    return False


def show_demo_key(host: str) -> None:
    """On loopback: a key of the demo outfit, where there is one; the last start's is revoked."""
    if host not in LOOPBACK:
        return
    made = subprocess.run(
        [
            *(sys.executable, "-m", "flask", "--app", "service", "keys", "create"),
            *("--name", "printed at the start", "--days", "1", "--replace"),
        ],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        check=False,
    )
    if made.returncode == 0:
        print(f"Key of the demo outfit, for a day: {made.stdout.strip()}", flush=True)


def ask(address: str) -> str:
    """The card for the smallest request."""
    request = urllib.request.Request(
        f"{address}/v1/advice",
        json.dumps(REQUEST).encode(),
        {"Content-Type": "application/json", "Accept": "text/plain"},
    )
    with OPENER.open(request, timeout=30) as answer:
        card: str = answer.read().decode()
    return card


# The service is on this machine: no proxy of the environment stands between.
OPENER = urllib.request.build_opener(urllib.request.ProxyHandler({}))

if __name__ == "__main__":
    sys.exit(main())
