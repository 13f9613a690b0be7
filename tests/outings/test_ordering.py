"""Guesses that the order of turns is searched with, and how much work the search may be."""

from __future__ import annotations

import pytest

from service.outings.between import between, least
from tests.outings.boats import body, planned


@pytest.mark.parametrize("pumps", ["together", "one_by_one"])
@pytest.mark.parametrize("boat", ["demo-6m", "demo-8m"])
def test_a_guess_is_never_too_long_and_mostly_right(boat: str, pumps: str) -> None:
    """Every change-over there is, put to the hydrostatics; a guess too long would hide an order."""
    bag = {"mass": 20, "x": 1.0, "y": 0, "z": 0.8, "movable": True}
    found = planned(body(6, boat, pumps=pumps, total_time=None, loads=[bag]))
    stands = [found.trip.now, *(line.turn.stand for line in found.lines), found.home.stand]
    off = [
        between(found.trip, a, b, 0.5).milliseconds - least(found.trip, a, b)
        for a in stands[:-1] for b in stands[1:] if a is not b
    ]  # fmt: skip
    assert min(off) >= 0
    assert off.count(0) >= 0.75 * len(off)
