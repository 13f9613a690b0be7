"""Who sits where, where bags lie, how much water is in each tank: people, then bags, then pumps.

Works in the surf frame (surf side to port). What makes a loading good is in
:mod:`service.advice.balance.cost`. The best one is searched for on the linear response of the
floating boat; the nonlinear equilibrium judges what was found and becomes the next point to
linearise at, until it confirms it. The work is bounded by counts, not by the clock, so the same
request always gets the same plan, and one process looks for it once: rider after rider may want
the same of the same crew.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from service.advice.balance.cost import YIELDING, Array, Cost, Task, starting
from service.advice.balance.linear import Linear
from service.advice.balance.model import Band, Help, HelpKind, Limit, Obstacle, Plan, Wanted
from service.advice.balance.obstacles import HEAVIEST_BAG, amiss, obstacles
from service.advice.balance.polish import polished
from service.advice.balance.search import Choice, Search, from_seats
from service.advice.balance.spots import HELM
from service.advice.balance.tanks import EDGE
from service.advice.situation import Bag, Cargo, Occupant
from service.advice.weighing import Attitude

__all__ = [
    "HELM", "Band", "Help", "HelpKind", "Limit", "Obstacle", "Plan", "Wanted", "plan_loading",
]  # fmt: skip

ROUNDS = 6
"""Linearise, search, confirm: at most so often."""
CLEAR, WELL_CLEAR = 5e-5, 3e-3
"""Metres that the model stays clear of the limits: first, and where rounding then broke one."""
AGAIN = 3
"""The same for a second start."""
CONFIRMED = 1e-4
"""Litres. A cost this near to the linear model's is confirmed: a tenth of half a band's width."""
HAIR = 2.0
"""Percent that the model's margins may move a tank by, for nothing."""
AGREES = 0.01
"""Half bands. Where model and equilibrium are no further apart in lean and trim together, a new
model about the same point would choose no better than the old one did."""


@dataclass(frozen=True, slots=True, eq=False)
class _State:
    """A loading as the nonlinear equilibrium sees it."""

    aboard: tuple[Occupant, ...]
    percents: Array
    attitude: Attitude
    cost: Cost

    @property
    def lies(self) -> bool:
        return self.attitude.floating.hessian is not None


def plan_loading(cargo: Cargo, wanted: Wanted, water: float, fuel_density: float) -> Plan:
    """The loading that meets ``wanted`` as nearly as seats, tanks and limits allow.

    ``water`` and ``fuel_density`` in kg/m³. Deterministic; never raises for a valid cargo.
    """
    found = searched(cargo, _as_searched(cargo, wanted, water), water, fuel_density)
    room, left_out, balance = _reasons(found.task, found.best, 100.0 * np.array(wanted.fills))
    return replace(found.plan, for_room=room, left_out=left_out, for_balance=balance)


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """The best loading, and the plan of it without the changes from what was wanted."""

    task: Task
    best: _State
    plan: Plan


def _as_searched(cargo: Cargo, wanted: Wanted, water: float) -> Wanted:
    """The same for the search, so that what makes no difference to it is no other problem.

    It starts from whole percents, and has no use for more room than full tanks and a bag take.
    """
    tanks = cargo.boat.tanks
    fills = (starting(tanks, wanted.fills) / 100.0).tolist()
    most = water * math.fsum(tank.max_fill * tank.capacity for tank in tanks) + HEAVIEST_BAG
    room = None if wanted.room is None else min(wanted.room, most)
    return replace(wanted, fills=tuple(fills), room=room)


