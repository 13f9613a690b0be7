"""Walks of as many turns as an order has, in which someone may ride twice, but not soon after.

Each turn remembers a few near ones, and a walk forgets whom it passed only where it goes too far
from them (the ng-routes of Baldacci, Mingozzi and Roberti 2011, in the layers of Picard and
Queyranne 1978; both from memory). The cheapest walk is a dynamic programme over place, turn and
what is remembered; wishes and places are in it exactly.

A price on riding (Lagrange) drives walks towards everybody once: whatever the prices, no order
costs less than the cheapest walk and the prices together. What the cheapest walk over a step costs
tells whether an order better than the one known can take that step at all; steps that cannot are
closed for good, so walks become fewer from stage to stage.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

FAR = 10**15
"""No way: more than any order costs."""


class _Steps(NamedTuple):
    """The open steps to one place: from which turn, to which, and the change-over (steps, 1).

    The first of each turn come first, then the second of those that have one, and so on; turns
    with more steps first (``turns``), so that those of a ``layer`` are the first of them.
    """

    before: Ints
    after: Ints
    change: Ints
    layers: list[int]
    turns: Ints


@dataclass(frozen=True, eq=False)
class Walks:
    """Turns apart, also of one rider, with ``size`` near ones remembered by each.

    ``change`` (n, n), ``start``, ``end`` (n) and ``place`` (n, n) as in the task; ``open``
    (n, n, n): whether at a place a turn (the last index) may follow another. ``to`` (n, n, 2^size):
    the turn and what is remembered after a step, as one index, the last of all (n 2^size) for a
    turn that is remembered already; ``weight`` (n, n): the bit of the first in the memory of the
    second.
    """

    rider: Ints
    change: Ints
    start: Ints
    end: Ints
    place: Ints
    open: Bools
    size: int = 0
    to: Ints = field(init=False)
    weight: Ints = field(init=False)
    steps: list[_Steps] = field(init=False)

    def __post_init__(self) -> None:
        count, memories = len(self.rider), np.arange(1 << self.size)
        either = np.minimum(self.change, self.change.T)
        np.fill_diagonal(either, FAR)
        near = np.argsort(either, axis=1, kind="stable")[:, : self.size]
        turn = np.arange(count)
        passed = np.zeros((count, count, len(memories)), dtype=bool)
        weight = np.zeros((count, count), dtype=np.int64)
        for bit in range(self.size):
            passed[turn, near[:, bit]] = memories >> bit & 1
            weight[near[:, bit], turn] = 1 << bit
        blocked = passed.copy()
        passed[turn, turn] = True
        # In floating point for the library's product of matrices; exact, the numbers are small.
        to = (passed.swapaxes(1, 2).astype(float) @ weight).astype(np.int64).swapaxes(1, 2)
        to = np.where(blocked, count << self.size, to + (turn << self.size)[:, None])
        object.__setattr__(self, "to", to)
        object.__setattr__(self, "weight", weight)
        object.__setattr__(self, "steps", [self._steps(here) for here in self.open[1:]])

    def _steps(self, here: Bools) -> _Steps:
        before, after = np.nonzero(here)
        many = here.sum(axis=1)
        turns = np.argsort(-many, kind="stable")
        layer = np.arange(len(before)) - (np.cumsum(many) - many)[before]
        by = np.lexsort((np.argsort(turns)[before], layer))
        before, after = before[by], after[by]
        layers = np.bincount(layer).tolist()
        return _Steps(before, after, self.change[before, after, None], layers, turns)

    def ahead(self, place: Ints) -> list[Ints]:
        """For each place (n 2^size + 1): the least cost of what comes after that turn, in walks."""
        count, memories = len(self.rider), 1 << self.size
        after = [np.append(np.repeat(self.end, memories), FAR)]
        for at in range(count - 1, 0, -1):
            steps = self.steps[at - 1]
            then = after[-1].copy()
            then[:-1] += np.repeat(place[:, at], memories)
            costs = then[self.to[steps.before, steps.after]]
            costs += steps.change
            least = np.full((count, memories), FAR)
            begun = most = steps.layers[0] if steps.layers else 0
            for size in steps.layers[1:]:
                np.minimum(costs[:size], costs[begun : begun + size], out=costs[:size])
                begun += size
            least[steps.turns[:most]] = costs[:most]
            after.append(np.append(least, FAR))
        return after[::-1]

    def cheapest(self, place: Ints, ahead: list[Ints]) -> tuple[int, list[int]]:
        """The cheapest walk: what it costs, and its turns."""
        memories = 1 << self.size
        first = self.start + place[:, 0] + ahead[0][:-1:memories]
        turns, memory = [int(first.argmin())], 0
        for at in range(1, len(first)):
            last = turns[-1]
            to = self.to[last, :, memory]
            costs = self.change[last] + place[:, at] + ahead[at][to]
            turns.append(int(np.where(self.open[at, last], costs, FAR).argmin()))
            memory = int(to[turns[-1]]) % memories
        return int(first.min()), turns

    def left_open(self, place: Ints, ahead: list[Ints], below: int) -> Bools:
        """Steps that a walk takes which costs less than ``below``."""
        memories = 1 << self.size
        left = np.zeros_like(self.open)
        behind = np.full(len(ahead[0]), FAR)
        behind[:-1:memories] = self.start + place[:, 0]
        for at, steps in enumerate(self.steps, 1):
            to = self.to[steps.before, steps.after]
            costs = behind[:-1].reshape(-1, memories)[steps.before] + steps.change
            costs += place[steps.after, at, None]
            left[at, steps.before, steps.after] = (costs + ahead[at][to]).min(axis=1) < below
            behind = np.full(len(behind), FAR)
            np.minimum.at(behind, to.ravel(), costs.ravel())
            behind[-1] = FAR
        return left
