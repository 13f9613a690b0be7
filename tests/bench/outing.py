"""An outing of twelve riders beside twelve single requests for advice, on one core.

``python -m tests.bench.outing`` prints the figures; ``python -m tests.bench.outing 50`` plans that
many parties made at random, too large to look through all orders, and prints how far from the best
each order can be.
"""

from __future__ import annotations

import json
import random
import statistics
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import rules
from rules.base import RuleBase
from service.advice.advise import advise
from service.advice.loading_plan import _planned
from service.advice.requests import AdviceRequest
from service.outings.outing import plan_outing
from tests.outings.boats import LEVELS, asked, body

RIDERS = 12
RUNS = 7


def median(work: Callable[[], object]) -> float:
    """Seconds of processor time, of several runs after one that warms up; no plan is known."""
    work()
    times = []
    for _ in range(RUNS):
        _planned.cache_clear()
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


def large_boat(scale: float = 1.5) -> dict[str, Any]:
    """Of demo-8m's form, for forty riders: lengths grow by ``scale``, masses by its cube."""
    text = Path("service/boats/demo/demo-8m.json").read_text("utf-8")
    boat: dict[str, Any] = json.loads(text)

    def grown(value: Any, name: str = "") -> Any:
        if isinstance(value, dict):
            return {key: grown(inner, key) for key, inner in value.items()}
        if isinstance(value, list):
            return [grown(inner, name) for inner in value]
        if name == "places":
            return min(3 * value, 10)
        if not isinstance(value, float | int) or isinstance(value, bool):
            return value
        if name in ("mass", "capacity", "fill_rate", "drain_rate", "persons_mass", "load_mass"):
            return value * scale**3
        return value if name in ("deadrise", "max_angle", "max_fill") else value * scale

    return {**grown(boat), "id": "large", "limits": {"persons": 45}}


def party(seed: int) -> dict[str, Any]:
    """Seventeen to forty riders on the large boat, or six to nine with three turns each."""
    choose = random.Random(seed)  # noqa: S311  # a case, not a secret
    repeated = seed % 5 == 4
    count = choose.randint(6, 9) if repeated else choose.randint(17, 40)
    riders: list[dict[str, Any]] = [
        {
            "name": f"rider {number}",
            "minutes": 24 if repeated else choose.choice((5, 8, 10)),
            "turns": 3 if repeated else 1,
            "rider": {
                "mass": choose.randint(35, 110),
                "stance": choose.choice(("regular", "goofy")),
                "board": choose.choice(("skim", "surf")),
                "level": choose.choice(LEVELS),
            },
        }
        for number in range(count)
    ]
    if seed % 3 == 0:
        choose.choice(riders)["wishes"] = [choose.choice(("first", "last", "not_first"))]
    return body(0, "demo-8m") | {
        "boat": "demo-8m" if repeated else large_boat(),
        "riders": riders,
        "total_time": None,
    }


def gaps(parties: int) -> list[tuple[str, str]]:
    """How far from the best the orders of large parties can be, at most."""
    base = rules.load()
    found = []
    for seed in range(parties):
        told = {name: value for name, value in party(seed).items() if value is not None}
        start = time.process_time()
        plan = plan_outing(asked(told), base)
        taken = time.process_time() - start
        gap = 100.0 * (1.0 - plan.bound / plan.cost)
        found.append((len(plan.lines), gap, taken))
        sys.stdout.write(
            f"{seed}: {len(plan.lines)} turns, {plan.cost:.0f} s, at most {gap:.2f} % more "
            f"than the best; {taken:.1f} s\n"
        )
        sys.stdout.flush()
    return [
        _summary(least, most, [each for each in found if least <= each[0] <= most])
        for least, most in ((17, 24), (25, 32), (33, 40))
    ]


def _summary(least: int, most: int, found: Sequence[tuple[int, float, float]]) -> tuple[str, str]:
    off, times = [gap for _, gap, _ in found], [taken for _, _, taken in found]
    best = sum(gap == 0.0 for gap in off)
    told = (
        f"{best} proved the best; gap {statistics.median(off):.2f} % (median), "
        f"{max(off):.2f} % (worst); {statistics.median(times):.1f} s (median), "
        f"{max(times):.1f} s (worst)"
    )
    return f"{len(found)} parties of {least} to {most} turns", told


if __name__ == "__main__":
    for what, figure in gaps(int(sys.argv[1])) if sys.argv[1:] else rows():
        sys.stdout.write(f"{what}: {figure}\n")
