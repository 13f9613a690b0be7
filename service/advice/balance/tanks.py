"""How the tanks may be changed from their starting fills to hold bands and limits.

For one seating that is a small linear program, whose value is a convex function of lean, trim and
what is left to the limits. So each one solved gives, by its dual, a lower bound for *all*
seatings (Benders' cuts), and few have to be solved to know the best of thousands.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np
from scipy.optimize import linprog

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
        self.slack = ((task.start > 0.0) & (task.start < 100.0)).astype(np.float64)
        self._matrix, self._right, self._by_output = self._rows()
        more, less = task.seconds
        present = 100.0 * np.array(task.cargo.fills)
        up = np.where(task.start >= present, more, -less) / 60.0
        down = np.where(task.start > present, -more, less) / 60.0
        self._costs = SCALE * np.concatenate(
            (task.litres + MINUTE * up, task.litres + MINUTE * down, [OFF, OFF, SHORT, LIMIT])
        )
        bounds = [(0.0, high) for high in (task.most - task.start).tolist()]
        bounds += [(0.0, high) for high in task.start.tolist()]
        self._bounds = [*bounds, *[(0.0, math.inf)] * 4]

    def _rows(self) -> tuple[Array, Array, Array]:
        """``matrix @ variables <= right - by_output @ outputs``.

        The variables: percents more and less in each tank, half bands out of lean and of trim,
        kilograms short, metres under the limits. The outputs: with the starting fills.
        """
        task, turn = self.task, self.linear.tank.T
        outputs, tanks = turn.shape
        rows, right, by_output = [], [], []
        for number, band in enumerate((task.wanted.lean, task.wanted.trim)):
            for sign in (1.0, -1.0):
                row = np.zeros(2 * tanks + 4)
                row[: 2 * tanks] = np.concatenate((sign * turn[number], -sign * turn[number]))
                row[2 * tanks + number] = -band.either_side
                rows.append(row)
                right.append(sign * band.wanted + (1.0 - EDGE) * band.either_side)
                by_output.append(sign * np.eye(outputs)[number])
        for number in range(2, outputs):
            row = np.concatenate((-turn[number], turn[number], [0.0, 0.0, 0.0, -1.0]))
            rows.append(row)
            right.append(-self.clear)
            by_output.append(-np.eye(outputs)[number])
        start = float(task.start @ task.kg)
        water = np.concatenate((task.kg, -task.kg))
        rows.append(np.concatenate((-water, [0.0, 0.0, -1.0, 0.0])))
        right.append(start - task.asked)
        by_output.append(np.zeros(outputs))
        if task.wanted.room is not None:
            rows.append(np.concatenate((water, np.zeros(4))))
            right.append(max(task.wanted.room, 0.0) - start)
            by_output.append(np.zeros(outputs))
        return np.array(rows), np.array(right), np.array(by_output)

    def solve(self, outputs: Array) -> Solved:
        """The least cost of the tanks with ``outputs`` (m) at the starting fills."""
        found = linprog(
            self._costs, A_ub=self._matrix, b_ub=self._right - self._by_output @ outputs,
            bounds=self._bounds, method="highs-ds",
        )  # fmt: skip
        if found.x is None:  # cannot be: emptying every tank is always allowed
            return Solved(0.0, np.zeros(len(outputs)), self.task.start)
        tanks = len(self.task.start)
        percents = self.task.start + found.x[:tanks] - found.x[tanks : 2 * tanks]
        dual = np.asarray(found.ineqlin.marginals)
        return Solved((found.fun or 0.0) / SCALE, -(dual @ self._by_output) / SCALE, percents)

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
        tried = np.concatenate((tried, self._poured(nearest)))
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

    def costs(self, outputs: Array, percents: Array) -> Array:
        """Of ``percents`` (k, tanks) or one of them, with ``outputs`` (k, m) at the start."""
        task = self.task
        moved = percents - task.start
        part = ((percents > 0.0) & (percents < 100.0)).astype(np.float64)
        now = outputs + moved @ self.linear.tank + (part - self.slack) @ self.linear.surface
        lean, trim = task.wanted.lean, task.wanted.trim
        from_lean = np.abs(now[..., 0] - lean.wanted) / lean.either_side
        from_trim = np.abs(now[..., 1] - trim.wanted) / trim.either_side
        inside = 1.0 - EDGE
        zero = np.zeros(now.shape[:-1])
        under = self.clear - now[..., 2:].min(axis=-1)
        return total(
            limits=np.maximum(under, 0.0),
            off=np.maximum(from_lean - inside, 0.0) + np.maximum(from_trim - inside, 0.0),
            short=np.maximum(task.asked - percents @ task.kg, 0.0),
            moved=zero,
            carried=zero,
            litres=np.abs(moved) @ task.litres,
            minutes=task.minutes(percents),
            slack=part.sum(axis=-1),
            bow=zero,
            middle=from_lean + from_trim,
        )
