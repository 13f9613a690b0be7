"""Riding time shared out: nobody gets more than wanted, and the least share is the largest."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from service.outings.trip import Trip

STEP = 30.0
"""Shares that had to be cut are cut to half minutes."""


@dataclass(frozen=True, slots=True)
class Shares:
    """Riding time (s) of each rider in all."""

    riding: tuple[float, ...]

    def worth(self, trip: Trip, turns: Sequence[int]) -> bool:
        """Whether every turn is long enough to be worth it."""
        return all(
            self.riding[rider] / count >= worth_a_turn(trip, rider, count) - 1e-6
            for rider, count in enumerate(turns)
            if count
        )


def worth_a_turn(trip: Trip, rider: int, turns: int) -> float:
    """The shortest turn (s) that is worth it; one who wants less gets that."""
    return min(trip.least_turn, trip.wanted[rider] / turns)


def share(trip: Trip, turns: Sequence[int], spent: float) -> Shares:
    """What is left of the total after ``spent`` (s), in equal shares up to what each wanted.

    Someone without a turn gets nothing. Without a total time everybody gets what they wanted.
    """
    wanted = [trip.wanted[r] if count else 0.0 for r, count in enumerate(turns)]
    total = trip.request.total_time
    if total is None or math.fsum(wanted) <= total - spent:
        return Shares(tuple(wanted))
    left, level = max(total - spent, 0.0), 0.0
    ranked = sorted(want for want in wanted if want > 0.0)
    for number, want in enumerate(ranked):
        level = left / (len(ranked) - number)
        if want > level:
            break
        left -= want
    level = math.floor(level / STEP) * STEP
    return Shares(tuple(min(want, level) for want in wanted))
