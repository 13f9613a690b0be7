"""What it costs to learn from a boat's log, by the number of runs in it."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator

import numpy as np

from service.calibration.log import FEATURES, NUMBERS, Changed, Context, Ridden, learn_all

REPEAT = 15
RIDERS = 9
COUNTS = (100, 1_000, 10_000)


def runs_of(count: int, rng: np.random.Generator) -> list[Ridden]:
    """Runs of nine riders with every number off by a scatter of its own; one in ten was tuned."""
    runs = []
    for _ in range(count):
        context = Context(
            float(rng.integers(2, 12)), float(rng.uniform(0, 1600)), float(rng.uniform(45, 110))
        )
        final = {
            n.name: n.offset + n.scatter * float(rng.standard_normal()) for n in NUMBERS.values()
        }
        tuned = (Changed("speed", 0.0, 0.5, bool(rng.random() < 0.7)),)
        rating = int(rng.choice([5, 4, 3, 2], p=[0.4, 0.3, 0.2, 0.1]))
        runs.append(
            Ridden(
                context, dict.fromkeys(NUMBERS, 0.0), final, rating, f"r{rng.integers(RIDERS)}",
                changes=tuned if rng.random() < 0.1 else (),
            )
        )  # fmt: skip
    return runs


def least(what: Callable[[], object]) -> float:
    """Seconds of the processor, of all threads, in the quickest of several."""
    taken = []
    for _ in range(REPEAT):
        start = time.process_time()
        what()
        taken.append(time.process_time() - start)
    return min(taken)


def plain(count: int, rng: np.random.Generator) -> Callable[[], object]:
    """Ordinary least squares of as many numbers on as many columns and rows, by numpy."""
    x = rng.standard_normal((count, len(FEATURES) + RIDERS))
    d = rng.standard_normal((count, len(NUMBERS)))
    return lambda: [np.linalg.lstsq(x, column) for column in d.T]


def rows() -> Iterator[tuple[str, str]]:
    rng = np.random.default_rng(0)
    for count in COUNTS:
        runs = runs_of(count, rng)
        ours, theirs = least(lambda runs=runs: learn_all(runs)), least(plain(count, rng))  # type: ignore[misc]
        yield (
            f"boat's offsets from {count:,} runs, {len(NUMBERS)} numbers",
            f"{1e3 * ours:.1f} ms; {ours / theirs:.1f} times plain least squares",
        )
