"""What stands in the way of the wanted loading, and what would help, in numbers.

Each help is estimated on the linear response and then confirmed on the nonlinear equilibrium: what
is listed would do, all else as planned. Nothing is listed where nothing tried would.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from service.advice.balance.model import Band, Help, HelpKind, Limit, Obstacle, Plan, Wanted
from service.advice.balance.problem import Array, Problem, broken, crossed
from service.advice.loading_condition import Attitude, attitude
from service.advice.requests import Person
from service.boats.model import Boat
from service.hydrostatics.equilibrium import Status, response
from service.hydrostatics.weights import Weight

HEAVIEST_BAG = 500.0
"""kg. Beyond that a bag is no help."""
TRIES = 4
"""Corrections of a bag's mass, and seats tried."""
WORTH_A_WORD = 1.0
"""kg of water short that whole percents explain."""

BANDS = (Limit.LEAN, Limit.TRIM)


@dataclass(frozen=True, slots=True, eq=False)
class _Case:
    problem: Problem
    plan: Plan

    @property
    def wanted(self) -> Wanted:
        return self.problem.wanted

    @property
    def attitude(self) -> Attitude:
        return self.plan.attitude

    @property
    def boat(self) -> Boat:
        return self.plan.condition.boat

    def after(self, people: Sequence[Person], *more: Weight) -> Attitude:
        condition = replace(self.plan.condition, people=tuple(people))
        return attitude(self.boat, [*condition.weights(), *more], condition.density)

    def turn(self, x: Array, y: Array, z: Array) -> Array:
        """(k, 2): lean and trim (degrees) by 1 kg at points (k); zeros where there is no rest."""
        if self.attitude.floating.hessian is None:
            return np.zeros((len(x), 2))
        _, trim, heel = response(self.attitude.floating, 1.0, x, y, z)
        return np.degrees(np.stack((-heel, trim), axis=1))


def obstacles(problem: Problem, plan: Plan) -> tuple[Obstacle, ...]:
    """In the order in which they matter; empty where everything asked for is had."""
    case = _Case(problem, plan)
    return (*_places(case), *_limits(case), *_bands(case), *_water(case))


def _places(case: _Case) -> Iterator[Obstacle]:
    standing = sum(1 for person in case.plan.people if not person.placed)
    if standing:
        yield Obstacle(Limit.PLACES, float(standing), (Help(HelpKind.FEWER, float(standing)),))


def violations(wanted: Wanted, attitude: Attitude) -> list[tuple[Limit, float]]:
    """The limits that ``attitude`` breaks, then the bands it is out of, the furthest first."""
    bands = sorted(_out_of_band(wanted, attitude), key=lambda found: -abs(found[1]))
    return [*_broken(wanted, attitude), *bands]


def _broken(wanted: Wanted, attitude: Attitude) -> Iterator[tuple[Limit, float]]:
    found: list[tuple[Limit, float]] = []
    if not attitude.floats:
        found.append((Limit.FLOATS, 1.0))
    board, gm, lean = attitude.freeboard, attitude.floating.gm, attitude.lean
    if board is not None:
        found.append((Limit.FREEBOARD, wanted.least_freeboard - board.least))
        if wanted.least_bow is not None:
            found.append((Limit.BOW, wanted.least_bow - board.bow))
    if gm is not None and attitude.floating.status is Status.FLOATS:
        found.append((Limit.GM, max(wanted.least_gm, wanted.ample_gm or -math.inf) - gm))
    if lean is not None and wanted.most_lean is not None:
        found.append((Limit.MOST_LEAN, abs(lean) - wanted.most_lean))
    return ((limit, off) for limit, off in found if off > 0.0)


def _out_of_band(wanted: Wanted, attitude: Attitude) -> Iterator[tuple[Limit, float]]:
    bands, angles = (wanted.lean, wanted.trim), (attitude.lean, attitude.trim)
    for limit, band, angle in zip(BANDS, bands, angles, strict=True):
        if angle is not None and band.off(angle) != 0.0:
            yield limit, band.off(angle)


def _limits(case: _Case) -> Iterator[Obstacle]:
    broken_by = [*_broken(case.wanted, case.attitude)]
    if not broken_by:
        return
    fewer = _fewer(case, lambda then: _outside(case, then) == 0.0, _highest_need(case))
    for limit, off in broken_by:
        yield Obstacle(limit, off, fewer)


def _outside(case: _Case, then: Attitude) -> float:
    return broken(case.wanted, then) + crossed(case.wanted, then)


def _no_worse(case: _Case, then: Attitude) -> bool:
    return _outside(case, then) <= _outside(case, case.attitude)


def _highest_need(case: _Case) -> Array:
    """How much one kilogram less on each seat relieves the low side; the larger the better."""
    seats = case.boat.seats
    board, floating = case.attitude.freeboard, case.attitude.floating
    if board is None or floating.hessian is None or not seats:
        return np.zeros(len(seats))
    x, y, z = np.array([(seat.x, seat.y, seat.z) for seat in seats]).T
    sink, trim, heel = response(floating, 1.0, x, y, z)
    side = 1.0 if board.port <= board.starboard else -1.0
    hull = case.boat.hull
    end = hull.x_min if board.stern <= board.bow else hull.x_max
    half_beam = case.boat.beam / 2.0
    return np.asarray(sink - trim * end - side * half_beam * heel)


def _bands(case: _Case) -> Iterator[Obstacle]:
    for limit, off in _out_of_band(case.wanted, case.attitude):
        column = BANDS.index(limit)
        yield Obstacle(limit, off, (*_bag(case, column, off), *_band_fewer(case, column, off)))


