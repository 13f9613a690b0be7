"""Bayesian linear regression with a group of its own for each rider; pure numpy.

Row ``i`` says ``dᵢ = xᵢ·β + u(groupᵢ) + error``, priors normal about nought. Two kinds of rows:

* what was measured: ``dᵢ`` is known. Its error is Student's t with four degrees of freedom, so
  that a single wrong row pulls little; the scatter is estimated along with it.
* what was compared: of a step from one value to another it is known whether it was for the
  better, so on which side of the step's middle ``dᵢ`` lies, and one such word in
  :data:`MISJUDGED` is wrong.

Expectation maximisation: every turn is a regression in closed form with weights (measured rows)
and expected values (compared rows) of the turn before. The answer is always the same.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

Array = NDArray[np.float64]
Groups = NDArray[np.intp]

FREEDOM = 4.0
_TOLD = (FREEDOM + 1.0) / (FREEDOM + 3.0)
"""Fisher information of Student's t over that of the weights; without it the bands are too
narrow (K. L. Lange, R. J. A. Little, J. M. G. Taylor, JASA 84 (1989) 881–896; from memory, the
tests measure it)."""
START = 6.0
"""How many rows the scatter first assumed is worth."""
JUDGED = 1.5
"""Scatter of what is compared, in that of what is measured: eyes are no rule. Own choice."""
MISJUDGED = 0.1
"""Share of comparisons that are wrong altogether. Own choice."""

_TURNS = 60
_SETTLED = 1e-4
"""Turns end where nothing moves by more than this share of its prior standard deviation."""


@dataclass(frozen=True, slots=True, eq=False)
class Measured:
    """(n, k) features, (n,) values, their precision against a whole row's, and groups.

    ``counts``: of how many rows each stands, 0 to 1, for those that are old or alike. Groups are
    numbered from 0; the number after the last is of rows that belong to none.
    """

    x: Array
    values: Array
    precision: Array
    counts: Array
    group: Groups


@dataclass(frozen=True, slots=True, eq=False)
class Compared:
    """(m, k) features, (m,) middles of steps, +1 where the value lies above, −1 below; as above."""

    x: Array
    middles: Array
    above: Array
    weight: Array
    group: Groups


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """(k,) coefficients with covariance, (g,) groups' own offsets with standard errors.

    ``weight`` (n,) is what measured rows count in the end, ``told`` (m,) what compared ones do:
    both against a whole measured row. ``freedom``: degrees of freedom of the intervals.
    """

    coefficients: Array
    covariance: Array
    offsets: Array
    errors: Array
    scatter: float
    freedom: float
    weight: Array
    told: Array


def regress(
    measured: Measured, compared: Compared, groups: int, prior: Array, own: float, scatter: float
) -> Posterior:
    """The posterior. ``prior`` (k,) and ``own``: standard deviations of β and u beforehand."""
    n = len(measured.values)
    x = np.concatenate((measured.x, compared.x))
    group = np.concatenate((measured.group, compared.group))
    values = np.concatenate((measured.values, compared.middles))
    system = _System(x, group, groups, prior**-2.0, own**-2.0)
    weight, rows_there = measured.counts * measured.precision, float(measured.counts.sum())
    stated, variance, turn = weight, scatter**2, 0
    before = np.full(len(prior) + groups, np.inf)
    unit = np.append(prior, np.full(groups, own))
    while True:
        rows = np.concatenate((_TOLD * weight, compared.weight / JUDGED**2)) / variance
        boat, offsets = system.solve(rows, values)
        mean = x @ boat + np.append(offsets, 0.0)[group]
        squares = (measured.values - mean[:n]) ** 2
        weight = stated * ((FREEDOM + 1.0) / (FREEDOM + measured.precision * squares / variance))
        judged = JUDGED * math.sqrt(variance)
        beyond = compared.above * (mean[n:] - compared.middles) / judged
        pull = _pull(beyond)
        values[n:] = mean[n:] + compared.above * judged * pull
        now = np.append(boat, offsets)
        turn += 1
        if turn == _TURNS or bool(np.all(np.abs(now - before) <= _SETTLED * unit)):
            break
        before = now
        variance = (START * scatter**2 + float(weight @ squares)) / (START + rows_there)
    told = compared.weight / JUDGED**2 * np.clip(pull * (pull + beyond), 0.0, 1.0)
    rows = np.concatenate((_TOLD * weight, told)) / variance
    covariance, errors = system.errors(rows)
    return Posterior(
        boat, covariance, offsets, errors, math.sqrt(variance), START + rows_there, weight, told
    )


def _pull(beyond: Array) -> Array:
    """How far a comparison pulls, in its scatter: the slope of its log-likelihood.

    ``beyond``: how far beyond the middle the value is thought, on the side that was told. The
    likelihood is ``m + (1 − 2 m) Φ(beyond)`` with ``m`` the share misjudged; minus its second
    derivative is ``pull (pull + beyond)``, the row's information.
    """
    density = np.exp(-0.5 * beyond**2) / math.sqrt(2.0 * math.pi)
    right = 1.0 - 2.0 * MISJUDGED
    slope: Array = right * density / (MISJUDGED + right * ndtr(beyond))
    return slope


class _System:
    """The normal equations of β and u: [[N, Cᵀ], [C, D]] with D diagonal, by Schur complement."""

    def __init__(self, x: Array, group: Groups, groups: int, prior: Array, own: float) -> None:
        self.x, self.group, self.groups = x, group, groups
        self.prior, self.own = np.diag(prior), own

    def solve(self, rows: Array, values: Array) -> tuple[Array, Array]:
        """β and u, from the information of each row and its value."""
        inner, cross, own = self._information(rows)
        pulled = rows * values
        pull = self._of_groups(pulled)
        share = cross / own[:, None]
        boat = np.linalg.solve(inner - share.T @ cross, self.x.T @ pulled - share.T @ pull)
        return _floats(boat), (pull - cross @ boat) / own

    def errors(self, rows: Array) -> tuple[Array, Array]:
        """The covariance of β, the standard errors of u."""
        inner, cross, own = self._information(rows)
        share = cross / own[:, None]
        covariance = _floats(np.linalg.inv(inner - share.T @ cross))
        return covariance, np.sqrt(1.0 / own + np.einsum("ij,jk,ik->i", share, covariance, share))

    def _information(self, rows: Array) -> tuple[Array, Array, Array]:
        weighed = self.x * rows[:, None]
        cross = np.column_stack([self._of_groups(column) for column in weighed.T])
        return weighed.T @ self.x + self.prior, cross, self._of_groups(rows) + self.own

    def _of_groups(self, rows: Array) -> Array:
        return _floats(np.bincount(self.group, rows, self.groups + 1)[: self.groups])


def _floats(array: object) -> Array:
    return np.asarray(array, dtype=np.float64)
