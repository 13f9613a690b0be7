"""How much water in each tank: three moves that a crew knows, in whole steps.

*All*: every tank less, in proportion, for room and limits. *Across*: out of the off side for more
lean; the other way first back into the off side, then out of the surf side. *Fore and aft*: out of
the aft tanks or out of the forward ones. Less room takes one pair of tanks after the other down a
step, so that a little more mass never makes any tank jump.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from service.advice.balance.linear import Linear
from service.advice.balance.problem import Array, Problem

Tanks = NDArray[np.bool_]

MIDDLE = 0.4
"""Part of the hull's length from aft, about which a tank counts as aft or forward."""
LEVER = 0.5
"""A tank counts for a move when its lever is at least this part of the longest on its side."""
WRONG = 1.0
"""Beside that, what each kilogram less on the surf side than on the off side costs."""


class Water:
    """The choice of percents for one problem."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.levels = _levels(problem)
        tanks, hull = problem.condition.boat.tanks, problem.condition.boat.hull
        y = np.array([tank.y for tank in tanks])
        x = np.array([tank.x for tank in tanks]) - (hull.x_min + MIDDLE * hull.length)
        self.off, self.surf = _far(-y), _far(y)
        self.aft, self.fore = _far(-x), _far(x)
        across = bool(self.off.any() or self.surf.any())
        self._moves = _moves(problem, across, self.aft, self.fore)

    def within_room(self) -> int:
        """Index of the fullest level for which there is room."""
        room = self.problem.wanted.room
        masses = self.levels @ self.problem.kg
        if room is None:
            return 0
        fits = np.flatnonzero(masses <= max(room, 0.0) + 1e-6)
        return int(fits[0]) if len(fits) else len(self.levels) - 1

    def balanced(self, level: Array, linear: Linear, base: Array) -> Array:
        """The percents that balance ``level`` at least cost. ``base`` (m): at the reference."""
        rows = self._rows(level)
        room = self.problem.wanted.room
        if room is not None:
            over = rows @ self.problem.kg > max(room, 0.0) + 1e-6
            over &= (rows > level + 1e-9).any(axis=1)
            rows = rows[~over]
        costs = self.cost(rows, level, linear.outputs(base, rows))
        best: Array = rows[int(np.argmin(costs))]
        return best

    def cost(self, rows: Array, level: Array, outputs: Array) -> Array:
        """Of percents (k, tanks) that balance ``level``, in kg of water."""
        problem = self.problem
        moved = np.abs(rows - level) @ problem.kg
        return np.asarray(
            problem.angle_cost(outputs) + moved + WRONG * self.on_the_wrong_side(rows)
        )

    def on_the_wrong_side(self, rows: Array) -> Array:
        """Kg by which the off side is fuller than the surf side, each by its own capacity."""
        if not (self.off.any() and self.surf.any()):
            return np.zeros(rows.shape[:-1])
        kg = self.problem.kg
        fills = [rows[..., side] @ kg[side] / kg[side].sum() for side in (self.off, self.surf)]
        return np.asarray(np.maximum(fills[0] - fills[1], 0.0) * kg[self.surf].sum())

    def _rows(self, level: Array) -> Array:
        """(k, tanks): the level after every pair of moves across and fore and aft."""
        step, most = self.problem.step, self.problem.most
        across, along = self._moves
        off = self.off
        surf_level = level[self.surf].max(initial=0.0)
        # Back into the off side no higher than the surf side, and out of the surf side after that.
        up = np.maximum((surf_level - level[off]).max(initial=0.0), 0.0)
        into = np.minimum(np.maximum(-across, 0.0) * step, up)
        out = np.maximum(np.maximum(-across, 0.0) * step - up, 0.0)
        rows = np.tile(level, (len(across), 1))
        rows[:, off] += (into - np.maximum(across, 0.0) * step)[:, None]
        rows[:, off] = np.minimum(rows[:, off], np.maximum(surf_level, level[off]))
        rows[:, self.surf] -= out[:, None]
        rows[:, self.aft] -= (np.maximum(along, 0.0) * step)[:, None]
        rows[:, self.fore] -= (np.maximum(-along, 0.0) * step)[:, None]
        return np.clip(rows, 0.0, most)


def _far(lever: Array) -> Tanks:
    """Which tanks have a lever to this side, long enough to count."""
    longest = lever.max(initial=0.0)
    if longest <= 0.05:
        return np.zeros(len(lever), dtype=np.bool_)
    return np.asarray(lever >= LEVER * longest)


def _levels(problem: Problem) -> Array:
    """(k, tanks): the start, then one step less in one pair of tanks after the other, to none.

    Pairs are tanks that mirror each other; the difference between their sides stays. All go down
    in proportion to their start, those with the least lever fore and aft first.
    """
    tanks, step = problem.condition.boat.tanks, problem.step
    hull = problem.condition.boat.hull
    middle = hull.x_min + MIDDLE * hull.length
    pairs: dict[tuple[float, ...], list[int]] = {}
    for i, tank in enumerate(tanks):
        place = round(tank.x, 3), round(abs(tank.y), 3), round(tank.z, 3)
        pairs.setdefault((round(abs(tank.x - middle), 3), *place), []).append(i)
    events = []
    for rank, key in enumerate(sorted(pairs)):
        fullest = float(problem.start[pairs[key]].max())
        count = round(fullest / step)
        events += [((n + 0.5 * rank / len(pairs)) / count, pairs[key]) for n in range(count)]
    rows = [problem.start]
    for _, pair in sorted(events):
        row = rows[-1].copy()
        row[pair] = np.maximum(row[pair] - step, 0.0)
        rows.append(row)
    return np.array(rows)


def _moves(problem: Problem, across: bool, aft: Tanks, fore: Tanks) -> tuple[Array, Array]:
    """(k) steps across, positive out of the off side; (k) aft, positive out of the aft tanks."""
    most = problem.most.max(initial=0.0)
    steps = np.ceil(most / problem.step)
    one = np.arange(-2 * steps, steps + 1) if across else np.zeros(1)
    two = np.arange(-steps if fore.any() else 0.0, (steps if aft.any() else 0.0) + 1)
    a, b = np.meshgrid(one, two, indexing="ij")
    return a.ravel(), b.ravel()
