"""What it costs to learn from a boat's log, by the number of runs in it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

import numpy as np

from service.calibration.log import FEATURES, NUMBERS, Changed, Context, Ridden, learn_all

ROOT = Path(__file__).parents[2]
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
    """Seconds of the processor in the quickest of several."""
    taken = []
    for _ in range(REPEAT):
        start = time.process_time()
        what()
        taken.append(time.process_time() - start)
    return min(taken)


def plain(count: int, rng: np.random.Generator) -> Callable[[], object]:
    """Ordinary least squares of as many numbers on as many columns and rows, by numpy."""
    x = rng.standard_normal((count, len(FEATURES) + RIDERS))
    d = rng.standard_normal((len(NUMBERS), count))
    return lambda: [np.linalg.lstsq(x, column) for column in d]


def measured() -> dict[int, tuple[float, float]]:
    """By the number of runs: seconds of ours, and of plain least squares.

    In a process of its own with one thread for linear algebra, as the service's workers have:
    threads that wait for each other count as work.
    """
    done = subprocess.run(
        [sys.executable, "-m", __name__],
        env=os.environ | {"OPENBLAS_NUM_THREADS": "1"}, cwd=ROOT,
        check=True, capture_output=True, text=True,
    )  # fmt: skip
    return {int(count): tuple(taken) for count, taken in json.loads(done.stdout).items()}


def rows() -> Iterator[tuple[str, str]]:
    for count, (ours, theirs) in measured().items():
        yield (
            f"boat's offsets from {count:,} runs, {len(NUMBERS)} numbers",
            f"{1e3 * ours:.1f} ms; {ours / theirs:.1f} times plain least squares",
        )


def main() -> None:
    rng, found = np.random.default_rng(0), {}
    for count in COUNTS:
        runs = runs_of(count, rng)
        found[count] = least(partial(learn_all, runs)), least(plain(count, rng))
    sys.stdout.write(json.dumps(found))


if __name__ == "__main__":
    main()
