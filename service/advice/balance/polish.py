"""The last steps where limits leave no loading or hardly one: many small changes, truly floated.

GM bends with the lean and jumps with every free surface, so near its limits a linear model leads
astray. One or two tanks are tried empty, full, as asked and a little more or less, together with
one person or bag elsewhere, or two people who change places. A linear model about the present
loading says which of these are worth floating; the best of them is where to go on from.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator, Sequence

import numpy as np

from service.advice.balance.cost import BOW, CARRY, FORWARD, MOVE, Array, Task
from service.advice.balance.linear import Linear
from service.advice.balance.search import movable
from service.advice.balance.tanks import Tanks
from service.advice.situation import Bag, Occupant
from service.advice.weighing import Attitude

PASSES, FLOATED = 4, 10
"""Steps taken, and changes floated for each, at most."""
WITH_TANKS = 12
"""So many changes of places are tried with changed tanks too."""
STEPS = (-20.0, -5.0, 5.0, 20.0)
"""Percent by which a tank is tried fuller or emptier."""

Aboard = tuple[Occupant, ...]


def polished(
    task: Task,
    aboard: Aboard,
    percents: Array,
    look: Callable[[Aboard, Array], tuple[float, Attitude]],
) -> tuple[Aboard, Array]:
    """The best loading that such changes lead to, each better than the one before.

    ``look`` gives a loading's cost and how it lies.
    """
    least, attitude = look(aboard, percents)
    for _ in range(PASSES):
        if attitude.floating.hessian is None:
            break
        tried = [(*look(*then), then) for then in _promising(task, aboard, percents, attitude)]
        cost, lies, then = min(tried, key=lambda entry: entry[0], default=(least, attitude, None))
        if then is None or cost >= least:
            break
        least, attitude, (aboard, percents) = cost, lies, then
    return aboard, percents


def _promising(
    task: Task, aboard: Aboard, percents: Array, attitude: Attitude
) -> list[tuple[Aboard, Array]]:
    """The changes that a linear model about the present loading thinks best."""
    linear = Linear.at(task, percents, attitude)
    tanks = Tanks(task, linear, 0.0)
    fills = np.array([percents, *_pumped(task, percents)])
    fills = fills[[_has_room(task, then) for then in fills]]
    seated = [aboard, *_moved(task, aboard)]
    base = linear.base + (task.start - percents) @ linear.tank
    base = base + (tanks.slack - linear.slack) @ linear.surface
    outputs = np.array([base + _turned(task, linear, aboard, there) for there in seated])
    efforts = np.array([_effort(task, there) for there in seated])
    alone = np.argsort(tanks.costs(outputs, percents) + efforts, kind="stable")
    numbers = np.union1d(alone[:WITH_TANKS], [0])
    rows, columns = (each.ravel() for each in np.indices((len(numbers), len(fills))))
    rows = numbers[rows]
    costs = tanks.costs(outputs[rows], fills[columns]) + efforts[rows]
    best = np.argsort(costs, kind="stable")[:FLOATED].tolist()
    return [(seated[rows[i]], fills[columns[i]]) for i in best]


def _turned(task: Task, linear: Linear, now: Aboard, then: Aboard) -> Array:
    """What it does to the outputs that some are elsewhere."""
    spot = task.spots.of_one
    change = np.zeros_like(linear.base)
    for one, there in zip(now, then, strict=True):
        if one != there:
            change = change + one.mass * (linear.spot[spot(there)] - linear.spot[spot(one)])
    return change


def _effort(task: Task, aboard: Aboard) -> float:
    return FORWARD * float(task.too_far_forward(task.forward(aboard))) + sum(
        (CARRY if isinstance(before, Bag) else MOVE) * (before.placed and before != after)
        + BOW * (after.seat is not None and bool(task.bow_spots[after.seat]))
        for before, after in zip(task.aboard, aboard, strict=True)
    )


def _pumped(task: Task, percents: Array) -> Iterator[Array]:
    """One tank otherwise, or two."""
    ends, levels = [], []
    for now, most, asked in zip(
        percents.tolist(), task.most.tolist(), task.start.tolist(), strict=True
    ):
        ends.append({0.0, min(100.0, most), most, asked, now})
        levels.append({min(max(now + step, 0.0), most) for step in STEPS} | ends[-1])
    for tank, its in enumerate(levels):
        for level in sorted(its - {float(percents[tank])}):
            yield _with(percents, {tank: level})
    for one, other in itertools.combinations(range(len(percents)), 2):
        for pair in itertools.product(sorted(ends[one]), sorted(ends[other])):
            yield _with(percents, {one: pair[0], other: pair[1]})


def _with(percents: Array, levels: dict[int, float]) -> Array:
    then = percents.copy()
    then[[*levels]] = [*levels.values()]
    return then


def _has_room(task: Task, percents: Array) -> bool:
    room = task.wanted.room
    return room is None or float(percents @ task.kg) <= max(room, 0.0) + 1e-6


def _moved(task: Task, aboard: Aboard) -> Iterator[Aboard]:
    """Somebody or a bag elsewhere, or two people in each other's place; of equals only one."""
    spots, seats = task.spots, task.cargo.boat.seats
    numbers = movable(task, aboard)
    taken = [_sitting(aboard, seat) for seat in range(len(seats))]
    kinds = {(type(aboard[i]), aboard[i].seat, task.aboard[i]): i for i in reversed(numbers)}
    for i in sorted(kinds.values()):
        one, home = aboard[i], task.aboard[i]
        for spot in task.reach(home):
            seat = spots.seat[spot]
            full = not isinstance(one, Bag) and taken[seat] >= seats[seat].places
            if not full and seat != (-1 if one.seat is None else one.seat):
                yield (*aboard[:i], spots.put(home, spot), *aboard[i + 1 :])
    for i, j in itertools.combinations(sorted(kinds.values()), 2):
        one, other = aboard[i], aboard[j]
        if None in (one.seat, other.seat) or isinstance(one, Bag) or isinstance(other, Bag):
            continue
        both_may = other.seat in task.reach(one) and one.seat in task.reach(other)
        if one.seat != other.seat and one.mass != other.mass and both_may:
            then = list(aboard)
            then[i] = spots.put(task.aboard[i], other.seat or 0)
            then[j] = spots.put(task.aboard[j], one.seat or 0)
            yield tuple(then)


def _sitting(aboard: Sequence[Occupant], seat: int) -> int:
    return sum(one.seat == seat and not isinstance(one, Bag) for one in aboard)
