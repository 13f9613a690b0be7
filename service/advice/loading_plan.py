"""Who sits where and how much water is in each tank: people first, pumps second.

Works in the surf frame (surf side to port). The wanted lean and trim come with bands; inside a
band nothing is moved. Seats are chosen on the linear response of the floating boat, tanks by
bounded least squares on it, and the nonlinear equilibrium confirms each step.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import lsq_linear

from service.advice.situation import Cargo, Occupant
from service.advice.weighing import Attitude, fixed_weights, lie, person_weight, tank_weights
from service.hydrostatics.equilibrium import response
from service.hydrostatics.weights import Weight

Array = NDArray[np.float64]

HELM = "helm"
"""The seat of this id is the driver's: somebody without a place goes there first."""

CONFIRMATIONS = 4
FORWARD_THIRD = 2.0 / 3.0
BOW_SEAT_COST = 0.02
"""Between two seatings that serve equally well the one with fewer people forward is taken."""
PUMP_COST = 0.02
"""Weight of a tank's change against a degree out of the band: only enough to break ties."""


@dataclass(frozen=True, slots=True)
class Band:
    """A wanted angle (degrees) and how far it may be off."""

    wanted: float
    either_side: float

    def off(self, angle: float) -> float:
        """How far ``angle`` is outside the band; negative below it, 0 inside."""
        beyond = abs(angle - self.wanted) - self.either_side
        return math.copysign(max(beyond, 0.0), angle - self.wanted)

    def holds(self, angle: float) -> bool:
        return abs(angle - self.wanted) <= self.either_side + 1e-9


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the rules ask of the loading. ``room`` (kg) bounds the water; ``None`` is unbounded.

    ``fills`` are the fractions to start from in the tanks' order. ``least_freeboard`` (m) must
    stay above the water, else water is left out.
    """

    lean: Band
    trim: Band
    fills: tuple[float, ...]
    room: float | None
    least_freeboard: float


@dataclass(frozen=True, slots=True)
class Plan:
    """A seating and fills with the attitude they give.

    ``for_room``, ``for_freeboard`` and ``for_balance`` are the changes to each tank's starting
    fill (percent of capacity), which with it add up to ``fills`` in whole percent.
    """

    people: tuple[Occupant, ...]
    fills: tuple[float, ...]
    for_room: tuple[float, ...]
    for_freeboard: tuple[float, ...]
    for_balance: tuple[float, ...]
    attitude: Attitude
    weights: tuple[Weight, ...]


@dataclass(frozen=True, slots=True)
class _Task:
    cargo: Cargo
    wanted: Wanted
    water: float
    fixed: tuple[Weight, ...]

    def lie(self, people: Sequence[Occupant], fills: Sequence[float]) -> Attitude:
        return lie(self.cargo.boat, self.weights(people, fills), self.water)

    def weights(self, people: Sequence[Occupant], fills: Sequence[float]) -> list[Weight]:
        return [
            *self.fixed,
            *(person_weight(person, self.cargo) for person in people),
            *tank_weights(self.cargo.boat, fills, self.water),
        ]

    def safe(self, attitude: Attitude) -> bool:
        board = attitude.freeboard
        return attitude.floats and board is not None and board.least >= self.wanted.least_freeboard


def plan_loading(cargo: Cargo, wanted: Wanted, water: float, fuel_density: float) -> Plan:
    """The loading that meets ``wanted`` as nearly as seats, tanks and limits allow.

    ``water`` and ``fuel_density`` in kg/m³. Deterministic; never raises for a valid cargo.
    """
    task = _Task(cargo, wanted, water, tuple(fixed_weights(cargo, fuel_density)))
    room = _fit_room(task)
    people = _seat(task, room)
    dry = _fit_freeboard(task, people, room)
    balanced = _whole(_balance(task, people, dry), cargo)
    start = tuple(round(100 * fill, 6) for fill in wanted.fills)
    steps = [tuple(round(100 * fill, 1) for fill in fills) for fills in (room, dry, balanced)]
    return Plan(
        people=people,
        fills=balanced,
        for_room=_differences(start, steps[0]),
        for_freeboard=_differences(steps[0], steps[1]),
        for_balance=_differences(steps[1], steps[2]),
        attitude=task.lie(people, balanced),
        weights=tuple(task.weights(people, balanced)),
    )


def _differences(before: Sequence[float], after: Sequence[float]) -> tuple[float, ...]:
    return tuple(b - a for a, b in zip(before, after, strict=True))


def _whole(fills: Sequence[float], cargo: Cargo) -> tuple[float, ...]:
    """Fills in whole percent, which is what a gauge shows; never beyond what a tank takes."""
    return tuple(
        min(math.floor(100 * fill + 0.5), math.floor(100 * tank.max_fill + 1e-9)) / 100
        for fill, tank in zip(fills, cargo.boat.tanks, strict=True)
    )


def _fit_room(task: _Task) -> tuple[float, ...]:
    """Starting fills, evenly less where the water would be more than there is room for."""
    tanks, wanted = task.cargo.boat.tanks, task.wanted
    fills = tuple(
        min(max(fill, 0.0), tank.max_fill) for fill, tank in zip(wanted.fills, tanks, strict=True)
    )
    mass = task.water * math.fsum(f * tank.capacity for f, tank in zip(fills, tanks, strict=True))
    if wanted.room is None or mass <= wanted.room:
        return fills
    share = max(wanted.room, 0.0) / mass
    return tuple(math.floor(100 * fill * share) / 100 for fill in fills)


def _fit_freeboard(
    task: _Task, people: Sequence[Occupant], fills: tuple[float, ...]
) -> tuple[float, ...]:
    """Evenly less water, in tenths, until the boat floats with its sides high enough."""
    for tenths in range(10, 0, -1):
        less = tuple(math.floor(100 * fill * tenths / 10 + 1e-9) / 100 for fill in fills)
        if tenths == 10:
            less = fills
        if task.safe(task.lie(people, less)):
            return less
    return tuple(0.0 for _ in fills)


def _seat(task: _Task, fills: Sequence[float]) -> tuple[Occupant, ...]:
    """Places for those who have none; those who have one move only if the bands ask for it."""
    cargo = task.cargo
    free = [seat.places for seat in cargo.boat.seats]
    for person in cargo.people:
        if person.seat is not None:
            free[person.seat] -= 1
    people = list(cargo.people)
    movers = [i for i, person in enumerate(people) if not person.placed]
    movers.sort(key=lambda i: -people[i].mass)
    helm = next((i for i, seat in enumerate(cargo.boat.seats) if seat.id == HELM), None)
    if movers and helm is not None and free[helm] > 0:
        people[movers[0]] = replace(people[movers[0]], seat=helm)
        free[helm] -= 1
        movers = movers[1:]
    tilt = _Tilt.at(task, people, fills)
    if tilt is None:
        return tuple(_anywhere(people, movers, free))
    for i in movers:
        seat = tilt.best_seat(people[i], free)
        if seat is not None:
            people[i] = tilt.move(people[i], seat)
            free[seat] -= 1
    tilt.improve(people, free, movers)
    settled = [i for i, person in enumerate(cargo.people) if person.seat is not None]
    tilt.move_few(people, free, [i for i in settled if people[i].seat != helm])
    return tuple(people)


def _anywhere(people: list[Occupant], movers: Sequence[int], free: list[int]) -> list[Occupant]:
    """A seat for everybody on a boat that does not float anyway."""
    for i in movers:
        seat = next((s for s, places in enumerate(free) if places > 0), None)
        if seat is not None:
            people[i] = replace(people[i], seat=seat)
            free[seat] -= 1
    return people


@dataclass(slots=True)
class _Tilt:
    """Lean and trim (degrees) as people move, by the linear response of the floating boat."""

    task: _Task
    lean: float
    trim: float
    per_kg: Array  # (seats, 2): lean and trim for 1 kg more on each seat, against the middle
    forward: tuple[bool, ...]

    @classmethod
    def at(cls, task: _Task, people: Sequence[Occupant], fills: Sequence[float]) -> _Tilt | None:
        attitude = task.lie(people, fills)
        if attitude.lean is None or attitude.trim is None or not attitude.floats:
            return None
        seats = task.cargo.boat.seats
        middle = person_weight(Occupant(1.0), task.cargo)
        points = [(seat.x, seat.y, seat.z) for seat in seats] + [(middle.x, middle.y, middle.z)]
        x, y, z = np.array(points).T
        _, trim, heel = response(attitude.floating, 1.0, x, y, z)
        per_kg = np.degrees(np.stack((-heel, trim), axis=1))
        length = task.cargo.boat.hull
        bow = length.x_min + FORWARD_THIRD * length.length
        return cls(
            task, attitude.lean, attitude.trim, per_kg[:-1] - per_kg[-1],
            tuple(seat.x > bow for seat in seats),
        )  # fmt: skip

    def cost(self, lean: float, trim: float, bow_seats: int = 0) -> float:
        """How far off the middle of the bands, in half bands, with a little for bow seats."""
        wanted = self.task.wanted
        off_lean = (lean - wanted.lean.wanted) / (0.5 * wanted.lean.either_side)
        off_trim = (trim - wanted.trim.wanted) / (0.5 * wanted.trim.either_side)
        beyond = max(abs(off_lean) - 1.0, 0.0) ** 2 + max(abs(off_trim) - 1.0, 0.0) ** 2
        return beyond + BOW_SEAT_COST * bow_seats

    def change(self, person: Occupant, seat: int) -> Array:
        """Lean and trim that ``person`` going to ``seat`` adds."""
        return person.mass * (self.per_kg[seat] - self._from(person))

    def _from(self, person: Occupant) -> Array:
        return self.per_kg[person.seat] if person.seat is not None else np.zeros(2)

    def best_seat(self, person: Occupant, free: Sequence[int]) -> int | None:
        """The free seat from which the boat lies best; ``None`` where all are taken."""
        costs = [
            (self._cost_after(self.change(person, seat)) + BOW_SEAT_COST * self.forward[seat], seat)
            for seat, places in enumerate(free)
            if places > 0
        ]
        return min(costs)[1] if costs else None

    def _cost_after(self, change: Array) -> float:
        return self.cost(self.lean + float(change[0]), self.trim + float(change[1]))

    def move(self, person: Occupant, seat: int) -> Occupant:
        change = self.change(person, seat)
        self.lean += float(change[0])
        self.trim += float(change[1])
        return replace(person, seat=seat)

    def improve(self, people: list[Occupant], free: list[int], movers: Sequence[int]) -> None:
        """Moves and swaps one at a time while that helps. Each strictly lowers the cost."""
        for _ in range(4 * len(movers)):
            moves = [
                (self._cost_after(self.change(people[i], seat))
                 + BOW_SEAT_COST * (self.forward[seat] - self.forward[people[i].seat or 0]), i, seat)
                for i in movers if people[i].seat is not None
                for seat, places in enumerate(free) if places > 0
            ]  # fmt: skip
            if not moves or min(moves)[0] >= self.cost(self.lean, self.trim) - 1e-9:
                return
            _, i, seat = min(moves)
            free[people[i].seat or 0] += 1
            free[seat] -= 1
            people[i] = self.move(people[i], seat)

    def move_few(self, people: list[Occupant], free: list[int], movers: Sequence[int]) -> None:
        """Moves people who already sit somewhere, only while the boat is out of a band."""
        wanted = self.task.wanted
        for _ in range(len(movers)):
            if wanted.lean.holds(self.lean) and wanted.trim.holds(self.trim):
                return
            self.improve(people, free, movers)
            return


def _balance(
    task: _Task, people: Sequence[Occupant], fills: tuple[float, ...]
) -> tuple[float, ...]:
    """Fills moved from tank to tank until lean and trim are inside their bands, if they can be."""
    tanks, wanted = task.cargo.boat.tanks, task.wanted
    best, best_off = fills, math.inf
    for _ in range(CONFIRMATIONS):
        attitude = task.lie(people, fills)
        if not tanks or attitude.lean is None or attitude.trim is None:
            return best
        off = np.array([wanted.lean.off(attitude.lean), wanted.trim.off(attitude.trim)])
        size = float(np.abs(off).sum())
        if size < best_off - 1e-9 and task.safe(attitude) | (best_off == math.inf):
            best, best_off = fills, size
        if size == 0.0:
            return best
        fills = _moved(task, attitude, fills, off)
    return best


def _moved(
    task: _Task, attitude: Attitude, fills: tuple[float, ...], off: Array
) -> tuple[float, ...]:
    """One step of bounded least squares on the linear response."""
    tanks = task.cargo.boat.tanks
    x, y, z = np.array([(tank.x, tank.y, tank.z) for tank in tanks]).T
    _, trim, heel = response(attitude.floating, 1.0, x, y, z)
    mass = task.water * np.array([tank.capacity for tank in tanks])
    turn = np.degrees(np.stack((-heel, trim))) * mass
    aim = -(off + 0.1 * np.sign(off))
    rows = np.vstack((turn, PUMP_COST * np.eye(len(tanks))))
    right = np.concatenate((aim, np.zeros(len(tanks))))
    now = np.array(fills)
    most = np.array([tank.max_fill for tank in tanks])
    if task.wanted.room is not None:
        most = np.minimum(most, np.maximum(now, 1e-6))
    low, high = -now - 1e-9, np.maximum(most - now, 0.0) + 1e-9
    step = lsq_linear(rows, right, bounds=(low, high), method="bvls").x
    return tuple(float(value) for value in np.clip(now + step, 0.0, most))
