"""The order of turns with the least total cost, as long as all of them can be looked through.

Costs are whole milliseconds, so that equal orders are equal exactly. Up to sixteen turns the order
is found by dynamic programming over the sets of turns done (Held and Karp 1962) and is exact.
Beyond that see ``descent`` and ``proof``. Of equal orders the one first in the list of riders is
taken: deterministic, and the same for a mirrored boat.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]

EXACT = 16
"""Turns up to which the order is exact: a tenth of a second, and 8 MB."""
STATES = 60_000
"""The same for riders with several turns: states of the dynamic programme, at most."""
BROKEN = 100 * 3_600_000
"""A wish not kept outweighs any time: 100 h."""


@dataclass(frozen=True)
class Task:
    """Riders by index. ``change`` (k, k), ``start`` and ``end`` (k): ms of change-over.

    ``place`` (k, n): ms for each rider at each place of the ``n`` turns, wishes included.
    ``turns`` (k): how many each has. ``rest`` (k): turns of others between two of one's own.
    """

    change: Ints
    start: Ints
    end: Ints
    place: Ints
    turns: tuple[int, ...]
    rest: tuple[int, ...]

    @cached_property
    def count(self) -> int:
        return sum(self.turns)

    def cost(self, order: Sequence[int]) -> int:
        """Of a whole order, wishes not kept included."""
        total = int(self.start[order[0]] + self.end[order[-1]])
        total += sum(int(self.change[a, b]) for a, b in pairwise(order))
        total += sum(int(self.place[rider, at]) for at, rider in enumerate(order))
        return total + BROKEN * self.rests_broken(order)

    def rests_broken(self, order: Sequence[int]) -> int:
        """Turns that come too soon after the same rider's last one."""
        return sum(
            rider in order[max(at - self.rest[rider], 0) : at] for at, rider in enumerate(order)
        )


@dataclass(frozen=True, slots=True)
class Ordered:
    """An order with its cost, and a cost that no order can be below (ms)."""

    order: tuple[int, ...]
    cost: int
    bound: int

    @property
    def exact(self) -> bool:
        return self.cost <= self.bound


def best_order(task: Task) -> Ordered | None:
    """The best order; ``None`` where there are too many turns to look through."""
    if task.count <= EXACT and max(task.turns) == 1:
        return _held_karp(task)
    if task.count <= EXACT and _states(task) <= STATES:
        return _with_repeats(task)
    return None


def _held_karp(task: Task) -> Ordered:
    """Backwards over subsets: ``ahead[done, last]`` is the least cost of what is still to come."""
    riders = len(task.turns)
    full = (1 << riders) - 1
    ahead = np.empty((1 << riders, riders), dtype=np.int64)
    ahead[full] = task.end
    sets = np.arange(1 << riders)
    size = sum((sets >> rider) & 1 for rider in range(riders))
    for done in range(riders - 1, 0, -1):
        here = sets[size == done]
        ahead[here] = np.iinfo(np.int64).max
        for rider in range(riders):
            open_ = here[(here >> rider) & 1 == 0]
            rest = ahead[open_ | 1 << rider, rider] + task.place[rider, done]
            ahead[open_] = np.minimum(ahead[open_], rest[:, None] + task.change[None, :, rider])
    first = [
        int(task.start[rider] + task.place[rider, 0] + ahead[1 << rider, rider])
        for rider in range(riders)
    ]
    least = min(first)
    order = [first.index(least)]
    done = 1 << order[0]
    while done != full:
        last, at = order[-1], len(order)
        rider = next(
            r for r in range(riders)
            if not done >> r & 1
            and ahead[done, last]
            == task.change[last, r] + task.place[r, at] + ahead[done | 1 << r, r]
        )  # fmt: skip
        order.append(rider)
        done |= 1 << rider
    return Ordered(tuple(order), least, least)


def _memory(task: Task) -> int:
    """How many of the last turns decide whether someone has rested."""
    several = [rest for rest, turns in zip(task.rest, task.turns, strict=True) if turns > 1]
    return max([1, *several])


def _states(task: Task) -> int:
    states: int = len(task.turns) ** min(_memory(task), task.count)
    for turns in task.turns:
        states *= turns + 1
    return states


def _with_repeats(task: Task) -> Ordered:
    """The same over how many turns each has had, and who had the last ones."""
    memory = _memory(task)

    @cache
    def ahead(left: tuple[int, ...], recent: tuple[int, ...]) -> tuple[int, int]:
        """Least cost of what is still to come, and who is next for it."""
        at = task.count - sum(left)
        if not any(left):
            return int(task.end[recent[-1]]), -1
        found = []
        for rider, turns in enumerate(left):
            if not turns:
                continue
            cost = int(task.change[recent[-1], rider] if recent else task.start[rider])
            cost += int(task.place[rider, at])
            if rider in recent[max(len(recent) - task.rest[rider], 0) :]:
                cost += BROKEN
            then = (*left[:rider], turns - 1, *left[rider + 1 :])
            found.append((cost + ahead(then, (*recent, rider)[-memory:])[0], rider))
        return min(found)

    left, order = task.turns, list[int]()
    recent: tuple[int, ...] = ()
    least = ahead(left, ())[0]
    while any(left):
        rider = ahead(left, recent)[1]
        order.append(rider)
        left = (*left[:rider], left[rider] - 1, *left[rider + 1 :])
        recent = (*recent, rider)[-memory:]
    return Ordered(tuple(order), least, least)
