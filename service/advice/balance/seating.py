"""Who sits where: driver and observer first, then the rest in the order a crew would take seats.

Seats are chosen for the tanks as the rules ask for them, on the linear response of the boat.
Those without a place fill the cheapest places one by one, and then change places as long as that
is better. Whoever was given a seat leaves it only where the boat is out of its bands and the move
brings lean and trim nearer by what someone would notice, or to clear the bow. Bounded by counts.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from service.advice.balance.linear import Linear
from service.advice.balance.problem import CROWD, LIMIT, Array, Ints, Problem
from service.advice.requests import Load, Person
from service.boats.model import SeatRole

STANDING = 1e4
"""kg of water: nobody stands while there is a place."""
MOVE = 10.0
"""kg of water: a move that was asked for, so that of two alike the one with fewer moves wins."""
ALONE = 1e5
"""kg of water: a child in the bow without an adult there."""
LINES = 0.3
"""What the other limits are worth against the firm ones."""
ROUNDS = 4
"""Changes of places tried, at most, for each person aboard."""
PAIRS = 8000
"""Of two changes at once, no more are compared."""
HEAVIEST_LOADS = 8
"""So many movable loads are thought of; lighter ones do little."""


@dataclass(frozen=True, slots=True)
class Seated:
    """People and loads where they are to be. ``gains``: as in a plan."""

    people: tuple[Person, ...]
    loads: tuple[Load, ...]
    gains: Mapping[int, float | None]


@dataclass(slots=True, eq=False)
class _Crew:
    """``at`` (people): index of a seat, that of standing amid them, or -1 at a place of their own.

    ``free``: those who are to be seated. ``given``: those whom the request put on a seat that they
    may be asked to leave. ``options``: the seats for each.
    """

    problem: Problem
    at: Ints
    free: list[int] = field(default_factory=list)
    given: list[int] = field(default_factory=list)
    options: dict[int, list[int]] = field(default_factory=dict)
    gains: dict[int, float | None] = field(default_factory=dict)


def seat_everyone(problem: Problem, linear: Linear, reference: tuple[Person, ...]) -> Seated:
    """Seats for everybody. ``linear`` is about a boat with ``reference`` aboard, in that order.

    The points of ``linear`` are those of the problem.
    """
    crew = _with_roles(problem)
    choice = _Choice(crew, linear, reference)
    choice.fill()
    choice.improve()
    choice.ask_to_move()
    condition, seats = problem.condition, problem.condition.boat.seats
    people = tuple(
        person if not 0 <= seat < len(seats) else person.on(seats[seat].id)
        for person, seat in zip(condition.people, crew.at.tolist(), strict=True)
    )
    # Someone who made room may have found the way back.
    gains = {i: g for i, g in crew.gains.items() if people[i].seat != condition.people[i].seat}
    return Seated(people, condition.loads, gains)


def _with_roles(problem: Problem) -> _Crew:
    """The crew with driver and observer placed, and who of the others may go where."""
    condition, roles = problem.condition, problem.roles
    people, seats, rules = condition.people, condition.boat.seats, problem.practice.crew
    index = {seat.id: n for n, seat in enumerate(seats)}
    standing = len(seats)
    at = np.array(
        [-1 if p.x is not None else standing if p.seat is None else index[p.seat] for p in people],
        dtype=np.int64,
    )
    crew = _Crew(problem, at)
    settled = {i for i in (roles.driver, roles.observer) if i is not None}
    if roles.driver is not None and people[roles.driver].x is None:
        goals = [n for n, seat in enumerate(seats) if seat.role is SeatRole.DRIVER]
        _place(crew, roles.driver, goals, settled)
    if roles.observer is not None and people[roles.observer].x is None:
        _let_watch(crew, roles.observer, settled)
    driven = roles.driver is not None
    for i, person in enumerate(people):
        if i in settled or person.x is not None:
            continue
        child = rules.is_child(person)
        crew.options[i] = [
            n
            for n, seat in enumerate(seats)
            if problem.usable[n] and (seat.role is not SeatRole.DRIVER or (driven and not child))
        ]
        alone = child and 0 <= at[i] < standing and bool(problem.in_bow[at[i]])
        if at[i] == standing or (alone and not _adult_in_bow(crew)):
            if at[i] != standing:
                crew.gains[i] = None
            crew.free.append(i)
            at[i] = standing
        elif i not in crew.gains:
            crew.given.append(i)
    # Grown people first: children sit down next to them.
    crew.free.sort(key=lambda i: (i not in settled, rules.is_child(people[i]), i))
    return crew


def _let_watch(crew: _Crew, who: int, settled: set[int]) -> None:
    """Puts the observer where the rider is seen, or has them seated first among those.

    Someone else makes room where no such place is free; where the boat has none any seat will do.
    """
    problem, at = crew.problem, crew.at
    seats = problem.condition.boat.seats
    inside = [n for n in range(len(seats)) if problem.usable[n]]
    watch = [n for n in inside if seats[n].can_watch]
    own = [n for n in watch if seats[n].role is SeatRole.OBSERVER]
    if int(at[who]) in watch or _place(crew, who, own, set()):
        return
    if any((at == n).sum() < problem.places[n] for n in watch) or not watch:
        driven = problem.roles.driver is not None
        crew.options[who] = watch or [
            n for n in inside if driven or seats[n].role is not SeatRole.DRIVER
        ]
        crew.free.append(who)
        at[who] = len(seats)
    else:
        _place(crew, who, own or watch, settled)


def _adult_in_bow(crew: _Crew) -> bool:
    condition = crew.problem.condition
    return any(map(crew.problem.practice.crew.is_adult, condition.bow_people()))


def _place(crew: _Crew, who: int, goals: Iterable[int], settled: set[int]) -> bool:
    """Puts someone on one of the seats ``goals``, where others make room for ``settled`` ones."""
    at, places = crew.at, crew.problem.places
    goals = [*goals]
    if int(at[who]) in goals:
        return True
    was_given = crew.problem.condition.people[who].seat is not None
    goal = next((n for n in goals if (at == n).sum() < places[n]), None)
    if goal is None and settled and goals:
        goal = goals[0]
        out = next((i for i in np.flatnonzero(at == goal).tolist() if i not in settled), None)
        if out is not None:
            at[out] = len(places)
            crew.gains[out] = None
    if goal is None:
        return False
    at[who] = goal
    if was_given:
        crew.gains[who] = None
    return True


class _Choice:
    """The search: rows of ``at`` are compared by one cost."""

    def __init__(self, crew: _Crew, linear: Linear, reference: tuple[Person, ...]) -> None:
        self.crew, self.problem, self.linear = crew, crew.problem, linear
        problem = crew.problem
        condition, rules = problem.condition, problem.practice.crew
        people, seats = condition.people, condition.boat.seats
        self.mass = np.array([person.kilograms for person in people])
        self.child = np.array([rules.is_child(person) for person in people], dtype=np.bool_)
        self.adult = np.array([rules.is_adult(person) for person in people], dtype=np.bool_)
        self.children = np.flatnonzero(self.child)
        index = {seat.id: n for n, seat in enumerate(seats)}
        before = [len(seats) if p.seat is None else index[p.seat] for p in reference if p.x is None]
        masses = np.array([p.kilograms for p in reference if p.x is None])
        base = linear.outputs(linear.base, problem.start)
        self.base = base - masses @ linear.spot[before] if before else base
        self.here = np.flatnonzero(crew.at >= 0)
        own = [i for i, person in enumerate(people) if person.x is not None]
        spots = np.array([(people[i].x, people[i].y) for i in own]).reshape(-1, 2)
        flat = problem.points[:-1, :2]
        apart = np.linalg.norm(flat[:, None] - flat[None], axis=-1)
        self.near = (apart <= rules.beside_child).astype(np.float64)
        away = np.linalg.norm(flat[:, None] - spots[self.adult[own]][None], axis=-1)
        self.near_own = (away <= rules.beside_child).any(axis=1)
        forward = condition.bow_people()
        fixed = [person for person in forward if person.x is not None]
        self.bow_mass = math.fsum(person.kilograms for person in fixed)
        self.bow_people, self.bow_adult = len(fixed), any(map(rules.is_adult, fixed))

    def by_seat(self, rows: Ints, what: Array) -> Array:
        """(k, seats + 1): the sum of ``what`` (people) at each seat, for each row of ``at``."""
        size = len(rows), len(self.problem.points)
        flat = rows[:, self.here] + size[1] * np.arange(len(rows))[:, None]
        each = np.broadcast_to(what[self.here], flat.shape)
        found = np.bincount(flat.ravel(), each.ravel(), minlength=size[0] * size[1])
        return np.asarray(found.reshape(size), dtype=np.float64)

    def outputs(self, rows: Ints) -> Array:
        return np.asarray(self.base + self.by_seat(rows, self.mass) @ self.linear.spot)

    def cost(self, rows: Ints) -> Array:
        """Of each row (k, people), in kg of water."""
        problem, practice, linear = self.problem, self.problem.practice, self.linear
        mass = self.by_seat(rows, self.mass)
        people = self.by_seat(rows, np.ones(len(self.mass)))
        outputs = self.base + mass @ linear.spot
        under = linear.under(outputs, firm=True) + LINES * linear.under(outputs, firm=False)
        bow = problem.in_bow
        forward = mass[:, :-1] @ bow + self.bow_mass
        crowd = people[:, :-1] @ bow + self.bow_people
        over = np.maximum(forward - practice.bow_mass, 0.0)
        over += np.maximum(crowd - practice.bow_people, 0.0)
        return np.asarray(
            problem.angle_cost(outputs)
            + problem.pull(outputs)
            + LIMIT * under
            + CROWD * over
            + people[:, :-1] @ problem.seat_cost
            + STANDING * people[:, -1]
            + practice.bow_worry * np.maximum(forward - practice.no_worry, 0.0)
            + self._children(rows)
        )

    def _children(self, rows: Ints) -> Array:
        """What children away from adults cost."""
        total = np.zeros(len(rows))
        if not len(self.children):
            return total
        adults = self.by_seat(rows, self.adult.astype(np.float64))[:, :-1]
        beside = (adults @ self.near > 0.0) | self.near_own
        in_bow = (adults @ self.problem.in_bow > 0.0) | self.bow_adult
        beside = np.column_stack((beside, np.ones(len(rows), dtype=np.bool_)))
        bow = np.append(self.problem.in_bow, False)
        number = np.arange(len(rows))
        for child in self.children:
            seat = rows[:, child]
            placed = seat >= 0
            total += self.problem.practice.child_apart * (placed & ~beside[number, seat])
            total += ALONE * (placed & bow[seat] & ~in_bow)
        return total

    def free_places(self) -> Ints:
        taken = np.bincount(self.crew.at[self.crew.at >= 0], minlength=len(self.problem.points))
        return np.asarray(self.problem.places - taken[:-1])

    def fill(self) -> None:
        """Each of those without a place on the place that is best then."""
        at = self.crew.at
        for i in self.crew.free:
            left = self.free_places()
            goals = [n for n in self.crew.options[i] if left[n] > 0]
            if goals:
                rows = np.tile(at, (len(goals), 1))
                rows[:, i] = goals
                at[i] = goals[int(np.argmin(self.cost(rows)))]

    def improve(self) -> None:
        """Those to be seated change places, one or two at once, as long as that is better."""
        crew = self.crew
        for _ in range(ROUNDS * len(crew.free)):
            if not any(map(self._improved, self._each_way(crew.free, crew.free))):
                return

    def _each_way(self, movers: list[int], others: list[int]) -> Iterator[Ints]:
        """Two at once only where no single change will do."""
        yield self._changes(movers, others)
        yield self._two_changes(movers, others)

    def _improved(self, rows: Ints) -> bool:
        """Whether the best of ``rows`` is better, and is taken."""
        if not len(rows):
            return False
        costs = self.cost(np.concatenate((self.crew.at[None], rows)))
        best = int(np.argmin(costs))
        if costs[best] >= costs[0] - 1e-6:
            return False
        self.crew.at[:] = rows[best - 1]
        return True

    def ask_to_move(self) -> None:
        """Those who were given seats leave them where it clearly helps."""
        crew, problem = self.crew, self.problem
        home = crew.at.copy()
        for _ in range(ROUNDS * len(crew.given)):
            now, crowd = self.outputs(crew.at[None])[0], float(self._crowd(crew.at[None])[0])
            if not problem.out_of_band(now) and self._under(now) == 0.0 and crowd == 0.0:
                return
            ways = self._each_way(crew.given, [*crew.given, *crew.free])
            if not any(self._asked(rows, home, now) for rows in ways):
                return
            self.improve()

    def _asked(self, rows: Ints, home: Ints, now: Array) -> bool:
        """Whether one of ``rows`` clearly helps, and the best of those is taken."""
        if not len(rows):
            return False
        crew, practice = self.crew, self.problem.practice
        given = np.array(crew.given, dtype=np.int64)
        moved = (rows[:, given] != home[given]).sum(axis=1)
        more = np.maximum(moved - int((crew.at[given] != home[given]).sum()), 1)
        outputs = self.outputs(rows)
        gain = float(self.problem.degrees_off(now)) - self.problem.degrees_off(outputs)
        clear = gain >= practice.notice * more
        clear |= self._under(outputs) < float(self._under(now)) - 1e-3
        clear |= self._crowd(rows) < float(self._crowd(crew.at[None])[0])
        every = self.cost(np.concatenate((crew.at[None], rows)))
        costs = np.where(clear, every[1:] + MOVE * more, np.inf)
        best = int(np.argmin(costs))
        if costs[best] >= every[0] - 1e-6:
            return False
        each = float(gain[best]) / int(more[best])
        self._note(rows[best], home, each if each >= practice.notice else None)
        crew.at[:] = rows[best]
        return True

    def _crowd(self, rows: Ints) -> Array:
        """Kg of people in the bow beyond no worry: they are asked aft while there are places."""
        forward = self.by_seat(rows, self.mass)[:, :-1] @ self.problem.in_bow + self.bow_mass
        return np.asarray(np.maximum(forward - self.problem.practice.no_worry, 0.0))

    def _note(self, row: Ints, home: Ints, gain: float | None) -> None:
        """``gain`` for each who leaves home; ``None`` where it is for the limits' sake."""
        gains = self.crew.gains
        for i in self.crew.given:
            if row[i] == home[i]:
                gains.pop(i, None)
            elif row[i] != self.crew.at[i]:
                before = gains.get(i, 0.0)
                gains[i] = None if gain is None or before is None else gain + before

    def _under(self, outputs: Array) -> NDArray[np.float64]:
        linear = self.linear
        return linear.under(outputs, firm=True) + LINES * linear.under(outputs, firm=False)

    def _changes(self, movers: list[int], others: list[int]) -> Ints:
        """(k, people): one of ``movers`` elsewhere, or in exchange with one of ``others``."""
        return np.array([*self._each_change(movers, others)], dtype=np.int64)

    def _each_change(self, movers: list[int], others: list[int]) -> Iterator[Ints]:
        at, left, options = self.crew.at, self.free_places(), self.crew.options
        one_of_each = self._distinct(movers)
        for i in one_of_each:
            for goal in options[i]:
                if left[goal] > 0 and goal != at[i]:
                    row = at.copy()
                    row[i] = goal
                    yield row
        for i, j in itertools.product(one_of_each, self._distinct(others)):
            once = i < j or i not in others or j not in movers
            differ = at[i] != at[j] and self._kind(i) != self._kind(j)
            if once and differ and int(at[j]) in options[i] and int(at[i]) in options[j]:
                row = at.copy()
                row[i], row[j] = at[j], at[i]
                yield row

    def _two_changes(self, movers: list[int], others: list[int]) -> Ints:
        """(k, people): two of them elsewhere at once, one of ``movers`` at least."""
        at, options = self.crew.at, self.crew.options
        people = self._distinct([*movers, *(i for i in others if i not in movers)], 2)
        single = [(i, goal) for i in people for goal in options[i] if goal != at[i]]
        first, second = np.triu_indices(len(single), 1)
        if not len(first) or len(first) > PAIRS:
            return np.empty((0, len(at)), dtype=np.int64)
        one, two = (np.array(single, dtype=np.int64)[index] for index in (first, second))
        differ = one[:, 0] != two[:, 0]
        differ &= np.isin(one[:, 0], movers) | np.isin(two[:, 0], movers)
        one, two = one[differ], two[differ]
        rows, number = np.tile(at, (len(one), 1)), np.arange(len(one))
        for each in (one, two):
            rows[number, each[:, 0]] = each[:, 1]
        taken = self.by_seat(rows, np.ones(len(self.mass)))[:, :-1]
        found: Ints = rows[(taken <= self.problem.places).all(axis=1)]
        return found

    def _kind(self, i: int) -> tuple[float, bool, bool]:
        return float(self.mass[i]), bool(self.child[i]), bool(self.adult[i])

    def _distinct(self, people: list[int], most: int = 1) -> list[int]:
        """So many, at most, of those alike who sit on the same seat."""
        kinds: dict[tuple[float, bool, bool, int], list[int]] = {}
        for i in people:
            alike = kinds.setdefault((*self._kind(i), int(self.crew.at[i])), [])
            if len(alike) < most:
                alike.append(i)
        return sorted(itertools.chain.from_iterable(kinds.values()))
