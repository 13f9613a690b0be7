"""How the tanks may be changed from their starting fills to hold bands and limits.

For one seating that is a small linear program, whose value is a convex function of lean, trim and
what is left to the limits. So each one solved gives, by its dual, a lower bound for *all*
seatings (Benders' cuts), and few have to be solved to know the best of thousands.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import highspy
import numpy as np

from service.advice.balance.cost import LIMIT, MINUTE, OFF, SHORT, Array, Task, total
from service.advice.balance.linear import Linear

EDGE = 1e-3
"""Half bands that the model stays inside a band, so that rounding does not put it out."""
NEAR = 2
"""Whole percents to either side of the linear program's answer that are tried in each tank."""
TOGETHER = 3
"""At most so many tanks are rounded in all combinations, with full and empty among what is tried;
the others to the nearest percent."""
SCALE = 1e-3
"""The program's unit is 1000 litres, to keep its numbers of one size."""


@dataclass(frozen=True, slots=True, eq=False)
class Solved:
    """Of one seating: the program's value, its slope by the outputs (m), percents (not whole)."""

    value: float
    slope: Array
    percents: Array


class Tanks:
    """The program for one linear model, staying ``clear`` (m) of the limits."""

    def __init__(self, task: Task, linear: Linear, clear: float) -> None:
        self.task, self.linear, self.clear = task, linear, clear
        # The outputs at the starting fills are told with the free surfaces of those.
        self.slack = _part_filled(task.start)
        self._matrix, self._right, self._by_output = self._rows()
        more, less = task.seconds
        present = task.present
        up = np.where(task.start >= present, more, -less) / 60.0
        down = np.where(task.start > present, -more, less) / 60.0
        under = [LIMIT if firm else LIMIT * task.lines for _, firm in linear.limits]
        self._costs = SCALE * np.concatenate(
            (task.litres + MINUTE * up, task.litres + MINUTE * down, [OFF, OFF, SHORT, *under])
        )
        most = [np.inf] * (3 + len(linear.limits))
        self._most = np.concatenate((task.most - task.start, task.start, most))

    def _rows(self) -> tuple[Array, Array, Array]:
        """``matrix @ variables <= right - by_output @ outputs``.

        The variables: percents more and less in each tank, half bands out of lean and of trim,
        kilograms short, metres under each limit. The outputs: with the starting fills.
        """
        task, turn, limits = self.task, self.linear.tank.T, self.linear.limits
        outputs, tanks = turn.shape
        more = 3 + len(limits)
        rows, right, by_output = [], [], []
        for number, band in enumerate((task.wanted.lean, task.wanted.trim)):
            for sign in (1.0, -1.0):
                row = np.zeros(2 * tanks + more)
                row[: 2 * tanks] = np.concatenate((sign * turn[number], -sign * turn[number]))
                row[2 * tanks + number] = -band.either_side
                rows.append(row)
                right.append(sign * band.wanted + (1.0 - EDGE) * band.either_side)
                by_output.append(sign * np.eye(outputs)[number])
        for limit, (columns, _) in enumerate(limits):
            for number in range(columns.start, columns.stop):
                row = np.concatenate((-turn[number], turn[number], np.zeros(more)))
                row[2 * tanks + 3 + limit] = -1.0
                rows.append(row)
                right.append(-self.clear)
                by_output.append(-np.eye(outputs)[number])
        start = float(task.start @ task.kg)
        water = np.concatenate((task.kg, -task.kg))
        rows.append(np.concatenate((-water, np.zeros(more))))
        rows[-1][2 * tanks + 2] = -1.0
        right.append(start - task.least)
        by_output.append(np.zeros(outputs))
        if task.wanted.room is not None:
            rows.append(np.concatenate((water, np.zeros(more))))
            right.append(max(task.wanted.room, 0.0) - start)
            by_output.append(np.zeros(outputs))
        return np.array(rows), np.array(right), np.array(by_output)

    def solve(self, outputs: Array) -> list[Solved]:
        """The least cost of the tanks with each of ``outputs`` (k, m) at the starting fills.

        Side by side in one program, since calling the solver costs more than solving.
        """
        count, tanks = len(outputs), len(self.task.start)
        right = self._right - outputs @ self._by_output.T
        found = _minimum(self._costs, self._matrix, right, self._most)
        if found is None:  # cannot be: emptying every tank is always allowed
            return [Solved(0.0, np.zeros(outputs.shape[1]), np.zeros(tanks))] * count
        x, dual = found
        values = x @ self._costs / SCALE
        percents = self.task.start + x[:, :tanks] - x[:, tanks : 2 * tanks]
        slopes = -(dual @ self._by_output) / SCALE
        return list(map(Solved, values.tolist(), slopes, percents))

    def whole(self, outputs: Array, percents: Array) -> tuple[float, Array]:
        """The cheapest whole percents about ``percents``; the cost without people's part."""
        task = self.task
        nearest = np.clip(np.floor(percents + 0.5), 0.0, task.most)
        uneven = np.abs(percents - np.floor(percents + 0.5))
        changed = np.abs(percents - task.start) > 1e-9
        worth = np.where(changed, 1.0 + uneven, uneven)
        ranked = np.argsort(-worth, kind="stable")[:TOGETHER]
        chosen = ranked[worth[ranked] > 1e-9].tolist()
        steps = np.arange(-NEAR, NEAR + 1.0)
        levels = [
            {0.0, min(100.0, task.most[i]), *np.clip(nearest[i] + steps, 0.0, task.most[i])}
            for i in chosen
        ]
        values = np.array(list(itertools.product(*(sorted(level) for level in levels))))
        tried = np.repeat(nearest[None, :], len(values), axis=0)
        tried[:, chosen] = values
        tried = np.concatenate((tried, self._poured(nearest), self._fewer(outputs, nearest)))
        costs = self.costs(outputs[None, :], tried)
        if task.wanted.room is not None:
            over = tried @ task.kg > max(task.wanted.room, 0.0) + 1e-6
            if over.all():
                tried = np.clip(np.floor(percents + 1e-9), 0.0, task.most)[None, :]
                return float(self.costs(outputs[None, :], tried)[0]), tried[0]
            costs = np.where(over, np.inf, costs)
        best = int(np.argmin(costs))
        return float(costs[best]), tried[best]

    def _poured(self, percents: Array) -> Array:
        """(k, tanks): one tank filled or emptied out of or into another, the water the same."""
        task = self.task
        tried = [percents]
        for i, j in itertools.permutations(range(len(percents)), 2):
            for end in (0.0, min(100.0, task.most[i])):
                poured = percents.copy()
                poured[i] = end
                whole = percents[j] + (percents[i] - end) * task.kg[i] / task.kg[j]
                poured[j] = np.floor(whole + 0.5)
                if 0.0 <= poured[j] <= task.most[j]:
                    tried.append(poured)
        return np.array(tried)

    def _fewer(self, outputs: Array, percents: Array) -> Array:
        """(k, tanks): one tank full, empty or as asked, another brings lean or trim to an edge.

        The others are as in ``percents``, or as asked.
        """
        task, turn = self.task, self.linear.tank
        count = len(percents)
        ends = np.stack((np.zeros(count), np.minimum(task.most, 100.0), task.most, task.start))
        fixed = np.tile(np.stack((percents, task.start))[:, None, None, :], (1, 4, count, 1))
        fixed[:, :, np.arange(count), np.arange(count)] = ends  # (base, end, tank, tanks)
        fixed = fixed.reshape(-1, count)
        now = self.outputs(outputs, fixed)[:, :2]
        bands = task.wanted.lean, task.wanted.trim
        inside = (1.0 - EDGE) * np.array([band.either_side for band in bands])
        edges = np.array([band.wanted for band in bands]) + inside * np.array([[-1.0], [1.0]])
        with np.errstate(divide="ignore", invalid="ignore"):
            further = (edges[:, None, :] - now)[..., None] / turn[:, :2].T
        exact = fixed[:, None, :] + further  # (edge, fixed, lean or trim, tanks)
        to = np.stack((np.floor(exact), np.ceil(exact)))
        *_, row, _, tank = at = np.nonzero((to >= 0.0) & (to <= task.most))
        tried = fixed[row]
        tried[np.arange(len(row)), tank] = to[at]
        return tried

    def outputs(self, at_start: Array, percents: Array) -> Array:
        """With ``percents`` (k, tanks) or one of them, ``at_start`` (k, m) at the start."""
        moved, part = percents - self.task.start, _part_filled(percents)
        return at_start + moved @ self.linear.tank + (part - self.slack) @ self.linear.surface

    def costs(self, outputs: Array, percents: Array) -> Array:
        """Of ``percents`` (k, tanks) or one of them, with ``outputs`` (k, m) at the start."""
        task = self.task
        moved = percents - task.start
        part = _part_filled(percents)
        now = self.outputs(outputs, percents)
        lean, trim = task.wanted.lean, task.wanted.trim
        from_lean = np.abs(now[..., 0] - lean.wanted) / lean.either_side
        from_trim = np.abs(now[..., 1] - trim.wanted) / trim.either_side
        inside = 1.0 - EDGE
        zero = np.zeros(now.shape[:-1])
        under = zero
        for columns, firm in self.linear.limits:
            off = np.maximum(self.clear - now[..., columns].min(axis=-1), 0.0)
            under = under + (off if firm else task.lines * off)
        return total(
            limits=under,
            off=np.maximum(from_lean - inside, 0.0) + np.maximum(from_trim - inside, 0.0),
            short=np.maximum(task.least - percents @ task.kg, 0.0),
            moved=zero,
            carried=zero,
            litres=np.abs(moved) @ task.litres,
            odd=task.odd(percents).astype(np.float64),
            minutes=task.minutes(percents),
            slack=part.sum(axis=-1),
            bow=zero,
            middle=from_lean + from_trim,
        )


