"""A good order quickly: from a few beginnings downhill, with nothing proved."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from service.outings.order import BROKEN, Ordered, Task

Ints = NDArray[np.int64]


def good_order(task: Task) -> Ordered:
    """The best of what several beginnings come down to; bound 0."""
    return min(
        (descend(task, first) for first in _starts(task)),
        key=lambda found: (found.cost, found.order),
    )


def _starts(task: Task) -> list[tuple[int, ...]]:
    """The order of the list, and the nearest next from a few first ones."""
    listed = tuple(r for r, turns in enumerate(task.turns) for _ in range(turns))
    starts = [listed]
    for first in np.argsort(task.start + task.place[:, 0], kind="stable")[:6].tolist():
        left = list(task.turns)
        order = [first]
        left[first] -= 1
        while any(left):
            at, last = len(order), order[-1]
            order.append(
                min(
                    (r for r, turns in enumerate(left) if turns),
                    key=lambda r: (
                        int(task.change[last, r] + task.place[r, at])
                        + BROKEN * (r in order[max(at - task.rest[r], 0) :]),
                        r,
                    ),
                )
            )
            left[order[-1]] -= 1
        starts.append(tuple(order))
    return starts


def descend(task: Task, order: tuple[int, ...]) -> Ordered:
    """Moves parts of up to three turns, and swaps two, while that lowers the cost; bound 0."""
    ways = _neighbours(task.count)
    best, cost = np.array(order), task.cost(order)
    at = np.arange(task.count)
    while True:
        tried = best[ways]
        costs = (
            task.start[tried[:, 0]] + task.end[tried[:, -1]]
            + task.change[tried[:, :-1], tried[:, 1:]].sum(axis=1)
            + task.place[tried, at].sum(axis=1)
        )  # fmt: skip
        for back in range(1, max(task.rest) + 1 if max(task.turns) > 1 else 1):
            same = (tried[:, back:] == tried[:, :-back]) & (
                np.array(task.rest)[tried[:, back:]] >= back
            )
            costs = costs + BROKEN * same.sum(axis=1)
        # A turn that is too soon twice over counts twice here, which only makes it worse.
        pick = int(np.argmin(costs))
        found = task.cost(tried[pick].tolist())
        if found >= cost:
            return Ordered(tuple(best.tolist()), cost, 0)
        best, cost = tried[pick], found


@lru_cache(maxsize=4)
def _neighbours(count: int) -> Ints:
    """(ways, count): each a rearrangement of the places."""
    places = list(range(count))
    ways = set[tuple[int, ...]]()
    for length in (1, 2, 3):
        for start in range(count - length + 1):
            part, rest = places[start : start + length], places[:start] + places[start + length :]
            ways |= {(*rest[:to], *part, *rest[to:]) for to in range(len(rest) + 1)}
    for a in range(count):
        for b in range(a + 1, count):
            swapped = places.copy()
            swapped[a], swapped[b] = b, a
            ways.add(tuple(swapped))
    return np.array(sorted(ways))
