"""The linear program of the tanks: the answer of HiGHS against scipy's and against its own dual."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import linprog

from service.advice.balance.tanks import _minimum


@pytest.mark.parametrize("case", range(20))
def test_several_programs_side_by_side_are_each_solved(
    case: int, capfd: pytest.CaptureFixture[str]
) -> None:
    rng = np.random.default_rng(case)
    count, rows, columns = int(rng.integers(1, 5)), 6, 8
    costs, most = rng.uniform(0.1, 2.0, columns), rng.uniform(0.5, 3.0, columns)
    matrix = np.where(rng.random((rows, columns)) < 0.6, rng.normal(size=(rows, columns)), 0.0)
    # Some point within the bounds is allowed, so that there is an answer.
    allowed = rng.uniform(0.0, most, (count, columns)) @ matrix.T
    right = allowed + rng.uniform(0.0, 0.1, (count, rows))
    found = _minimum(costs, matrix, right, most)
    assert found is not None
    for x, dual, limit in zip(*found, right, strict=True):
        assert np.all(matrix @ x <= limit + 1e-7)
        assert np.all((x >= -1e-9) & (x <= most + 1e-9))
        bounds = [(0.0, each) for each in most.tolist()]
        by_scipy = linprog(costs, A_ub=matrix, b_ub=limit, bounds=bounds)
        assert costs @ x == pytest.approx(by_scipy.fun, abs=1e-9)
        # Strong duality: what is left of a cost beside the rows' prices counts up to its bound.
        assert np.all(dual <= 1e-9)
        reduced = costs - matrix.T @ dual
        assert limit @ dual + np.minimum(reduced, 0.0) @ most == pytest.approx(costs @ x, abs=1e-9)
    assert capfd.readouterr() == ("", "")


def test_what_cannot_be_has_no_answer() -> None:
    assert _minimum(np.ones(1), np.array([[-1.0]]), np.array([[-2.0]]), np.ones(1)) is None
