"""The best seating, places of bags and fills on one linear model of the boat."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from service.advice.balance.cost import BOW, CARRY, FORWARD, MOVE, Array, Task
from service.advice.balance.linear import Linear
from service.advice.balance.seatings import Seatings, Sitter, with_the_plain_ones
from service.advice.balance.spots import shiftable
from service.advice.balance.tanks import Solved, Tanks
from service.advice.situation import Bag, Occupant

CUTS, TOGETHER = 3, 4
"""For one model at most so many times as many linear programs, solved together."""
CLOSE = 0.5
"""Litres (or a millionth) that a seating must promise over the best so far to be worth a look."""
ROUNDED = 2
"""So many of the seatings solved are rounded to whole percent."""


@dataclass(frozen=True, slots=True, eq=False)
class Choice:
    """A loading with the cost and the lean and trim (degrees) that the linear model gives it.

    ``settled``: nothing is to be wished for but ties, so that a confirmation ends the search.
    """

    aboard: tuple[Occupant, ...]
    percents: Array
    cost: float
    lean: float
    trim: float
    settled: bool


@dataclass(frozen=True, slots=True)
class _Crew:
    """Who may be seated and what may be shifted: indices of those ``aboard``.

    ``free``: places at each spot without them.
    """

    free: tuple[int, ...]
    sitting: tuple[int, ...]
    driver: int | None

    def sitters(self, task: Task) -> list[Sitter]:
        return [_sitter(task, task.aboard[i]) for i in self.sitting]


def _sitter(task: Task, one: Occupant) -> Sitter:
    home = task.spots.of_one(one) if one.placed else -1
    effort = CARRY if isinstance(one, Bag) else MOVE
    return Sitter(one.mass, home, task.reach(one), effort, task.drives(one))


class Search:
    """The search for one task; the seatings are listed once, at the first linear model."""

    def __init__(self, task: Task) -> None:
        self.task = task
        self._rows: dict[_Crew, Seatings] = {}
        self._hints: dict[_Crew, Array] = {}  # what each seating costs at least, the last time

    def best(self, linear: Linear, aboard: Sequence[Occupant], clear: float) -> Choice:
        """The cheapest loading on ``linear``, whose reference has those ``aboard`` where they are.

        It stays ``clear`` (m) of the limits.

        First only those without a place are seated. Where that leaves something to be wished
        for, those on seats may change too, except the driver, and bags be shifted.
        """
        tanks = Tanks(self.task, linear, clear)
        crew = _crew(self.task, move=False)
        still = self._seatings(linear, crew, None)
        settle = _Search(self.task, linear, aboard, tanks, crew, still)
        found = settle.as_asked()
        if found is not None:
            return found
        crew = _crew(self.task, move=True)
        if crew.sitting == settle.crew.sitting:
            return settle.best(self._hints)
        rows = self._seatings(linear, crew, still)
        return _Search(self.task, linear, aboard, tanks, crew, rows).best(self._hints)

    def _seatings(self, linear: Linear, crew: _Crew, still: Seatings | None) -> Seatings:
        rows = self._rows.get(crew)
        if rows is None:
            wanted = self.task.wanted
            bands = np.array([wanted.lean.either_side, wanted.trim.either_side])
            tilt = linear.spot[:, :2] / bands
            rows = self._rows[crew] = with_the_plain_ones(
                crew.sitters(self.task), crew.free, crew.driver, self.task.bow_spots, tilt, still
            )
        return rows


def _crew(task: Task, *, move: bool) -> _Crew:
    """Who is to be seated. Where places are short the lightest without one stay standing.

    With ``move``, or where the driver has to come from another seat, those on seats and bags are
    among them.
    """
    cargo, helm = task.cargo, task.spots.helm
    called = from_seats(task)
    move = move or bool(called)
    seats = cargo.boat.seats
    free = [seat.places for seat in seats]
    for person in cargo.people:
        if person.seat is not None:
            free[person.seat] -= 1
    settled = [
        i for i, person in enumerate(cargo.people)
        if move and person.seat is not None and person.seat != helm
    ]  # fmt: skip
    unplaced = [i for i, person in enumerate(cargo.people) if not person.placed]
    unplaced.sort(key=lambda i: -cargo.people[i].mass)
    places = sum(max(places, 0) for places in free)
    unplaced = unplaced[:places]
    drivers = called[:1] or [i for i in unplaced if task.drives(cargo.people[i])]
    at_helm = 0 if helm is None else max(free[helm], 0)
    if not task.beside and len(drivers) < at_helm:  # where none of the others may sit
        unplaced = unplaced[: places - at_helm + len(drivers)]
    for i in settled:
        free[cargo.people[i].seat or 0] += 1
    settled.sort(key=lambda i: (i not in called, cargo.people[i].seat or 0, -cargo.people[i].mass))
    driver = helm if drivers and at_helm else None
    driven = any(person.seat is not None and person.seat == helm for person in cargo.people)
    bags = shiftable(task.aboard, cargo) if move else []
    at_spots = [len(bags)] * len(task.spots.seat)
    at_spots[: len(seats) + 1] = [*(max(places, 0) for places in free), 0]
    return _Crew(tuple(at_spots), (*bags, *settled, *unplaced), None if driven else driver)


def from_seats(task: Task) -> list[int]:
    """Those on seats of whom one must go to the helm: nobody is there or comes without a place."""
    people, helm = task.cargo.people, task.spots.helm
    grown = [i for i, person in enumerate(people) if task.drives(person)]
    if helm is None or any(person.seat == helm for person in people):
        return []
    if any(not people[i].placed for i in grown):
        return []
    return [i for i in grown if people[i].seat is not None]


def movable(task: Task, aboard: Sequence[Occupant]) -> list[int]:
    """Those ``aboard`` who may change places one by one: all but the driver and those standing."""
    crew = _crew(task, move=True)
    at_helm = [
        i for i in crew.sitting if (seat := aboard[i].seat) is not None
        and task.drives(aboard[i]) and seat == task.spots.helm
    ]  # fmt: skip
    driver = at_helm[:1] if crew.driver is not None else []
    return [i for i in crew.sitting if i not in driver]


class _Search:
    def __init__(
        self, task: Task, linear: Linear, aboard: Sequence[Occupant], tanks: Tanks, crew: _Crew,
        rows: Seatings,
    ) -> None:  # fmt: skip
        self.task, self.crew, self.tanks, self.rows = task, crew, tanks, rows
        base, at = linear.base, task.spots.of_one
        for i, (now, before) in enumerate(zip(aboard, task.aboard, strict=True)):
            if i in crew.sitting:
                base = base - now.mass * linear.spot[at(now)]
            elif now.seat != before.seat:  # moved in the reference, but not to be moved here
                base = base + now.mass * (linear.spot[at(before)] - linear.spot[at(now)])
        base = base + (task.start - linear.percents) @ linear.tank
        base = base + (tanks.slack - linear.slack) @ linear.surface
        # By columns, since what is asked of it is asked of all seatings at once.
        self.outputs = np.asfortranarray(base + self.rows.mass @ linear.spot)
        self.people_part = self.rows.effort + BOW * self.rows.bow + FORWARD * self._forward()
        self.least = self._least()
        self.at_start = self._costs(task.start)

    def _forward(self) -> Array:
        """Kilograms of people too many in the bow third, by seating."""
        task, seats = self.task, self.task.spots.seats
        stay = [one for i, one in enumerate(task.aboard) if i not in self.crew.sitting]
        people = self.rows.mass[:, :seats] @ task.bow_spots[:seats]
        return task.too_far_forward(task.forward(stay) + people)

    def _least(self) -> float:
        """What even a loading without any fault costs: minutes and part-filled tanks."""
        middle = self.outputs[0].copy()
        middle[:2] = self.task.wanted.lean.wanted, self.task.wanted.trim.wanted
        middle[2:] = 1.0
        return float(self.tanks.costs(middle, self.task.start))

    @property
    def _fits(self) -> bool:
        room = self.task.wanted.room
        return room is None or float(self.task.start @ self.task.kg) <= room + 1e-6

    def as_asked(self) -> Choice | None:
        """The best with the tanks as asked, where nobody moves and nothing is amiss but ties."""
        row = int(np.argmin(self.at_start))
        cost = float(self.at_start[row])
        # A whole percent in any tank costs more than all the ties.
        if not self._fits or cost - self.least >= 1.0 or self.rows.moved[row] != 0:
            return None
        return self._choice(row, self.task.start, cost, settled=True)

    def best(self, hints: dict[_Crew, Array]) -> Choice:
        """``hints``: what each seating of a crew cost at least in the last model; kept up."""
        found = self.as_asked()
        if found is not None:
            return found
        row, percents, cost = self._with_tanks(hints)
        rows = [(row, percents, cost), self._best_row(percents, self._costs(percents))]
        if self._fits:
            rows.append(self._best_row(self.task.start, self.at_start))
        row, percents, cost = min(rows, key=lambda found: found[2])
        return self._choice(row, percents, cost, settled=False)

    def _costs(self, percents: Array) -> Array:
        return self.tanks.costs(self.outputs, percents) + self.people_part

    def _best_row(self, percents: Array, costs: Array) -> tuple[int, Array, float]:
        row = int(np.argmin(costs))
        return row, percents, float(costs[row])

    def _with_tanks(self, hints: dict[_Crew, Array]) -> tuple[int, Array, float]:
        if not self.task.most.any():
            return self._best_row(self.task.start, self.at_start)
        rank = hints.get(self.crew, self.at_start)
        lower = self.people_part
        solved: dict[int, Solved] = {}
        values: dict[int, float] = {}
        for _ in range(CUTS):
            rows = self._promising(rank, lower, values)
            if not rows:
                break
            found = self.tanks.solve(self.outputs[rows])
            solved.update(zip(rows, found, strict=True))
            values.update((row, solved[row].value + float(self.people_part[row])) for row in rows)
            slopes = np.array([one.slope for one in found])
            at = np.array([one.value for one in found]) - (slopes * self.outputs[rows]).sum(axis=1)
            cuts = (slopes @ self.outputs.T + at[:, None]).max(axis=0)
            rank = lower = np.maximum(lower, cuts + self.people_part)
        hints[self.crew] = lower
        nearest = sorted(values, key=lambda row: values[row])[:ROUNDED]
        rounded = []
        for row in nearest:
            cost, percents = self.tanks.whole(self.outputs[row], solved[row].percents)
            rounded.append((row, percents, cost + float(self.people_part[row])))
        return min(rounded, key=lambda found: found[2])

    def _promising(self, rank: Array, lower: Array, values: dict[int, float]) -> list[int]:
        """Seatings to solve next: the first by ``rank`` that may yet be better than those known."""
        least = min(values.values(), default=math.inf)
        hopeless = lower >= (least - CLOSE * max(1.0, 1e-6 * least) if values else math.inf)
        rank = np.where(hopeless, math.inf, rank)
        rank[[*values]] = math.inf
        first = np.argpartition(rank, min(TOGETHER, len(rank)) - 1)[:TOGETHER]
        return sorted(first[np.isfinite(rank[first])].tolist())

    def _choice(self, row: int, percents: Array, cost: float, *, settled: bool) -> Choice:
        aboard, put = list(self.task.aboard), self.task.spots.put
        for number, i in enumerate(self.crew.sitting):
            aboard[i] = put(aboard[i], int(self.rows.spot[row, number]))
        lean, trim = self.tanks.outputs(self.outputs[row], percents)[:2].tolist()
        return Choice(tuple(aboard), percents, cost, lean, trim, settled)
