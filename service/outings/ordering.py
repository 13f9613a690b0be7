"""The order of the turns of an outing: what each change-over costs, and wishes for places.

A set-up is made once for each rider, with that rider off and everybody else at home, so what a
change-over costs depends on the two riders alone and the search over orders is exact. The time
of a change-over is first taken as short as it can possibly be, everything at once; the best order
on these is put to the hydrostatics, which may want pumps one after another; the search is
repeated with what that really takes until the best order holds no more guesses. Since guesses are
never too long, that order is the best one.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np

from service.advice.changeover import Patience
from service.advice.requests import Level
from service.outings.between import Between, between, least
from service.outings.descent import descend, good_order
from service.outings.order import BROKEN, EXACT, Ordered, Task, best_order
from service.outings.proof import Prices, prove
from service.outings.requests import Place
from service.outings.trip import Stand, Trip

EARLY = {Level.FIRST_TIME: 10_000, Level.BEGINNER: 5_000}
"""Milliseconds that each place later costs: beginners ride while the water is calm (common
practice). Small, so that it settles ties and little more: a change of side costs minutes."""
ROUNDS = 40
"""Searches, at most. What is then not yet known exactly shows as a gap."""
GUESSES = 12
"""The same where there are too many turns to look through all orders: what is best comes later."""
FEWEST, MOST, EFFORT = 2, 10, 60_000
"""Quick proofs, which take as the cube of the turns, at least and at most; then one in full."""
PATIENCE, HOPELESS = 10_000, 1_000
"""States that searches for a safe order may look at in vain, in all change-overs together: a boat
that lies well has none such, a full one has some thousands. Fewer where no turn may be ridden."""


@dataclass(slots=True)
class Changes:
    """Change-overs between stands: riders by index, then the start (-2) and the way home (-1)."""

    trip: Trip
    stands: Sequence[Stand]
    fuel: float
    known: dict[tuple[int, int], Between] = field(default_factory=dict)
    patience: Patience = field(default_factory=lambda: Patience(PATIENCE))

    def least(self, before: int, after: int) -> int:
        found = self.known.get((before, after))
        if found is not None:
            return found.milliseconds
        return least(self.trip, self.stands[before], self.stands[after])

    def exact(self, before: int, after: int) -> Between:
        key = (before, after)
        if key not in self.known:
            self.known[key] = between(
                self.trip, self.stands[before], self.stands[after], self.fuel, self.patience
            )
        return self.known[key]


def ordered(changes: Changes, turns: Sequence[int]) -> Ordered:
    """The best order of ``turns`` of each rider (0 allowed), as indices of riders.

    Where there are too many turns for that a good one, with nothing proved: bound 0.
    """

    def search(task: Task, last: Ordered | None) -> Ordered:
        return best_order(task) or (descend(task, last.order) if last else good_order(task))

    return _settled(changes, turns, search, None, ROUNDS if sum(turns) <= EXACT else GUESSES)


def proved(changes: Changes, turns: Sequence[int], found: Ordered) -> Ordered:
    """``found`` or a better order with a lower bound, where the search proved nothing yet."""
    if found.bound or not found.order:
        return found
    prices: Prices | None = None

    def search(task: Task, known: Ordered | None) -> Ordered:
        nonlocal prices
        found, prices = prove(task, known or good_order(task), quick, prices)
        return found

    rounds = min(max(EFFORT // sum(turns) ** 3, FEWEST), MOST)
    bound = 0
    for quick in (True, False):
        found = _settled(changes, turns, search, found, rounds if quick else 1)
        bound = max(bound, found.bound)
        if found.exact or changes.patience.lost:
            break
    return replace(found, bound=min(bound, found.cost))


def _settled(
    changes: Changes, turns: Sequence[int], search: Callable[[Task, Ordered | None], Ordered],
    known: Ordered | None, rounds: int,
) -> Ordered:  # fmt: skip
    """Searches until the order found holds no more guesses; of all found the one that is best.

    ``search`` gets the best order so far (as rows of the task), and may return it.
    """
    riders = [rider for rider, count in enumerate(turns) if count]
    table = {(a, b): changes.least(a, b) for a in [-2, *riders] for b in [*riders, -1]}
    place = _places(changes.trip, riders, sum(turns))
    if known is not None:
        known = replace(known, order=tuple(riders.index(rider) for rider in known.order))
    bound = 0
    for _ in range(rounds):
        found = search(_task(changes.trip, riders, turns, table, place), known)
        bound = max(bound, found.bound)
        for pair in pairwise([-2, *(riders[row] for row in found.order), -1]):
            table[pair] = changes.exact(*pair).milliseconds
        really = _task(changes.trip, riders, turns, table, place).cost(found.order)
        if known is None or really < known.cost:
            known = replace(found, cost=really)
        if really <= found.cost or changes.patience.lost:
            break
    assert known is not None  # noqa: S101  # at least one round was run
    return Ordered(tuple(riders[row] for row in known.order), known.cost, min(bound, known.cost))


def _task(
    trip: Trip, riders: Sequence[int], turns: Sequence[int], table: dict[tuple[int, int], int],
    place: np.ndarray[tuple[int, int], np.dtype[np.int64]],
) -> Task:  # fmt: skip
    return Task(
        change=np.array([[table[a, b] for b in riders] for a in riders], dtype=np.int64),
        start=np.array([table[-2, b] for b in riders], dtype=np.int64),
        end=np.array([table[a, -1] for a in riders], dtype=np.int64),
        place=place,
        turns=tuple(turns[rider] for rider in riders),
        rest=tuple(trip.riders[rider].rest for rider in riders),
    )


def _places(
    trip: Trip, riders: Sequence[int], count: int
) -> np.ndarray[tuple[int, int], np.dtype[np.int64]]:
    """(riders, turns): what each place costs each rider."""
    place = np.zeros((len(riders), count), dtype=np.int64)
    wishes = [trip.riders[rider].place for rider in riders]
    for row, rider in enumerate(riders):
        place[row] = EARLY.get(trip.filled[rider].level, 0) * np.arange(count)
    for wish, at in ((Place.FIRST, 0), (Place.LAST, count - 1)):
        wanted = [wish in those for those in wishes]
        if any(wanted):
            place[~np.array(wanted), at] += BROKEN
    for row, those in enumerate(wishes):
        if Place.NOT_FIRST in those:
            place[row, 0] += BROKEN
        if Place.NOT_LAST in those:
            place[row, -1] += BROKEN
    return place


def kept(wish: Place) -> Callable[[Sequence[int], int], bool]:
    """Whether an order keeps a rider's wish."""
    return {
        Place.FIRST: lambda order, rider: order[0] == rider,
        Place.LAST: lambda order, rider: order[-1] == rider,
        Place.NOT_FIRST: lambda order, rider: order[0] != rider,
        Place.NOT_LAST: lambda order, rider: order[-1] != rider,
    }[wish]