@lru_cache(maxsize=256)
def searched(cargo: Cargo, wanted: Wanted, water: float, fuel_density: float) -> Found:
    """The search itself: once in a process for a problem that is asked about again."""
    task = Task.of(cargo, wanted, water, fuel_density)
    search = Search(task)
    best, rounds = _improve(search, _first(task), ROUNDS, CLEAR)
    best = _as_asked(task, best)
    if best.cost.limits + best.cost.lines > 0.0 and len(task.start):
        # Out of reach, or hidden behind a bend: look again from half-full tanks.
        half = _state(task, best.aboard, np.floor(best.percents / 2.0))
        other, more = _improve(search, half, AGAIN, CLEAR)
        best, rounds = min(best, other, key=lambda state: state.cost.total), rounds + more
    if best.cost.limits + best.cost.lines > 0.0 and best.lies:
        other, more = _improve(search, best, AGAIN, WELL_CLEAR)
        best, rounds = min(best, other, key=lambda state: state.cost.total), rounds + more
    if best.cost.off + best.cost.limits + best.cost.lines > 0.0:
        best = _polished(task, best)
    if best.cost.limits > 0.0 and best.cost.lines > 0.0:
        # Not everything can be had: the firm limits first.
        firm = Search(replace(task, lines=YIELDING))
        best, more = _improve(firm, _first(firm.task), ROUNDS, CLEAR)
        best, rounds = _polished(task, best), rounds + more
    if best.cost.limits > 0.0:
        # Nothing holds the firm limits: then no water, and the seats that come nearest to them,
        # unless low water in the right tank is what was missing.
        dry = Search(_dry(task))
        best, more = _improve(dry, _first(dry.task), ROUNDS, CLEAR)
        best, rounds = _polished(dry.task, best), rounds + more
        with_water = _polished(task, best)
        if with_water.cost.limits == 0.0:
            best = with_water
    return Found(task, best, _plan(task, best, rounds))


def _as_asked(task: Task, best: _State) -> _State:
    """The same with the tanks as asked, where only the model's own margin was in the way."""
    apart = np.abs(best.percents - task.start).max(initial=0.0)
    if not 0.0 < apart <= HAIR or float(task.start @ task.kg) > task.asked + 1e-6:
        return best
    return min(best, _state(task, best.aboard, task.start), key=lambda state: state.cost.total)


def _polished(task: Task, best: _State) -> _State:
    """What small changes make of it, seen by the equilibrium."""

    def look(aboard: Sequence[Occupant], percents: Array) -> tuple[float, Attitude]:
        state = _state(task, aboard, percents)
        return state.cost.total, state.attitude

    return _state(task, *polished(task, best.aboard, best.percents, look))


def _dry(task: Task) -> Task:
    """The same without any water."""
    none = np.zeros_like(task.start)
    return replace(task, start=none, most=none)


def _state(task: Task, aboard: Sequence[Occupant], percents: Array) -> _State:
    attitude = task.lie(aboard, percents.tolist())
    return _State(tuple(aboard), percents, attitude, task.cost(aboard, percents.tolist(), attitude))


def _first(task: Task) -> _State:
    """Where to linearise first: everybody where they are, evenly less water until she floats."""
    start = task.start
    mass = float(start @ task.kg)
    if mass > task.asked:
        start = np.floor(start * (task.asked / mass) + 1e-9)
    for tenths in range(10, -1, -1):
        state = _state(task, task.aboard, np.floor(start * tenths / 10.0 + 1e-9))
        if state.attitude.floats or (tenths == 0 and state.lies):
            return state
    return state


def _improve(search: Search, first: _State, most: int, clear: float) -> tuple[_State, int]:
    """The best loading found, starting from ``first``, and the rounds that it took."""
    best: _State | None = None
    at, seen = first, set[tuple[tuple[Occupant, ...], tuple[float, ...]]]()
    task = search.task
    for rounds in range(1, most + 1):
        if not at.lies:
            break
        choice = search.best(Linear.at(task, at.percents, at.attitude), at.aboard, clear)
        key = (choice.aboard, tuple(choice.percents.tolist()))
        if best is not None and key in seen:
            # Round in a circle: the best may lie between the two, where the boat is curved.
            state = _between(task, at, choice.aboard, choice.percents)
            if state.cost.total >= best.cost.total:
                return best, rounds
            best = at = state
            continue
        seen.add(key)
        state = _state(task, choice.aboard, choice.percents)
        if best is None or state.cost.total < best.cost.total:
            best = state
        if _confirmed(task.wanted, choice, state):
            return best, rounds
        at = state if state.attitude.floats else _between(task, at, state.aboard, state.percents)
    return (best if best is not None else _anywhere(task, first)), most


