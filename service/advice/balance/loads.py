"""Movable loads: shifted to beside a seat only where the boat is out of its bands otherwise."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from service.advice.balance.linear import Linear
from service.advice.balance.problem import LIMIT, Array, Problem
from service.advice.balance.seating import HEAVIEST_LOADS, LINES, Seated
from service.advice.loading_condition import beside
from service.boats.model import Seat, SeatRole


def shifted(problem: Problem, seated: Seated, percents: Array) -> tuple[Seated, int]:
    """The same with the loads shifted that clearly help, and how many equilibria that took.

    Each load at most once, the heaviest first. ``percents``: those to linearise at.
    """
    spots = [seat for seat in problem.condition.boat.seats if seat.role is not SeatRole.DRIVER]
    movable = [i for i, load in enumerate(seated.loads) if load.movable]
    movable = sorted(movable, key=lambda i: -seated.loads[i].mass)[:HEAVIEST_LOADS]
    if not movable or not spots:
        return seated, 0
    now = problem.loaded(seated.people, percents).attitude()
    if now.floating.hessian is None:
        return seated, 1
    points = np.array([*_points(seated, movable, spots)])
    linear = Linear.at(problem, percents, now, points)
    outputs = linear.outputs(linear.base, problem.start)
    loads, stride = list(seated.loads), len(spots) + 1
    for number, i in enumerate(movable):
        effects = loads[i].mass * linear.spot[number * stride : (number + 1) * stride]
        after = outputs + effects[1:] - effects[0]
        under, then = (
            linear.under(each, firm=True) + LINES * linear.under(each, firm=False)
            for each in (outputs, after)
        )
        if not problem.out_of_band(outputs) and under == 0.0:
            break
        gain = float(problem.degrees_off(outputs)) - problem.degrees_off(after)
        clear = (gain >= problem.practice.notice) | (then < under - 1e-3)
        costs = np.where(clear, problem.angle_cost(after) + LIMIT * then, np.inf)
        best = int(np.argmin(costs))
        if costs[best] < problem.angle_cost(outputs) + LIMIT * under:
            loads[i], outputs = beside(loads[i], spots[best]), after[best]
    return replace(seated, loads=tuple(loads)), 1


def _points(seated: Seated, movable: list[int], spots: list[Seat]) -> Iterator[tuple[float, ...]]:
    for i in movable:
        load = seated.loads[i]
        yield load.x, load.y, load.z
        for seat in spots:
            yield seat.x, seat.y, load.z
