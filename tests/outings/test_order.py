"""The order against every order there is, and the bound against the best order."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from service.outings.order import BROKEN, Task, best_order, lower_bound


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


@pytest.mark.parametrize("riders", range(1, 8))
@pytest.mark.parametrize("sides", [False, True])
def test_up_to_seven_riders_it_is_the_best_of_all_orders(riders: int, sides: bool) -> None:
    for seed in range(4):
        found = task(seed, (1,) * riders, sides=sides)
        got = best_order(found)
        assert (got.cost, got.order) == best_of_all(found)
        assert got.exact


@pytest.mark.parametrize(
    ("turns", "rest"),
    [((2, 2, 2), 1), ((2, 1, 3), 1), ((2, 2, 1, 2), 2), ((3, 1, 1), 3), ((3,), 1)],
)
def test_with_several_turns_it_is_the_best_of_all_orders(turns: tuple[int, ...], rest: int) -> None:
    for seed in range(5):
        found = task(seed, turns, rest)
        got = best_order(found)
        assert (got.cost, got.order) == best_of_all(found)


@pytest.mark.parametrize("riders", [2, 5, 9, 13])
def test_no_order_is_below_the_bound(riders: int) -> None:
    """Against the exact one, which is found by another method."""
    for seed in range(4):
        found = task(seed, (1,) * riders, sides=seed % 2 == 0)
        best = best_order(found).cost
        bound = lower_bound(found, best)
        assert bound <= best
        assert bound > 0.3 * (best % BROKEN)


def test_without_preferences_the_bound_is_the_best_order() -> None:
    """Then the bound is a shortest tour, which the cutting off of subtours finds exactly."""
    for seed in range(4):
        plain = task(seed, (1,) * 8)
        plain = Task(
            plain.change,
            plain.start,
            plain.end,
            np.zeros_like(plain.place),
            plain.turns,
            plain.rest,
        )
        best = best_order(plain).cost
        assert lower_bound(plain, best) == best


@pytest.mark.parametrize("seed", [1, 2])
def test_beyond_that_an_order_of_everybody_with_a_proved_gap(seed: int) -> None:
    found = task(seed, (1,) * 24, sides=True)
    got = best_order(found)
    assert sorted(got.order) == list(range(24))
    assert got.cost == found.cost(got.order)
    assert got.cost < found.cost(range(24))
    assert lower_bound(found, got.cost) <= got.cost


def test_wishes_go_before_any_time() -> None:
    found = task(3, (1,) * 6)
    found.place[2] = BROKEN  # anywhere but last
    found.place[2, -1] = 0
    assert best_order(found).order[-1] == 2
