"""The order of turns with the least total cost, and the proof of it.

Costs are whole milliseconds, so that equal orders are equal exactly. Up to sixteen turns the order
is found by dynamic programming over the sets of turns done (Held and Karp 1962) and is exact.
Beyond that a descent finds an order, and a lower bound proves how far from the best it can be:
the assignment problem with subtours cut off, which any order has to satisfy, solved by HiGHS.
Of equal orders the one first in the list of riders is taken: deterministic, and the same for a
mirrored boat.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, cached_property, lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, linear_sum_assignment, milp

Ints = NDArray[np.int64]

EXACT = 16
"""Turns up to which the order is exact: a tenth of a second, and 8 MB."""
STATES = 60_000
"""The same for riders with several turns: states of the dynamic programme, at most."""
BROKEN = 100 * 3_600_000
"""A wish not kept outweighs any time: 100 h."""
CUTS, NODES = 12, 200
"""Rounds of subtours cut off, and branch-and-bound nodes in each: bounded by count."""


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


def best_order(task: Task) -> Ordered:
    """The best order; where there are too many turns a good one, with nothing proved: bound 0."""
    if task.count <= EXACT and max(task.turns) == 1:
        return _held_karp(task)
    if task.count <= EXACT and _states(task) <= STATES:
        return _with_repeats(task)
    return min(
        (_descend(task, first) for first in _starts(task)),
        key=lambda found: (found.cost, found.order),
    )


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
    """How many of the last turns decide whether somebody has rested."""
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


def _descend(task: Task, order: tuple[int, ...]) -> Ordered:
    """Moves parts of up to three turns, and swaps two, while that lowers the cost."""
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


def lower_bound(task: Task, known: int) -> int:
    """A cost that no order is below; no search beyond ``known``, the cost of an order found.

    Change-overs with subtours cut off, the first and last places in the arcs from and to the
    shore, plus the assignment of riders to the places between: the sum of two least costs is no
    more than the least of the sums. Rests are left out, which only lowers it.
    """
    rider = np.repeat(np.arange(len(task.turns)), task.turns)
    count = len(rider)
    inner = task.place[rider].copy()
    first, last = inner[:, 0].copy(), inner[:, -1].copy()
    inner[:, [0, -1]] = 0
    rows, columns = linear_sum_assignment(inner)
    places = int(inner[rows, columns].sum())
    # Node 0 is the shore. In seconds, where HiGHS is at home.
    arcs = np.zeros((count + 1, count + 1))
    arcs[1:, 1:] = task.change[np.ix_(rider, rider)] / 1000.0
    arcs[0, 1:] = (task.start[rider] + first) / 1000.0
    arcs[1:, 0] = (task.end[rider] + last) / 1000.0
    return places + _tour_bound(arcs, (known - places) / 1000.0)


def _tour_bound(arcs: NDArray[np.float64], known: float) -> int:
    """Lower bound (ms) of the shortest tour through all nodes; ``known`` is enough (s)."""
    nodes = len(arcs)
    eye = np.eye(nodes)
    degree = np.concatenate((np.kron(eye, np.ones(nodes)), np.kron(np.ones(nodes), eye)))
    limits: list[LinearConstraint] = [LinearConstraint(degree, 1, 1)]
    most = Bounds(0, (1.0 - eye).ravel())
    best = 0.0
    for _ in range(CUTS):
        found = milp(
            arcs.ravel(), integrality=np.ones(nodes * nodes, dtype=np.int64), bounds=most,
            constraints=limits, options={"node_limit": NODES, "mip_rel_gap": 0.0},
        )  # fmt: skip
        if found.mip_dual_bound is None:
            break
        best = max(best, float(found.mip_dual_bound))
        if found.x is None or best >= known - 1e-6:
            break
        tours = _tours(np.argmax(found.x.reshape(nodes, nodes), axis=1).tolist())
        if len(tours) == 1:
            break
        for tour in tours:
            inside = np.zeros(nodes)
            inside[tour] = 1.0
            within = np.outer(inside, inside).ravel()
            limits.append(LinearConstraint(within, -np.inf, len(tour) - 1))
    # The solver's tolerance is a microsecond; milliseconds are whole.
    return int(np.ceil(best * 1000.0 - 1e-2))


def _tours(following: Sequence[int]) -> list[list[int]]:
    seen, tours = set[int](), []
    for node in range(len(following)):
        tour = []
        while node not in seen:
            seen.add(node)
            tour.append(node)
            node = following[node]  # noqa: PLW2901  # follows the tour
        if tour:
            tours.append(tour)
    return tours
