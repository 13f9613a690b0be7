"""All benchmarks, in one Markdown document on standard output; see ``deploy/bench.sh``."""

from __future__ import annotations

import argparse
import datetime as dt
import os
import platform
import sys
import tempfile
from collections.abc import Iterable
from importlib.metadata import version
from pathlib import Path

from tests import stores
from tests.bench import growth, hydrostatics, learning, load, outing, solver, stored, tuning

LIBRARIES = ("numpy", "scipy", "flask", "gunicorn")


def say(*lines: str) -> None:
    sys.stdout.write("\n".join((*lines, "")))
    sys.stdout.flush()


def table(title: str, head: Iterable[str], rows: Iterable[Iterable[str]]) -> None:
    columns = list(head)
    say("", f"## {title}", "", f"| {' | '.join(columns)} |", "|---" * len(columns) + "|")
    for row in rows:
        say(f"| {' | '.join(row)} |")


def machine() -> str:
    info = Path("/proc/cpuinfo")
    names = [
        line.partition(":")[2].strip()
        for line in (info.read_text().splitlines() if info.exists() else ())
        if line.startswith("model name")
    ]
    return f"{names[0] if names else platform.processor()}, {os.cpu_count()} cores"


def main() -> None:
    parser = argparse.ArgumentParser(prog="bench.sh", description=__doc__)
    parser.add_argument("--library", help="a Python that has navaltoolbox")
    parser.add_argument("--seconds", type=float, default=5.0, help="of load, each")
    parser.add_argument("--requests", type=int, default=0, help="for memory; 100000 takes a while")
    parser.add_argument("--rows", type=int, default=10_000, help="kept runs; 1000000 takes long")
    chosen = parser.parse_args()

    versions = ", ".join(f"{name} {version(name)}" for name in LIBRARIES)
    say(
        f"# Benchmarks of {dt.datetime.now(dt.UTC):%Y-%m-%d %H:%M} UTC",
        "",
        f"{machine()}; {platform.system()} {platform.release()};",
        f"Python {platform.python_version()}, {versions}.",
        f"Load of the machine before: {os.getloadavg()[0]:.1f}. Others at work make all of this",
        "slower; what is compared was measured in the same run.",
    )
    table("Hydrostatics, one core", ("what", "found"), hydrostatics.rows(chosen.library))
    table("Growth: hydrostatics", ("what", "median"), hydrostatics.growth())
    table("Growth: advice", ("what", "median"), growth.rows())
    table("Loading solver, of the processor", solver.HEAD, solver.rows())
    table("Outings, one core", ("what", "found"), outing.rows())
    table("Growth: the log", ("what", "of the processor"), learning.rows())
    table("Growth: kept runs", stored.head(chosen.rows), stored.rows(chosen.rows))
    table("Tuning on the simulated wave", tuning.HEAD, tuning.rows())
    with tempfile.TemporaryDirectory() as folder, stores.fresh(Path(folder)) as database:
        table("HTTP, 2 workers", load.HEAD, load.rows(database, chosen.seconds))
        if chosen.requests:
            table("Memory", ("when", "resident"), load.endurance(database, chosen.requests))


if __name__ == "__main__":
    main()
