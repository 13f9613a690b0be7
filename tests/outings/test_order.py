"""The order against every order there is, and the bound against the best order."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from service.outings import proof
from service.outings.descent import good_order
from service.outings.order import BROKEN, Ordered, Task, best_order
from service.outings.proof import prove


def task(seed: int, turns: tuple[int, ...], rest: int = 1, sides: bool = False) -> Task:
    rng = np.random.default_rng(seed)
    riders, count = len(turns), sum(turns)
    change = rng.integers(0, 200_000, (riders, riders))
    if sides:  # as on the water: cheap on one side, dear to change it
        side = rng.integers(0, 2, riders)
        change = change // 20 + 150_000 * (side[:, None] != side[None, :])
    np.fill_diagonal(change, 0)
    early = rng.choice([0, 5_000, 10_000], riders)
    place = early[:, None] * np.arange(count)[None, :]
    place[rng.integers(riders), 0] += BROKEN
    place[rng.integers(riders), -1] += BROKEN
    return Task(
        change.astype(np.int64), rng.integers(0, 300_000, riders),
        rng.integers(0, 300_000, riders), place.astype(np.int64), turns, (rest,) * riders,
    )  # fmt: skip


def best_of_all(found: Task) -> tuple[int, tuple[int, ...]]:
    listed = [rider for rider, turns in enumerate(found.turns) for _ in range(turns)]
    return min((found.cost(order), order) for order in set(itertools.permutations(listed)))


def exact(found: Task) -> Ordered:
    got = best_order(found)
    assert got is not None
    return got


@pytest.mark.parametrize("riders", range(1, 8))
@pytest.mark.parametrize("sides", [False, True])
def test_up_to_seven_riders_it_is_the_best_of_all_orders(riders: int, sides: bool) -> None:
    for seed in range(4):
        found = task(seed, (1,) * riders, sides=sides)
        got = exact(found)
        assert (got.cost, got.order) == best_of_all(found)
        assert got.exact


@pytest.mark.parametrize(
    ("turns", "rest"),
    [((2, 2, 2), 1), ((2, 1, 3), 1), ((2, 2, 1, 2), 2), ((3, 1, 1), 3), ((3,), 1)],
)
def test_with_several_turns_it_is_the_best_of_all_orders(turns: tuple[int, ...], rest: int) -> None:
    for seed in range(5):
        found = task(seed, turns, rest)
        got = exact(found)
        assert (got.cost, got.order) == best_of_all(found)


@pytest.mark.parametrize("turns", [(1,) * 2, (1,) * 5, (1,) * 9, (1,) * 13, (2, 1, 3), (2,) * 4])
def test_the_proof_agrees_with_the_exact_search(turns: tuple[int, ...]) -> None:
    """Two methods that share no code but the costs."""
    for seed in range(6):
        found = task(seed, turns, sides=seed % 2 == 0)
        best = exact(found).cost
        got, _ = prove(found, good_order(found))
        assert got.cost == found.cost(got.order) == best
        assert got.bound == best


def test_a_bound_is_no_more_than_any_order_also_where_states_are_left_out(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A search so narrow that it proves little, on what the exact one can solve."""
    monkeypatch.setattr(proof, "WIDTHS", (3,))
    monkeypatch.setattr(proof, "STAGES", ((1, 5, 1.0),))
    loose = 0
    for seed in range(30):
        found = task(seed, (1,) * 11, sides=seed % 2 == 0)
        best = exact(found).cost
        got, _ = prove(found, Ordered(tuple(range(11)), found.cost(range(11)), 0))
        assert got.bound <= best <= got.cost == found.cost(got.order)
        loose += got.bound < best
    assert loose > 5


def test_rests_of_several_turns_only_lower_the_bound() -> None:
    """The proof knows rests of one turn; what is longer it leaves out."""
    for seed in range(6):
        found = task(seed, (2, 2, 1, 2), rest=2)
        best = exact(found).cost
        got, _ = prove(found, good_order(found))
        assert got.bound <= best <= got.cost == found.cost(got.order)


@pytest.mark.parametrize("turns", [(1,) * 24, (3,) * 8, (2,) * 5 + (1,) * 12])
def test_beyond_that_an_order_of_everybody_near_the_best(turns: tuple[int, ...]) -> None:
    found = task(len(turns), turns, sides=True)
    assert best_order(found) is None
    good = good_order(found)
    got, _ = prove(found, good)
    assert [got.order.count(rider) for rider in range(len(turns))] == list(turns)
    assert got.bound <= got.cost == found.cost(got.order) <= good.cost
    wishes = got.cost // BROKEN * BROKEN  # those that no order keeps are in both
    assert got.bound - wishes >= 0.9 * (got.cost - wishes)
    assert prove(found, good)[0] == got


def test_wishes_go_before_any_time() -> None:
    found = task(3, (1,) * 6)
    found.place[2] = BROKEN  # anywhere but last
    found.place[2, -1] = 0
    assert exact(found).order[-1] == 2