def _part_filled(percents: Array) -> Array:
    return ((percents > 0.0) & (percents < 100.0)).astype(np.float64)


class _Solver(highspy.Highs):
    """HiGHS by its dual simplex, in this thread, without a word on standard output."""

    def enableCallbacks(self) -> None:  # noqa: N802  # HiGHS names it
        """Called as the last thing of the start. None are wanted; to set them prints a banner."""
        self.setOptionValue("output_flag", False)
        for option in ("presolve", "parallel"):
            self.setOptionValue(option, "off")
        self.setOptionValue("solver", "simplex")
        self.setOptionValue("threads", 1)


def _minimum(costs: Array, matrix: Array, right: Array, most: Array) -> tuple[Array, Array] | None:
    """``x`` (k, n) of least ``costs`` with ``matrix @ x <= right`` (k, m), 0 to ``most``, and its
    duals (k, m); ``None`` where there is none.

    scipy's own way to the same solver takes several times as long as the solving.
    """
    count, (rows, columns) = len(right), matrix.shape
    column, row = np.nonzero(matrix.T)
    every = np.arange(count)[:, None]
    program = highspy.HighsLp()
    program.num_col_, program.num_row_ = columns * count, rows * count
    program.col_cost_ = np.tile(costs, count)
    program.col_lower_, program.col_upper_ = np.zeros(columns * count), np.tile(most, count)
    program.row_lower_, program.row_upper_ = np.full(rows * count, -np.inf), right.ravel()
    start = np.searchsorted((column + every * columns).ravel(), np.arange(columns * count + 1))
    entries = program.a_matrix_
    entries.start_, entries.index_ = start, (row + every * rows).ravel()
    entries.value_ = np.tile(matrix.T[column, row], count)
    solver = _Solver()  # type: ignore[no-untyped-call]  # as HiGHS wrote it
    solver.passModel(program)
    solver.run()
    if solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        return None
    found = solver.getSolution()
    return np.array(found.col_value).reshape(count, -1), np.array(found.row_dual).reshape(count, -1)
