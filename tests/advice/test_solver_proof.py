"""Nothing that a search of every seating and every fill on a grid finds is better than the solver.

Reference: tests/advice/reference_search.py, which shares only the weights of the cost with the
solver. What "better" means, and what the tolerances mean:

* where the reference reaches the bands with every limit held, so does the solver, and its answer
  costs at most ``LITRES`` more: half a kilogram of water short, or five people moved — what whole
  percents of a tank (2 to 4 kg) make of the continuous optimum;
* where the bands are out of reach, the solver is at most ``HALF_BANDS`` further out (0.05° of
  lean or 0.03° of trim), since the boat's curvature can hide a better corner from a linear model;
* where the firm limits cannot be held, no water is carried, and the seats come within ``METRES``
  of the best; where the others cannot (bow, lean, ample GM), the solver comes within ``NEAREST`` of
  the least that they are broken by: GM bends and jumps, and its slope says little far off.

The grid is coarse (50 %, with the starting and the greatest fill of each tank); the solver works
in whole percent, of which the grid's fills are some. So it may be better than the reference, and
is, but must not be worse.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from service.advice.balance.cost import FORWARD, OFF, Task

from service.advice.loading_plan import Wanted, plan_loading
from service.advice.situation import Cargo
from tests.advice.boats import FUEL, WATER, bag_case, small_case, tight_case
from tests.advice.reference_search import best_on_grid
from tests.size import cases

LITRES = 50.0
HALF_BANDS = 0.05
METRES = 0.005
NEAREST = 0.015
CASES = cases(60, 120)
"""Of each kind."""
LOADINGS = 600
"""Looked at in each case; of more, evenly drawn seatings. Pass ``None`` for all of them."""


@pytest.mark.parametrize("case", range(CASES))
def test_no_loading_on_the_grid_is_better(case: int) -> None:
    compared(*small_case(np.random.default_rng(case)))


@pytest.mark.parametrize("case", range(CASES))
def test_with_bags_to_shift_none_is_better_either(case: int) -> None:
    compared(*bag_case(np.random.default_rng(5000 + case)))


@pytest.mark.parametrize("case", range(CASES))
def test_near_every_limit_none_is_better_either(case: int) -> None:
    compared(*tight_case(np.random.default_rng(9000 + case)))


@pytest.mark.parametrize("case", range(CASES // 2))
def test_with_water_to_spare_none_is_better_either(case: int) -> None:
    cargo, wanted = small_case(np.random.default_rng(12000 + case))
    compared(cargo, replace(wanted, spare=0.03))


@pytest.mark.parametrize("case", range(CASES // 2))
def test_with_few_allowed_in_the_bow_none_is_better_either(case: int) -> None:
    rng = np.random.default_rng(15000 + case)
    cargo, wanted = small_case(rng)
    compared(cargo, replace(wanted, most_forward=float(rng.choice([0.0, 60.0, 100.0, 150.0]))))


def compared(cargo: Cargo, wanted: Wanted) -> None:
    """The solver's loading with the cheapest of the reference search."""
    plan = plan_loading(cargo, wanted, WATER, FUEL)
    task = Task.of(cargo, wanted, WATER, FUEL)
    percents = [100.0 * fill for fill in plan.fills]
    ours = task.cost((*plan.people, *plan.bags), percents, plan.attitude)
    firm = ours.limits == 0.0
    found = best_on_grid(cargo, wanted, 50.0, below=ours.total, most=LOADINGS, firm=firm)
    if found is None:
        return
    best = task.cost(found.aboard, found.percents, task.lie(found.aboard, found.percents))
    assert ours.limits <= best.limits + METRES
    if ours.limits > 0.0:
        assert best.limits > 0.0
        return
    assert ours.lines <= best.lines + (NEAREST if best.lines > 0.0 else 0.0)
    if best.lines > 0.0:
        return
    assert ours.forward <= best.forward + (HALF_BANDS * OFF / FORWARD if best.off > 0.0 else 0.0)
    assert ours.off <= best.off + (HALF_BANDS if best.off > 0.0 else 0.0)
    if best.off == 0.0:
        assert ours.total <= best.total + LITRES


def test_the_reference_finds_what_is_better() -> None:
    """The reference is no empty search: against a loading made worse it finds one."""
    cargo, wanted = small_case(np.random.default_rng(4))
    assert cargo.boat.tanks
    task = Task.of(cargo, wanted, WATER, FUEL)
    plan = plan_loading(cargo, wanted, WATER, FUEL)
    empty = [0.0] * len(cargo.boat.tanks)
    worse = task.cost(plan.people, empty, task.lie(plan.people, empty))
    found = best_on_grid(cargo, wanted, 50.0, below=worse.total)
    assert found is not None
    assert found.cost < worse.total - 100.0


@pytest.mark.parametrize("case", range(8))
def test_the_reference_judges_as_the_equilibrium_does(case: int) -> None:
    """Its array Newton's method and the service's scalar one, on the same loading."""
    cargo, wanted = small_case(np.random.default_rng(1000 + case))
    task = Task.of(cargo, wanted, WATER, FUEL)
    found = best_on_grid(cargo, wanted, 50.0)
    assert found is not None
    cost = task.cost(found.aboard, found.percents, task.lie(found.aboard, found.percents))
    assert found.cost == pytest.approx(cost.total, rel=1e-8, abs=1e-6)
