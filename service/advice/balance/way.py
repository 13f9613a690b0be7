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

from service.advice.balance.model import Limit
from service.advice.situation import Bag, Cargo, Occupant
from service.advice.weighing import (
    Attitude,
    fixed_weights,
    immovable,
    lie,
    person_weight,
    tank_weights,
)

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
    """Those of the state (indices) who go to a seat, or a tank from one percentage to another.

    ``bag``: the load that is shifted, as it lies then; a bag goes alone.
    """

    who: tuple[int, ...] = ()
    goal: int = -1
    tank: int = -1
    fill: float = 0.0
    to_fill: float = 0.0
    bag: Bag | None = None


State = tuple[tuple[Occupant, ...], tuple[float, ...]]
"""The people and then the bags where they are, and percents of the tanks."""


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

    cargo: Cargo
    limits: OnTheWay
    water: float
    fuel_density: float
    known: dict[tuple[object, ...], Attitude] = field(default_factory=dict)
    checks: int = 0

    def attitude(self, state: State) -> Attitude:
        aboard, percents = state
        # Who sits where matters by mass only.
        places = Counter(
            (p.mass, p.seat, p.x, p.y, p.z if isinstance(p, Bag) else None) for p in aboard
        )
        key = (frozenset(places.items()), percents)
        found = self.known.get(key)
        if found is None:
            self.checks += 1
            weights = [
                *fixed_weights(immovable(self.cargo), self.fuel_density),
                *(person_weight(one, self.cargo) for one in aboard),
                *tank_weights(self.cargo.boat, [p / 100.0 for p in percents], self.water),
            ]
            found = self.known[key] = lie(self.cargo.boat, weights, self.water)
        return found

    def broken(self, state: State) -> list[tuple[Limit, float]]:
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

    def margin(self, state: State) -> float:
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


def relaxed(way: Way, start: State, end: State) -> OnTheWay:
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


def moves_between(start: State, end: State, parts: int) -> list[Move]:
    """People by where they come from and go to, then bags, then tanks, each in ``parts``."""
    groups: dict[tuple[object, ...], list[int]] = {}
    bags = []
    for i, (before, after) in enumerate(zip(start[0], end[0], strict=True)):
        if before.seat == after.seat:
            continue
        if isinstance(after, Bag):
            bags.append(Move((i,), bag=after))
        elif after.seat is not None:
            origin = (before.seat is None, before.seat or 0, before.x or 0.0, before.y or 0.0)
            groups.setdefault((*origin, after.seat, -before.mass), []).append(i)
    moves = [Move(tuple(who), end[0][who[0]].seat or 0) for who in groups.values()] + bags
    for tank, (now, then) in enumerate(zip(start[1], end[1], strict=True)):
        stops = [now, *(round(now + (then - now) * k / parts) for k in range(1, parts)), then]
        moves += [Move(tank=tank, fill=a, to_fill=b) for a, b in pairwise(stops) if a != b]
    return moves


def passed(state: State, move: Move) -> list[State]:
    """The states of one move, its end last."""
    aboard, percents = state
    if move.tank < 0:
        states: list[State] = []
        for i in move.who:
            there = move.bag or replace(aboard[i], seat=move.goal, x=None, y=None)
            aboard = (*aboard[:i], there, *aboard[i + 1 :])
            states.append((aboard, percents))
        return states
    middle = (move.fill + move.to_fill) / 2.0
    return [
        (aboard, (*percents[: move.tank], percent, *percents[move.tank + 1 :]))
        for percent in (middle, move.to_fill)
    ]


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


def safe_order(way: Way, start: State, moves: Sequence[Move]) -> list[Move] | None:
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


def _options(way: Way, state: State, moves: Sequence[Move], done: int) -> Iterator[int]:
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
        return 0 if move.bag is None else 1
    return 2 if move.to_fill < move.fill else 3


def least_bad_order(way: Way, start: State, moves: Sequence[Move]) -> list[Move]:
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