def _bag(case: _Case, column: int, off: float) -> tuple[Help, ...]:
    """The lightest bag at a corner of the boat that brings the angle into its band."""
    bands = case.wanted.lean, case.wanted.trim
    x, y, z = _corners(case)
    turn = case.turn(x, y, z)
    with np.errstate(divide="ignore", invalid="ignore"):
        mass = -off / turn[:, column]
    angles = np.array([case.attitude.lean, case.attitude.trim], dtype=np.float64)
    other, band = 1 - column, bands[1 - column]
    mass = np.where((mass > 0.0) & (mass <= _heaviest(case)), mass, np.inf)
    ends = angles[other] + np.where(np.isfinite(mass), mass, 0.0) * turn[:, other]
    worse = [abs(band.off(end)) > abs(band.off(float(angles[other]))) + 1e-9 for end in ends]
    order = np.lexsort((mass, np.array(worse)))
    for i in order[:TRIES].tolist():
        if not np.isfinite(mass[i]):
            continue
        kg = _confirmed(case, bands[column], column, (x[i], y[i], z[i]), mass[i], turn[i, column])
        if kg is not None:
            return (Help(HelpKind.BAG, kg, float(x[i]), float(y[i])),)
    return ()


def _confirmed(
    case: _Case, band: Band, column: int, spot: tuple[float, float, float], mass: float,
    turn: float,
) -> float | None:  # fmt: skip
    """Whole kilograms at ``spot`` that do it without breaking a limit more than now."""
    for _ in range(TRIES):
        mass = math.ceil(mass)
        then = case.after(case.plan.people, Weight("bag", mass, *spot))
        angle = then.lean if column == 0 else then.trim
        if angle is None or mass > _heaviest(case):
            return None
        if band.holds(angle):
            return float(mass) if _no_worse(case, then) else None
        mass -= 1.02 * band.off(angle) / turn
        if mass <= 0.0:
            return None
    return None


def _heaviest(case: _Case) -> float:
    """The heaviest bag (kg) worth a thought that the maker's limit leaves room for."""
    if case.wanted.room is None:
        return HEAVIEST_BAG
    return min(HEAVIEST_BAG, case.wanted.room - case.plan.condition.ballast_mass)


def _corners(case: _Case) -> tuple[Array, Array, Array]:
    """Where bags go: the outermost seats' and tanks' breadth at the stern, amidships, the bow."""
    boat = case.boat
    spots = [(s.x, s.y) for s in boat.seats] + [(t.x, t.y) for t in boat.tanks]
    if not spots:
        ends = (0.1, 0.8)
        spots = [(boat.hull.x_min + p * boat.hull.length, 0.3 * boat.beam) for p in ends]
    along, across = np.array(spots).T
    breadth = float(np.abs(across).max())
    along_at = (float(along.min()), float(along.mean()), float(along.max()))
    points = [(x, y) for x in along_at for y in (-breadth, 0.0, breadth)]
    x, y = np.array(points).T
    return x, y, np.full(len(points), case.plan.condition.seat_height)


def _band_fewer(case: _Case, column: int, off: float) -> tuple[Help, ...]:
    seats = case.boat.seats
    if not seats:
        return ()
    band = (case.wanted.lean, case.wanted.trim)[column]
    x, y, z = np.array([(seat.x, seat.y, seat.z) for seat in seats]).T
    gain = math.copysign(1.0, off) * case.turn(x, y, z)[:, column]

    def good(then: Attitude) -> bool:
        angle = then.lean if column == 0 else then.trim
        inside = angle is not None and band.holds(angle)
        return inside and _no_worse(case, then)

    return _fewer(case, good, gain)


def _fewer(case: _Case, good: Callable[[Attitude], bool], gain: Array) -> tuple[Help, ...]:
    """The fewest people to leave one seat so that it is ``good``; driver and observer stay."""
    seats, keep = case.boat.seats, (case.problem.roles.driver, case.problem.roles.observer)
    people = case.plan.people
    on = [
        [i for i, one in enumerate(people) if one.seat == seat.id and i not in keep]
        for seat in seats
    ]
    ranked = [seat for seat in np.argsort(-gain, kind="stable").tolist() if on[seat]]
    for count in range(1, 1 + max((len(on[seat]) for seat in ranked[:TRIES]), default=0)):
        for seat in ranked[:TRIES]:
            if len(on[seat]) < count:
                continue
            gone = set(on[seat][:count])
            left = [one for i, one in enumerate(people) if i not in gone]
            if good(case.after(left)):
                return (Help(HelpKind.FEWER, float(count), seat=seat),)
    return ()


def _water(case: _Case) -> Iterator[Obstacle]:
    """Water that had no room, and water left out for the sake of limits."""
    kg, plan = case.problem.kg, case.plan
    no_room, left_out = (-float(np.array(part) @ kg) for part in (plan.for_room, plan.left_out))
    if no_room > WORTH_A_WORD:
        masses = [person.kilograms for person in plan.people]
        people: tuple[Help, ...] = ()
        if masses:
            count = math.ceil(no_room / (math.fsum(masses) / len(masses)))
            if count <= len(masses):
                people = (Help(HelpKind.FEWER, float(count)),)
        yield Obstacle(Limit.ROOM, no_room, (Help(HelpKind.MORE_ROOM, no_room), *people))
    if left_out > WORTH_A_WORD:
        yield Obstacle(Limit.WATER, left_out)