def _confirmed(wanted: Wanted, choice: Choice, state: _State) -> bool:
    """Whether the equilibrium says of ``choice`` what the model did."""
    lean, trim = state.attitude.lean, state.attitude.trim
    if lean is None or trim is None or state.cost.limits + state.cost.lines > 0.0:
        return False
    if choice.settled:
        return abs(state.cost.total - choice.cost) <= CONFIRMED
    agrees = AGREES if state.cost.off > 0.0 else EDGE
    apart = (
        abs(lean - choice.lean) / wanted.lean.either_side
        + abs(trim - choice.trim) / wanted.trim.either_side
    )
    return apart <= agrees


def _between(task: Task, at: _State, aboard: Sequence[Occupant], percents: Array) -> _State:
    """Those ``aboard`` with fills half-way from ``at`` to ``percents``."""
    return _state(task, aboard, np.floor((at.percents + percents) / 2.0))


def _anywhere(task: Task, first: _State) -> _State:
    """A seat for everybody on a boat that does not lie at all: moments kept small, no water."""
    seats = task.cargo.boat.seats
    free = [seat.places for seat in seats]
    aboard = list(first.aboard)
    for i in from_seats(task)[:1]:
        aboard[i] = replace(aboard[i], seat=task.spots.helm)
    for person in aboard[: len(task.cargo.people)]:
        if person.seat is not None:
            free[person.seat] -= 1
    moment = math.fsum(w.mass * w.y for w in task.weights(aboard, [0.0] * len(task.start)))
    helm = [i for i, seat in enumerate(seats) if seat.id == HELM]
    for i, person in enumerate(aboard):
        reach = task.reach(person) if not isinstance(person, Bag) else ()
        open_seats = [
            s for s in helm if free[s] == seats[s].places and free[s] > 0 and task.drives(person)
        ] or [s for s in reach if free[s] > 0]
        if person.placed or not open_seats:
            continue
        seat = min(open_seats, key=lambda s: (abs(moment + person.mass * seats[s].y), s))
        aboard[i] = replace(person, seat=seat)
        moment += person.mass * seats[seat].y
        free[seat] -= 1
    return _state(task, aboard, np.zeros_like(task.start))


def _plan(task: Task, best: _State, rounds: int) -> Plan:
    """The best loading as a plan, without the changes from what was wanted."""
    percents = best.percents.tolist()
    return Plan(
        people=best.aboard[: len(task.cargo.people)],
        fills=tuple(percent / 100.0 for percent in percents),
        for_room=(),
        left_out=(),
        for_balance=(),
        attitude=best.attitude,
        weights=tuple(task.weights(best.aboard, percents)),
        moved=best.cost.moved,
        bags=tuple(one for one in best.aboard if isinstance(one, Bag)),
        obstacles=obstacles(task, best.aboard, best.percents, best.attitude, best.cost),
        rounds=rounds,
        left_out_for=_left_out_for(task, best),
    )


def _left_out_for(task: Task, best: _State) -> Limit | None:
    """What would be amiss, the gravest first, with the water that is left out in its tanks."""
    _, left_out, _ = _reasons(task, best, task.start)
    if not any(left_out):
        return None
    then = task.lie(best.aboard, (best.percents - left_out).tolist())
    return next((limit for limit, _ in amiss(task.wanted, then)), None)


def _reasons(task: Task, best: _State, raw: Array) -> list[tuple[float, ...]]:
    """The change of each tank from ``raw`` (percent): for room, left out, for balance.

    Water that had to stay out for room, then water that is short beyond that, is charged to the
    tanks that have less, in proportion; what is left was moved for balance. In tenths.
    """
    change = best.percents - raw
    less = np.minimum(best.percents - task.start, 0.0)
    taken = float(-less @ task.kg)
    no_room = max(float(task.start @ task.kg) - task.asked, 0.0)
    room, short = 0.0, 0.0
    if taken > 0.0:
        room = min(no_room / taken, 1.0)
        short = min(best.cost.short / taken, 1.0 - room)
    for_room = np.round(np.minimum(task.most - raw, 0.0) + room * less, 1)
    left_out = np.round(short * less, 1)
    for_balance = np.round(change - for_room - left_out, 6)
    return [tuple((a + 0.0).tolist()) for a in (for_room, left_out, for_balance)]
