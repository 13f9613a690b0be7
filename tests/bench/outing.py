"""An outing of twelve riders beside twelve single requests for advice, on one core.

``python -m tests.bench.outing`` prints the figures.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial

import rules
from rules.base import RuleBase
from service.advice.advise import advise
from service.advice.requests import AdviceRequest
from service.outings.outing import plan_outing
from tests.outings.boats import asked, body

RIDERS = 12
RUNS = 7


def median(work: Callable[[], object]) -> float:
    """Seconds of processor time, of several runs after one that warms up."""
    work()
    times = []
    for _ in range(RUNS):
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return statistics.median(times)


def _advise_all(requests: Sequence[AdviceRequest], base: RuleBase) -> None:
    for one in requests:
        advise(one, base)


def rows() -> list[tuple[str, str]]:
    """What was measured, as text."""
    base = rules.load()
    found = []
    for boat in ("demo-7m", "demo-8m"):
        request = asked(body(RIDERS, boat))
        seated = [line.turn.request for line in plan_outing(request, base).lines]
        # What one would ask without an outing: the same people, nobody on a seat yet.
        standing = [
            replace(one, crew=tuple(replace(p, seat=None) for p in one.crew or ()))
            for one in seated
        ]
        whole = median(partial(plan_outing, request, base))
        found.append((f"{RIDERS} riders on {boat}: the whole outing", f"{1000.0 * whole:.0f} ms"))
        for kind, each in (("seated", seated), ("not seated", standing)):
            singles = median(partial(_advise_all, each, base))
            what = f"{RIDERS} requests for advice, people {kind}"
            told = f"{1000.0 * singles:.0f} ms; {whole / singles:.2f} of it"
            found.append((f"{what}; the outing is", told))
    return found


if __name__ == "__main__":
    for what, figure in rows():
        sys.stdout.write(f"{what}: {figure}\n")
