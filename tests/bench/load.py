"""Requests a second and waiting times under load, by wrk on loopback."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from service.outfits import keys
from service.outfits.demo import DEMO
from service.outfits.keys import Scope
from service.storage import Store
from tests.bench import asked
from tests.production.server import Server, serving

SCRIPT = """
local bodies = {{ {bodies} }}
local at = 0
math.randomseed({seed})
local function mass() return string.format("%.2f", 40 + 60 * math.random()) end
wrk.method = "POST"
wrk.headers["Content-Type"] = "application/json"
wrk.headers["Authorization"] = {key}
request = function()
  at = at % #bodies + 1
  return wrk.format(nil, nil, nil, (bodies[at]:gsub({mass}, mass)))
end
done = function(summary, latency, requests)
  local e = summary.errors
  io.write(string.format("FOUND %f %f %f %d\\n", summary.requests / summary.duration * 1e6,
    latency:percentile(50) / 1e3, latency:percentile(99) / 1e3,
    e.status + e.connect + e.read + e.write + e.timeout))
end
"""


@dataclass(frozen=True)
class Found:
    """Requests a second, and milliseconds that half and 99 % of them took at most."""

    rate: float
    p50: float
    p99: float
    errors: int


def wrk(
    url: str, sent: Sequence[object], connections: int, seconds: float, key: str | None = None
) -> Found:
    """Load by ``connections`` at once; each request opens its own, as with any sync worker."""
    quoted = ", ".join(f"[==[{json.dumps(body)}]==]" for body in sent)
    mass = f"[==[{json.dumps(asked.MASS)}]==]"
    held = "nil" if key is None else f'"Bearer {key}"'
    with tempfile.NamedTemporaryFile("w", suffix=".lua") as script:
        script.write(SCRIPT.format(bodies=quoted, key=held, mass=mass, seed=time.time_ns() % 2**31))
        script.flush()
        command = [
            "wrk", "-t1", f"-c{connections}", f"-d{seconds:.0f}s", "--timeout", "10s",
            "-s", script.name, url,
        ]  # fmt: skip
        done = subprocess.run(
            command, capture_output=True, text=True, check=True, timeout=seconds + 60.0
        )
    numbers = re.search(r"^FOUND (\S+) (\S+) (\S+) (\d+)$", done.stdout, re.MULTILINE)
    if numbers is None:
        raise RuntimeError(done.stdout)
    return Found(float(numbers[1]), float(numbers[2]), float(numbers[3]), int(numbers[4]))


def memory(server: Server) -> list[float]:
    """Resident set of each worker (MB)."""
    pid = server.process.pid
    children = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    status = [Path(f"/proc/{child}/status").read_text() for child in children]
    return [int(re.search(r"VmRSS:\s*(\d+)", text)[1]) / 1024.0 for text in status]  # type: ignore[index]


HEAD = (
    "what", "connections", "requests/s", "p50 ms", "p99 ms", "p99/p50", "of echo", "of bare Flask",
    "CPU ms each", "of echo by CPU", "errors", "most memory MB",
)  # fmt: skip


def processor(server: Server) -> float:
    """Seconds that the workers have computed."""
    pid = server.process.pid
    children = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    fields = [
        Path(f"/proc/{each}/stat").read_text().rpartition(")")[2].split() for each in children
    ]
    return sum(int(each[11]) + int(each[12]) for each in fields) / os.sysconf("SC_CLK_TCK")


def quiet(server: Server) -> None:
    """Waits for what was still in the queue when the load ended: it is none of the next one's."""
    before, until = -1.0, time.monotonic() + 120.0
    while (now := processor(server)) > before + 0.02 and time.monotonic() < until:
        before = now
        time.sleep(0.5)


BATCH = f"batch of {asked.IN_A_BATCH} bookings"
ADDRESSES: Mapping[str, tuple[str, Callable[[], list[dict[str, Any]]]]] = {
    "bare Flask": ("/bench/bare/", asked.riders),
    "echo": ("/bench/echo", asked.riders),
    "advice, crews by number": ("/v1/advice", asked.riders),
    "advice, crews by their masses": ("/v1/advice", asked.crews),
    "loading": ("/v1/loading", asked.loading),
    "tuning": ("/v1/tuning", asked.tuning),
    BATCH: ("/v1/bookings:batch", asked.batches),
}


def rows(database: str, seconds: float) -> Iterator[tuple[str, ...]]:
    """A row for each address and number of connections; 2 workers."""
    if shutil.which("wrk") is None:
        yield ("wrk is not installed: not measured", *[""] * (len(HEAD) - 1))
        return
    store = Store(database)
    with store.writing() as session:
        _, key = keys.issue(session, DEMO, "bench", Scope)
    store.close()
    with tempfile.TemporaryDirectory() as folder, serving(
        Path(folder) / "log", "tests.bench.applications:application()",
        WAVESETUP_DATABASE_URL=database, GUNICORN_CMD_ARGS="--max-requests 0",
    ) as server:  # fmt: skip
        for connections in (1, 8, 64):
            echo = bare = echo_cost = 0.0
            for name, (address, bodies) in ADDRESSES.items():
                url, held = server.url + address, key if name == BATCH else None
                quiet(server)
                before = processor(server)
                found = wrk(url, bodies(), connections, seconds, held)
                # Others at work on the machine stretch the time, and not this.
                cost = (processor(server) - before) / max(found.rate * seconds, 1.0)
                bare = bare or found.rate
                if name == "echo":
                    echo, echo_cost = found.rate, cost
                yield (
                    name, str(connections), f"{found.rate:.0f}", f"{found.p50:.1f}",
                    f"{found.p99:.1f}", f"{found.p99 / max(found.p50, 1e-3):.1f}",
                    f"{found.rate / echo:.2f}" if echo else "", f"{found.rate / bare:.2f}",
                    f"{1e3 * cost:.2f}", f"{echo_cost / cost:.2f}" if echo else "",
                    str(found.errors), f"{max(memory(server)):.0f}",
                )  # fmt: skip


def endurance(database: str, requests: int) -> Iterator[tuple[str, str]]:
    """Memory of the workers while they answer so many requests for advice."""
    with tempfile.TemporaryDirectory() as folder, serving(
        Path(folder) / "log", "tests.bench.applications:application()",
        WAVESETUP_DATABASE_URL=database, GUNICORN_CMD_ARGS="--max-requests 0",
    ) as server:  # fmt: skip
        answered, step = 0.0, requests / 10
        while answered < requests:
            goal = answered + step
            while answered < goal:
                found = wrk(server.url + "/v1/advice", [*asked.riders(), *asked.crews()], 8, 10.0)
                if found.errors:
                    raise RuntimeError(f"{found.errors} errors")
                answered += found.rate * 10.0
            resident = " and ".join(f"{each:.1f}" for each in memory(server))
            yield f"memory of the workers after {answered:,.0f} requests", f"{resident} MB"
