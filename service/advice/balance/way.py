"""An order of moves in which the boat holds its limits all the way.

Every state on the way is put to the nonlinear equilibrium: after each person and each bag,
half-way through and at the end of each pumping. Depth first and bounded; a set of moves that led
nowhere is not tried again, since what has been done decides how the boat lies, not in which order.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import TypeVar

from service.advice.balance.model import Limit
from service.advice.loading_condition import Attitude, LoadingCondition
from service.advice.requests import Load

ValueT = TypeVar("ValueT")

CHECKS = 100
"""States looked at while searching, at most, for each way to split the pumping."""
PARTS = (1, 2, 4, 8)
"""In how many parts each pumping is tried."""
SAME = 1e-9


@dataclass(frozen=True, slots=True)
class OnTheWay:
    """Limits that every state between must hold: freeboard and GM (m), lean (degrees).

    ``drain_first``: with the water now aboard she carries too much, so it goes before people come.
    """

    least_freeboard: float
    most_lean: float
    least_gm: float = 0.0
    drain_first: bool = False


@dataclass(frozen=True, slots=True)
class Move:
    """People (indices) who go to a seat, a load that is shifted, or a tank that is pumped.

    ``goal`` is the id of a seat, ``load`` the load as it is then and ``number`` its index. ``tank``
    is an index, ``fill`` and ``to_fill`` are percents.
    """

    who: tuple[int, ...] = ()
    goal: str = ""
    load: Load | None = None
    number: int = -1
    tank: int = -1
    fill: float = 0.0
    to_fill: float = 0.0


@dataclass(slots=True)
class Patience:
    """States that searches which lead nowhere may still look at, all of an outing together."""

    left: int

    @property
    def lost(self) -> bool:
        return self.left <= 0


@dataclass(slots=True)
class Way:
    """The boat on the way; attitudes are kept, since many orders pass the same states."""

    limits: OnTheWay
    known: dict[tuple[object, ...], Attitude] = field(default_factory=dict)
    checks: int = 0

    def attitude(self, state: LoadingCondition) -> Attitude:
        # Who sits where matters by mass only.
        places = Counter((p.mass, p.seat, p.x, p.y) for p in state.people)
        loads = tuple((load.x, load.y) for load in state.loads)
        key = (frozenset(places.items()), loads, state.fills)
        found = self.known.get(key)
        if found is None:
            self.checks += 1
            found = self.known[key] = state.attitude()
        return found

    def broken(self, state: LoadingCondition) -> list[tuple[Limit, float]]:
        """Limits that ``state`` breaks, and by how much."""
        attitude, limits = self.attitude(state), self.limits
        board, lean, gm = attitude.freeboard, attitude.lean, attitude.floating.gm
        if not attitude.floats or board is None or lean is None or gm is None:
            return [(Limit.FLOATS, 1.0)]
        every = [
            (Limit.FREEBOARD, limits.least_freeboard - board.least),
            (Limit.MOST_LEAN, abs(lean) - limits.most_lean),
            (Limit.GM, limits.least_gm - gm),
        ]
        return [(limit, off) for limit, off in every if off > SAME]

    def margin(self, state: LoadingCondition) -> float:
        """How far the state is from the nearest limit, as a part of that limit."""
        attitude = self.attitude(state)
        board, lean = attitude.freeboard, attitude.lean
        if not attitude.floats or board is None or lean is None:
            return -math.inf
        return min(
            (board.least - self.limits.least_freeboard) / (abs(self.limits.least_freeboard) + 0.1),
            1.0 - abs(lean) / (self.limits.most_lean + 0.1),
        )


def whole(fill: float) -> float:
    return round(100.0 * fill, 6)


def relaxed(way: Way, start: LoadingCondition, end: LoadingCondition) -> OnTheWay:
    """The limits, or what start and end have where that is worse."""
    limits = way.limits
    for state in (start, end):
        attitude = way.attitude(state)
        board, lean, gm = attitude.freeboard, attitude.lean, attitude.floating.gm
        if board is not None and lean is not None and gm is not None:
            limits = replace(
                limits,
                least_freeboard=min(limits.least_freeboard, board.least),
                most_lean=max(limits.most_lean, abs(lean)),
                least_gm=min(limits.least_gm, gm),
            )
    return limits


def moves_between(start: LoadingCondition, end: LoadingCondition, parts: int) -> list[Move]:
    """People by where they come from and go to, then loads, then tanks, each in ``parts``."""
    groups: dict[tuple[object, ...], list[int]] = {}
    for i, (before, after) in enumerate(zip(start.people, end.people, strict=True)):
        if before.seat != after.seat and after.seat is not None:
            origin = (before.seat, before.x, before.y)
            groups.setdefault((*origin, after.seat, before.mass), []).append(i)
    moves = [Move(tuple(who), end.people[who[0]].seat or "") for who in groups.values()]
    moves += [
        Move(load=after, number=i)
        for i, (before, after) in enumerate(zip(start.loads, end.loads, strict=True))
        if before.seat != after.seat
    ]
    fills = [tuple(whole(fill) for fill in each.fills) for each in (start, end)]
    for tank, (now, then) in enumerate(zip(*fills, strict=True)):
        stops = [now, *(round(now + (then - now) * k / parts) for k in range(1, parts)), then]
        moves += [Move(tank=tank, fill=a, to_fill=b) for a, b in pairwise(stops) if a != b]
    return moves


def passed(state: LoadingCondition, move: Move) -> list[LoadingCondition]:
    """The states of one move, its end last."""
    if move.load is not None:
        return [replace(state, loads=put(state.loads, move.number, move.load))]
    if move.tank < 0:
        states: list[LoadingCondition] = []
        for i in move.who:
            state = replace(state, people=put(state.people, i, state.people[i].on(move.goal)))
            states.append(state)
        return states
    middle = (move.fill + move.to_fill) / 2.0
    return [
        replace(state, fills=put(state.fills, move.tank, percent / 100.0))
        for percent in (middle, move.to_fill)
    ]


def put(values: tuple[ValueT, ...], index: int, value: ValueT) -> tuple[ValueT, ...]:
    """The same with another value at one place."""
    return (*values[:index], value, *values[index + 1 :])


def _open(moves: Sequence[Move], done: int) -> list[int]:
    """Indices of moves that can come next: of each tank the first part that is not done."""
    found, tanks = [], set[int]()
    for i, move in enumerate(moves):
        if done >> i & 1 or (move.tank >= 0 and move.tank in tanks):
            continue
        if move.tank >= 0:
            tanks.add(move.tank)
        found.append(i)
    return found


def safe_order(way: Way, start: LoadingCondition, moves: Sequence[Move]) -> list[Move] | None:
    """An order of ``moves`` in which every state holds the limits; depth first, the best first.

    What has been done decides how the boat lies, so a set of moves that led nowhere is not tried
    again.
    """
    everything = (1 << len(moves)) - 1
    dead: set[int] = set()
    path: list[int] = []
    states = [start]
    choices = [_options(way, start, moves, 0)]
    done = 0
    while done != everything:
        if way.checks > CHECKS:
            return None
        i = next((i for i in choices[-1] if (done | 1 << i) not in dead), None)
        if i is None:
            dead.add(done)
            if not path:
                return None
            choices.pop()
            states.pop()
            done &= ~(1 << path.pop())
            continue
        path.append(i)
        done |= 1 << i
        states.append(passed(states[-1], moves[i])[-1])
        choices.append(_options(way, states[-1], moves, done))
    return [moves[i] for i in path]


def _options(way: Way, state: LoadingCondition, moves: Sequence[Move], done: int) -> Iterator[int]:
    """Moves that hold the limits, the one to try first before the others.

    People, then bags, then water out, then water in; among those what leaves most to the limits.
    A kind is floated only when nothing of the one before will do.
    """
    every = _open(moves, done)
    for kind in (2, 0, 1, 3) if way.limits.drain_first else range(4):
        found = []
        for i in every:
            if _kind(moves[i]) != kind:
                continue
            between = passed(state, moves[i])
            if not any(way.broken(there) for there in between):
                found.append((-round(way.margin(between[-1]), 9), i))
        yield from (number for _, number in sorted(found))


def _kind(move: Move) -> int:
    if move.tank < 0:
        return 0 if move.load is None else 1
    return 2 if move.to_fill < move.fill else 3


def least_bad_order(way: Way, start: LoadingCondition, moves: Sequence[Move]) -> list[Move]:
    """Always the move whose worst state is least bad."""
    order: list[Move] = []
    state, done = start, 0
    while len(order) < len(moves):
        ways = [
            (round(min(way.margin(there) for there in passed(state, moves[i])), 9), -i)
            for i in _open(moves, done)
        ]
        i = -max(ways)[1]
        order.append(moves[i])
        state, done = passed(state, moves[i])[-1], done | 1 << i
    return order


def plain_order(moves: Sequence[Move]) -> list[Move]:
    """People, then bags, then water out, then water in; no state is looked at."""
    return sorted(moves, key=_kind)


def joined(order: Sequence[Move]) -> list[Move]:
    """Parts of one tank that came to follow each other are one pumping again."""
    joined: list[Move] = []
    for move in order:
        if joined and move.tank >= 0 and joined[-1].tank == move.tank:
            joined[-1] = replace(joined[-1], to_fill=move.to_fill)
        else:
            joined.append(move)
    return joined
