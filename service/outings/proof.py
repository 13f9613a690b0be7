"""How far from the best an order can be at most, and a better one where there is one.

For more turns than all sets of them can be looked through. Orders are relaxed to ``walks``; what a
walk still costs from somewhere on tells the dynamic programme over sets (Held and Karp 1962) what
it may leave out, as it cannot be better than the order known. Where that still leaves too many
states the most hopeful ones are kept, and the least of the others is the bound.

Everything is whole milliseconds and bounded by count: the bound has no rounding in it, and the
same outing always gets the same one.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from service.outings.descent import descend
from service.outings.order import BROKEN, Ordered, Task
from service.outings.walks import FAR, Ints, Walks

STAGES: tuple[tuple[int, int, float], ...] = (
    (3, 100, 2.0),
    (3, 100, 1.0),
    (5, 60, 0.5),
    (8, 30, 0.5),
    (8, 30, 0.5),
)
"""How many near turns are remembered, rounds of prices, and the first step of these."""
PATIENCE, SHORTER, LEAST_STEP = 15, 0.6, 0.01
"""Rounds without progress until the step is shortened, to which part, and when to stop."""
PROGRESS = 1000
"""Milliseconds; what a round has to add to count as progress."""
WIDTHS = (2_000, 20_000)
"""States kept for each place, search after search: 20 000 are half a second for 40 turns."""
QUICK_STAGES, QUICK_WIDTHS = STAGES[:3], WIDTHS[:1]
"""What is enough to find what is still a guess."""
WARM = 2
"""Stages that prices of a proof before make needless."""

Prices = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class _Priced:
    """Prices on the turns, with what they make of the places and of the walks ahead."""

    walks: Walks
    prices: Ints
    place: Ints
    ahead: list[Ints]
    bound: int


def prove(
    task: Task, found: Ordered, quick: bool = False, prices: Prices | None = None
) -> tuple[Ordered, Prices]:
    """``found`` or a better order, with a cost that no order is below, and the prices used for it.

    ``quick``: a third of the time, and a looser bound. ``prices`` of a proof before, of nearly the
    same task, save work.
    """
    walks, bound = _walks(task), 0
    stages = QUICK_STAGES if quick else STAGES
    if prices is None:
        prices = np.zeros(task.count)
    else:
        stages = stages[WARM:]
    for size, rounds, step in stages:
        walks = replace(walks, size=min(size, task.count - 1))
        priced = _ascend(walks, prices, found.cost, rounds, step)
        prices, bound = priced.prices.astype(float), max(bound, priced.bound)
        if bound >= found.cost:
            return Ordered(found.order, found.cost, found.cost), prices
        left = walks.left_open(priced.place, priced.ahead, found.cost - int(priced.prices.sum()))
        walks = replace(walks, open=left)
        priced = replace(priced, walks=walks)
    for width in QUICK_WIDTHS if quick else WIDTHS:
        order, least = _search(priced, found.cost, width)
        bound = max(bound, least)
        if order is not None:
            found = min(
                found, descend(task, tuple(order)), key=lambda one: (one.cost, one.order)
            )  # fmt: skip
        if bound >= found.cost:
            break
    return Ordered(found.order, found.cost, min(bound, found.cost)), prices


def _walks(task: Task) -> Walks:
    """Everything open but from a turn to itself."""
    rider = np.repeat(np.arange(len(task.turns)), task.turns)
    change = task.change[np.ix_(rider, rider)]
    # Everybody rests one turn or more: next to oneself is a rest that is not kept.
    change = change + BROKEN * (rider[:, None] == rider[None, :])
    np.fill_diagonal(change, FAR)
    apart = np.repeat(~np.eye(len(rider), dtype=bool)[None], len(rider), axis=0)
    return Walks(rider, change, task.start[rider], task.end[rider], task.place[rider], apart)


def _ascend(walks: Walks, start: Prices, known: int, rounds: int, step: float) -> _Priced:
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
        least = costs + priced.ahead[at][(np.arange(count) << walks.size) + memory] + paid
        least[inside | ~walks.open[at, last] | ((done[:, None] & before) != before)] = FAR
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
