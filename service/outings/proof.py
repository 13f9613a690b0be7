"""How far from the best an order can be at most, and a better one where there is one.

For more turns than all sets of them can be looked through. Orders are relaxed to walks of as many
turns in which somebody may ride twice, but not soon after: each turn remembers a few near ones, and
a walk forgets whom it passed only where it goes too far from them (the ng-routes of Baldacci,
Mingozzi and Roberti 2011, in the layers of Picard and Queyranne 1978; both from memory). The
cheapest walk is a dynamic programme over place, turn and what is remembered; wishes and places are
in it exactly. A price on riding (Lagrange) drives walks towards everybody once: whatever the
prices, no order costs less than the cheapest walk and the prices together.

What a walk still costs from somewhere on tells the dynamic programme over sets (Held and Karp 1962)
what it may leave out, as it cannot be better than the order known. Where that still leaves too many
states the most hopeful ones are kept, and the least of the others is the bound.

Everything is whole milliseconds and bounded by count: the bound has no rounding in it, and the
same outing always gets the same one.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from service.outings.descent import descend
from service.outings.order import BROKEN, Ordered, Task

Ints = NDArray[np.int64]

STAGES = ((3, 300, 2.0), (5, 60, 0.5), (8, 60, 0.5))
"""How many near turns are remembered, rounds of prices, and the first step of these."""
PATIENCE, SHORTER, LEAST_STEP = 15, 0.6, 0.01
"""Rounds without progress until the step is shortened, to which part, and when to stop."""
PROGRESS = 1000
"""Milliseconds; what a round has to add to count as progress."""
WIDTHS = (2_000, 10_000, 20_000)
"""States kept for each place, search after search: 20 000 are a second and 60 MB for 40 turns."""
QUICK = 2
"""Of both, how many are enough to find what is still a guess."""
FAR = 10**15
"""No way: more than any order costs."""


@dataclass(frozen=True, eq=False)
class _Walks:
    """Turns apart, also of one rider, with ``size`` near ones remembered by each.

    ``change`` (n, n), ``start``, ``end`` (n) and ``place`` (n, n) as in the task; ``blocked``
    (n, 2^size, n): the change-over, or ``FAR`` to who is remembered; ``to`` (n, 2^size, n): what
    is remembered after it; ``weight`` (n, n): the bit of the first in the memory of the second.
    """

    rider: Ints
    change: Ints
    start: Ints
    end: Ints
    place: Ints
    blocked: Ints = field(init=False)
    to: Ints = field(init=False)
    weight: Ints = field(init=False)
    size: int = 0

    def __post_init__(self) -> None:
        count, memories = len(self.rider), np.arange(1 << self.size)
        either = np.minimum(self.change, self.change.T)
        np.fill_diagonal(either, FAR)
        near = np.argsort(either, axis=1, kind="stable")[:, : self.size]
        turn = np.arange(count)
        passed = np.zeros((count, len(memories), count), dtype=bool)
        weight = np.zeros((count, count), dtype=np.int64)
        for bit in range(self.size):
            passed[turn, :, near[:, bit]] = memories >> bit & 1
            weight[near[:, bit], turn] = 1 << bit
        object.__setattr__(self, "blocked", np.where(passed, FAR, self.change[:, None, :]))
        passed[turn, :, turn] = True
        # In floating point for the library's product of matrices; exact, the numbers are small.
        object.__setattr__(self, "to", (passed.astype(float) @ weight).astype(np.int64))
        object.__setattr__(self, "weight", weight)

    def ahead(self, place: Ints) -> list[Ints]:
        """For each place (n, 2^size): the least cost of what comes after that turn, in walks."""
        after = [np.repeat(self.end[:, None], 1 << self.size, axis=1)]
        flat = self.to + (np.arange(len(self.rider)) << self.size)
        for at in range(len(self.rider) - 1, 0, -1):
            then = (after[-1] + place[:, at, None]).ravel()
            after.append((self.blocked + then[flat]).min(axis=2))
        return after[::-1]

    def cheapest(self, place: Ints, ahead: list[Ints]) -> tuple[int, list[int]]:
        """The cheapest walk: what it costs, and its turns."""
        first = self.start + place[:, 0] + ahead[0][:, 0]
        turns, memory = [int(first.argmin())], 0
        everyone = np.arange(len(first))
        for at in range(1, len(first)):
            here = turns[-1], memory
            then = place[:, at] + ahead[at][everyone, self.to[here]]
            turns.append(int((self.blocked[here] + then).argmin()))
            memory = int(self.to[here][turns[-1]])
        return int(first.min()), turns


@dataclass(frozen=True, eq=False)
class _Priced:
    """Prices on the turns, with what they make of the places and of the walks ahead."""

    walks: _Walks
    prices: Ints
    place: Ints
    ahead: list[Ints]
    bound: int


def prove(task: Task, found: Ordered, quick: bool = False) -> Ordered:
    """``found`` or a better order, with a cost that no order is below.

    ``quick``: a third of the time, and a looser bound.
    """
    rider = np.repeat(np.arange(len(task.turns)), task.turns)
    change = task.change[np.ix_(rider, rider)]
    # Everybody rests one turn or more: next to oneself is a rest that is not kept.
    change = change + BROKEN * (rider[:, None] == rider[None, :])
    np.fill_diagonal(change, FAR)
    walks = _Walks(rider, change, task.start[rider], task.end[rider], task.place[rider])
    prices, bound = np.zeros(len(rider)), 0
    priced: _Priced | None = None
    for size, rounds, step in STAGES[:QUICK] if quick else STAGES:
        remembering = replace(walks, size=min(size, len(rider) - 1))
        priced = _ascend(remembering, prices, found.cost, rounds, step)
        prices, bound = priced.prices.astype(float), max(bound, priced.bound)
        if bound >= found.cost:
            return Ordered(found.order, found.cost, found.cost)
    assert priced is not None  # noqa: S101  # there are stages
    for width in WIDTHS[:QUICK] if quick else WIDTHS:
        order, least = _search(priced, found.cost, width)
        bound = max(bound, least)
        if order is not None:
            found = min(
                found, descend(task, tuple(order)), key=lambda one: (one.cost, one.order)
            )  # fmt: skip
        if bound >= found.cost:
            break
    return Ordered(found.order, found.cost, min(bound, found.cost))


def _ascend(
    walks: _Walks, start: NDArray[np.float64], known: int, rounds: int, step: float
) -> _Priced:
    """Subgradient steps: who rides too often becomes dear, who does not ride becomes cheap."""
    prices, waited = start, 0
    best: _Priced | None = None
    for _ in range(rounds):
        whole = np.round(prices).astype(np.int64)
        place = walks.place - whole[:, None]
        ahead = walks.ahead(place)
        cost, turns = walks.cheapest(place, ahead)
        bound = cost + int(whole.sum())
        waited = 0 if best is None or bound >= best.bound + PROGRESS else waited + 1
        if best is None or bound > best.bound:
            best = _Priced(walks, whole, place, ahead, bound)
        missing = 1 - np.bincount(turns, minlength=len(prices))
        if best.bound >= known or not missing.any():
            break
        if waited >= PATIENCE:
            step, waited, prices = SHORTER * step, 0, best.prices.astype(float)
            if step < LEAST_STEP:
                break
        prices = prices + step * max(known - bound, PROGRESS) / int(missing @ missing) * missing
    assert best is not None  # noqa: S101  # at least one round was run
    return best


def _search(priced: _Priced, known: int, width: int) -> tuple[list[int] | None, int]:
    """Forwards over sets of turns: an order below ``known`` if one is found, and the bound.

    The order holds riders. States that cannot lead below ``known`` are left out, and of the others
    all but ``width`` for each place.
    """
    walks, place = priced.walks, priced.place
    count, paid = len(priced.prices), int(priced.prices.sum())
    bit = np.uint64(1) << np.arange(count, dtype=np.uint64)
    # Turns of one rider are all the same: the first of them goes first.
    before = np.where(np.append(False, walks.rider[1:] == walks.rider[:-1]), np.roll(bit, 1), 0)
    before = before.astype(np.uint64)
    opening = np.flatnonzero(before == 0)
    done, last, cost = bit[opening], opening, (walks.start + place[:, 0])[opening]
    came, turns, bound = list[Ints](), [last], known
    for at in range(1, count):
        inside = (done[:, None] & bit) != 0
        memory = (inside.astype(np.float32) @ walks.weight.astype(np.float32)).astype(np.int64)
        costs = cost[:, None] + walks.change[last] + place[:, at]
        least = costs + priced.ahead[at][np.arange(count), memory] + paid
        least[inside | ((done[:, None] & before) != before)] = FAR
        state, turn = np.nonzero(least < known)
        if not len(state):
            return None, bound
        sets, costs, least = done[state] | bit[turn], costs[state, turn], least[state, turn]
        by = np.lexsort((costs, turn, sets))
        same = (sets[by][1:] == sets[by][:-1]) & (turn[by][1:] == turn[by][:-1])
        by = by[np.append(True, ~same)]
        if len(by) > width:
            by = by[np.argsort(least[by], kind="stable")]
            bound = min(bound, int(least[by[width]]))
            by = by[:width]
        came.append(state[by])
        turns.append(turn[by])
        done, last, cost = sets[by], turn[by], costs[by]
    total = cost + walks.end[last] + paid
    one = int(total.argmin())
    order = []
    for at in range(count - 1, -1, -1):
        order.append(int(walks.rider[turns[at][one]]))
        if at:
            one = int(came[at - 1][one])
    return order[::-1], min(bound, int(total.min()))
