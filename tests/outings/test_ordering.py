"""Guesses that the order of turns is searched with, and how much work the search may be."""

from __future__ import annotations

from types import ModuleType
from typing import Any

import pytest

from service.advice.balance import way
from service.advice.loading_condition import Attitude, LoadingCondition
from service.outings import ordering
from service.outings.between import between, least
from tests.bench.outing import party
from tests.outings.boats import body, planned


@pytest.mark.parametrize("pumps", ["together", "one_by_one"])
@pytest.mark.parametrize(("boat", "count"), [("demo-6m", 5), ("demo-8m", 6)])
def test_a_guess_is_never_too_long_and_mostly_right(boat: str, count: int, pumps: str) -> None:
    """Every change-over there is, put to the hydrostatics; a guess too long would hide an order.

    With eight aboard the smallest boat has no freeboard to spare, and many a guess is too short.
    """
    bag = {"mass": 20, "x": 1.0, "y": 0, "z": 0.8, "movable": True}
    found = planned(body(count, boat, pumps=pumps, total_time=None, loads=[bag]))
    stands = [found.trip.now, *(line.turn.stand for line in found.lines), found.home.stand]
    off = [
        between(found.trip, a, b, 0.5).milliseconds - least(found.trip, a, b)
        for a in stands[:-1] for b in stands[1:] if a is not b
    ]  # fmt: skip
    assert min(off) >= 0
    assert off.count(0) >= 0.75 * len(off)


def overloaded(count: int) -> dict[str, Any]:
    """Far beyond the sixteen persons of the boat's plate."""
    told = body(0)
    told["riders"] = [
        {
            "name": f"rider {n}",
            "minutes": 5,
            "rider": {"mass": 45 + 17 * n % 55, "stance": ("regular", "goofy")[n % 3 % 2]},
        }
        for n in range(count)
    ]
    return told | {"total_time": None}


def counted(monkeypatch: pytest.MonkeyPatch, module: ModuleType, name: str) -> list[int]:
    """One entry for each call from now on."""
    called = list[int]()
    real = getattr(module, name)

    def count(*args: Any, **named: Any) -> Any:
        called.append(1)
        return real(*args, **named)

    monkeypatch.setattr(module, name, count)
    return called


def looked_at(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """One entry for each state between two turns that is put to the hydrostatics from now on."""
    called = list[int]()
    real = way.Way.attitude

    def count(self: way.Way, state: LoadingCondition) -> Attitude:
        before = self.checks
        found = real(self, state)
        called.extend([1] * (self.checks - before))
        return found

    monkeypatch.setattr(way.Way, "attitude", count)
    return called


def test_an_overloaded_boat_gets_a_plain_answer_for_little_work(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Without a bound on searches in vain these were 45 000 states and five proofs.

    One proof is quick; the other one, in full, is for the order that it ends with.
    """
    states = looked_at(monkeypatch)
    proofs = counted(monkeypatch, ordering, "prove")
    found = planned(overloaded(35))
    assert found.verdict.value == "do_not_go"
    assert sorted(line.turn.rider for line in found.lines) == list(range(35))
    assert 0.0 < found.bound <= found.cost
    assert len(states) < 2_500
    assert len(proofs) <= 2


def test_forty_turns_within_the_limits_are_little_work_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """With change-overs guessed too short these were 186 change-overs."""
    changed = counted(monkeypatch, ordering, "between")
    states = looked_at(monkeypatch)
    told = party(20)
    found = planned({name: value for name, value in told.items() if value is not None})
    assert len(found.lines) == 40
    assert found.verdict.value != "do_not_go"
    assert not any(change.broken for change in (line.between for line in found.lines))
    assert len(changed) < 100
    assert len(states) < 1_500
    assert found.bound > 0.97 * found.cost
