"""Who sits where, where loads lie, how much water is in each tank: people first, pumps second.

Works in the surf frame (surf side to port). What makes a loading good is in
:mod:`service.advice.balance.problem`. Seats, then loads, then water are chosen on the linear
response of the boat at rest; the nonlinear equilibrium confirms the choice, or becomes the next
point to linearise at. The work is bounded by counts, so the same request always gets the same
plan, and one process looks for it once.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from service.advice.balance.linear import Linear
from service.advice.balance.loads import shifted
from service.advice.balance.model import (
    Band,
    Help,
    HelpKind,
    Limit,
    Obstacle,
    Plan,
    Practice,
    Wanted,
)
from service.advice.balance.obstacles import obstacles, violations
from service.advice.balance.problem import Array, Problem, broken, crossed
from service.advice.balance.seating import Seated, seat_everyone
from service.advice.balance.water import Water
from service.advice.loading_condition import Attitude, LoadingCondition
from service.caches import MB, size_of, split_cache

__all__ = [
    "Band", "Help", "HelpKind", "Limit", "Obstacle", "Plan", "Practice", "Wanted", "plan_loading",
]  # fmt: skip

PLAN, EACH = 24_000, 1_000
"""Bytes of a plan without people, and of each of them or of a load."""
ROUNDS = 3
"""Linearise, choose, confirm: at most so often."""
AGREES = 5.0
"""kg of water. Where model and equilibrium are no further apart, the choice is confirmed."""


@dataclass(frozen=True, slots=True, eq=False)
class _State:
    """A loading as the nonlinear equilibrium sees it."""

    condition: LoadingCondition
    percents: Array
    attitude: Attitude

    @property
    def solved(self) -> bool:
        return self.attitude.floating.hessian is not None

    def holds(self, wanted: Wanted) -> bool:
        return broken(wanted, self.attitude) == 0.0 and crossed(wanted, self.attitude) == 0.0


def plan_loading(condition: LoadingCondition, wanted: Wanted) -> Plan:
    """The loading that meets ``wanted`` as nearly as seats, tanks and limits allow.

    Deterministic; never raises for a valid condition.
    """
    return _planned(condition, wanted)


def _bytes_of(condition: LoadingCondition, _: Wanted) -> int:
    """Of a plan with what it was made from, generously; a kept boat is shared by all of its."""
    boat = 0 if condition.boat.hull.kept else size_of(condition.boat)
    return boat + PLAN + EACH * (len(condition.people) + len(condition.loads))


# Rider after rider may want the same of the same crew.
@split_cache(
    kept=48 * MB,
    inline=12 * MB,
    is_kept=lambda condition, *_: condition.boat.hull.kept,
    size=_bytes_of,
)
def _planned(condition: LoadingCondition, wanted: Wanted) -> Plan:
    return _Planner(Problem.of(condition, wanted)).plan()


class _Planner:
    def __init__(self, problem: Problem) -> None:
        self.problem, self.wanted = problem, problem.wanted
        self.water = Water(problem)
        self.rounds = 0

    def state(self, condition: LoadingCondition, percents: Array) -> _State:
        self.rounds += 1
        there = replace(condition, fills=tuple((percents / 100.0).tolist()))
        return _State(there, percents, there.attitude())

    def plan(self) -> Plan:
        problem = self.problem
        roomy = self.water.within_room()
        first = self._first(problem.condition, roomy)
        seated = self._seated(first)
        condition = replace(problem.condition, people=seated.people, loads=seated.loads)
        found, level = self._filled(condition, roomy)
        return self._told(found, seated, roomy, level)

    def _first(self, condition: LoadingCondition, roomy: int) -> _State:
        """Where to linearise first: evenly less water until the boat floats."""
        levels = self.water.levels
        for part in range(11):
            level = levels[roomy + round((len(levels) - 1 - roomy) * part / 10.0)]
            state = self.state(condition, level)
            if state.attitude.floats or not level.any():
                break
        return state

    def _seated(self, first: _State) -> Seated:
        problem, people = self.problem, first.condition.people
        if not first.solved:  # no attitude to bring nearer to anything
            return seat_everyone(problem, Linear.flat(problem), people)
        linear = Linear.at(problem, first.percents, first.attitude, problem.points)
        seated = seat_everyone(problem, linear, people)
        seated, taken = shifted(problem, seated, first.percents)
        self.rounds += taken
        return seated

    def _filled(self, condition: LoadingCondition, roomy: int) -> tuple[_State, Array]:
        """The fullest level that holds the limits once balanced, balanced; and that level."""
        levels, wanted = self.water.levels, self.wanted
        state, level = self._balanced(condition, levels[roomy])
        if state.holds(wanted):
            return state, level
        every = [(state, level)]
        low, high = roomy, len(levels) - 1
        # Less water, by halves; then step by step up again from what holds.
        while low < high:
            middle = (low + high) // 2
            state, level = self._balanced(condition, levels[middle])
            every.append((state, level))
            low, high = (low, middle) if state.holds(wanted) else (middle + 1, high)
        every.append(self._balanced(condition, levels[high]))
        firm = [one for one in every if broken(wanted, one[0].attitude) == 0.0]
        if not firm:  # nothing holds the firm limits: then no water at all
            dry = levels[-1]
            return self.state(condition, dry), dry
        return min(firm, key=lambda one: self._rank(one[0]))

    def _rank(self, state: _State) -> tuple[float, ...]:
        """What holds every limit; else the others to the centimetre; then the most water."""
        lines = math.ceil(100.0 * crossed(self.wanted, state.attitude))
        return (lines, -float(state.percents @ self.problem.kg))

    def _balanced(self, condition: LoadingCondition, level: Array) -> tuple[_State, Array]:
        """``level`` balanced by water moved, as the equilibrium confirms it; and the level."""
        problem = self.problem
        at = self.state(condition, level)
        best, cost = at, self._cost(at, level)
        for _ in range(ROUNDS):
            # Where the level itself costs nothing, no move of water is better.
            if cost == 0.0 or not at.solved or not len(level) or not problem.crew_complete:
                break
            linear = Linear.at(problem, at.percents, at.attitude, problem.points)
            percents = self.water.balanced(level, linear, linear.base)
            if (percents == at.percents).all():
                break
            outputs = linear.outputs(linear.base, percents)[None]
            foreseen = float(self.water.cost(percents[None], level, outputs)[0])
            at = self.state(condition, percents)
            if (now := self._cost(at, level)) < cost:
                best, cost = at, now
            if abs(now - foreseen) <= AGREES:
                break
        return best, level

    def _cost(self, state: _State, level: Array) -> float:
        lean, trim = state.attitude.lean, state.attitude.trim
        if lean is None or trim is None:
            return np.inf
        return float(self.water.cost(state.percents[None], level, np.array([[lean, trim]]))[0])

    def _told(self, found: _State, seated: Seated, roomy: int, level: Array) -> Plan:
        problem, levels = self.problem, self.water.levels
        rounded = problem.start - 100.0 * np.array(self.wanted.fills)
        for_room, left_out = levels[roomy] - problem.start, level - levels[roomy]
        balance = found.percents - level
        plan = Plan(
            condition=found.condition,
            raised=_tenths(rounded),
            for_room=_tenths(for_room),
            left_out=_tenths(left_out),
            for_balance=_tenths(balance),
            attitude=found.attitude,
            gains=seated.gains,
            rounds=self.rounds,
            left_out_for=self._left_out_for(found, left_out),
            crossed=bool(self.water.on_the_wrong_side(found.percents) > 0.0),
        )
        return replace(plan, obstacles=obstacles(problem, plan))

    def _left_out_for(self, found: _State, left_out: Array) -> Limit | None:
        """The gravest violation there would be with the water that is left out in its tanks."""
        if not left_out.any():
            return None
        then = self.state(found.condition, found.percents - left_out).attitude
        return next((limit for limit, _ in violations(self.wanted, then)), None)


def _tenths(change: Array) -> tuple[float, ...]:
    return tuple((np.round(change, 1) + 0.0).tolist())
