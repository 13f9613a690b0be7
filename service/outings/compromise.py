"""One set-up for several riders: as near to each one's own numbers as the limits allow.

Least summed squared departure, number by number: for speed, plates and fills that is the mean.
Fills are in steps that gauges show. Where those nearest to the mean break a limit for any rider
they are the nearest that do not: the limits are linearised where they are broken worst, as often as
needed (Kelley's cutting planes), and the steps about that point are put to the hydrostatics.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import LinearConstraint, minimize

from service.advice.assembly import KMH
from service.advice.balance.problem import Problem, in_steps, most_of
from service.advice.balance.water import Water
from service.advice.wanted import water_wanted
from service.boats.model import Side
from service.outings.below_a_step import left_alone
from service.outings.requests import Mode
from service.outings.setups import Opened, Origin, Turn, as_set, concluded, opened, own_turn
from service.outings.trip import Trip

Array = NDArray[np.float64]

CUTS = 8
TRIED = 60
"""Fills put to the hydrostatics, at most."""
FEW, MANY = 5, 10
"""Tanks up to which three steps about each are looked at, and up to which two are."""
DEGREE = 0.01
"""A degree of lean counts as a centimetre of freeboard."""


@dataclass(frozen=True, slots=True)
class Compromise:
    """The turns with the common set-up, beside what each rider's own would be on that side.

    ``other_side``: riders who would rather have the other side.
    """

    turns: tuple[Turn, ...]
    own: tuple[Turn, ...]
    other_side: tuple[bool, ...]


def compromise(trip: Trip, fuel: float) -> Compromise:
    """One set-up for all riders, or one for each side, as the request says."""
    one = trip.request.mode is Mode.ONE_FOR_ALL
    side = _side_of_most(trip.sides) if one else None
    riders = range(len(trip.riders))
    own = [own_turn(trip, rider, fuel, side) for rider in riders]
    turns = dict[int, Turn]()
    for group in Side:
        those = [turn for turn in own if turn.side is group]
        if those:
            turns |= {turn.rider: turn for turn in _of_one_side(trip, those, fuel, group)}
    return Compromise(
        tuple(turns[rider] for rider in riders),
        tuple(own),
        tuple(one and trip.sides[rider] is not side for rider in riders),
    )


def _side_of_most(sides: Sequence[Side]) -> Side:
    """That of most riders; of equally many that of the first in the list."""
    return max(sides, key=lambda side: (sides.count(side), side is sides[0]))


def _of_one_side(trip: Trip, own: Sequence[Turn], fuel: float, side: Side) -> list[Turn]:
    cases = [opened(trip, turn.rider, fuel, side) for turn in own]
    speed = round(_mean([turn.setup.speed / KMH for turn in own]), 1) * KMH
    plates = {
        name: _mean_plate([getattr(turn.setup, f"{name}_plate") for turn in own])
        for name in ("centre", "port", "starboard")
    }
    # In the surf frame, where a mirrored outing has the very same numbers.
    tanks = [tank.id for tank in cases[0].case.condition.boat.tanks]
    fills = np.array([turn.plan.fills for turn in own])
    found = _within_limits(trip, cases, fills.mean(axis=0)) if tanks else np.zeros(0)
    condition, aim = cases[0].case.condition, cases[0].aim
    room = max(_room(trip, cases), condition.water_mass(found.tolist()) / trip.seen.density)

    def holds(fills: Sequence[float]) -> bool:
        litres = condition.water_mass(fills) / trip.seen.density
        return litres <= room + 1e-9 and _least_margin(trip, cases, np.array(fills)) >= 0.0

    found = np.array(left_alone(trip, condition, aim, found.tolist(), holds))
    common = dict(zip(tanks, found.tolist(), strict=True))
    return [
        concluded(
            trip, case, as_set(case, common), Origin.COMPROMISE, water_wanted(case.case),
            speed, plates,
        )
        for case in cases
    ]  # fmt: skip


def _mean(values: Sequence[float]) -> float:
    return math.fsum(values) / len(values)


def _mean_plate(travels: Sequence[float | None]) -> float | None:
    known = [travel for travel in travels if travel is not None]
    return round(_mean(known), 2) if known else None


def _within_limits(trip: Trip, cases: Sequence[Opened], mean: Array) -> Array:
    """The fills (whole steps) nearest to ``mean`` that hold the limits whoever is off."""
    aim, tanks = cases[0].aim, cases[0].case.condition.boat.tanks
    step = 100.0 * aim.practice.step
    most = most_of(tanks, step) / 100.0
    litres, room = np.array([tank.capacity for tank in tanks]), _room(trip, cases)
    found = in_steps(tanks, mean.tolist(), step) / 100.0
    if litres @ found <= room and _least_margin(trip, cases, found) >= 0.0:
        return found
    cuts = [] if math.isinf(room) else [(-litres, -room)]
    at = _nearest(mean, cuts, most)
    for _ in range(CUTS):
        margins = [_margin(trip, case, at) for case in cases]
        worst = int(np.argmin(margins))
        if margins[worst] >= 0.0:
            break
        slope = _slope(trip, cases[worst], at, margins[worst])
        cuts.append((slope, float(slope @ at) - margins[worst]))
        at = _nearest(mean, cuts, most)
    rows = _steps_about(at, step / 100.0, most)
    rows = rows[rows @ litres <= room + 1e-9]
    water = Water(Problem.of(cases[0].case.condition, aim))
    wrong = [water.on_the_wrong_side(100.0 * each) for each in (rows, found)]
    rows = rows[wrong[0] <= wrong[1] + 1e-6]
    rows = rows[np.argsort(((rows - mean) ** 2).sum(axis=1), kind="stable")]
    for row in rows[:TRIED]:
        if _least_margin(trip, cases, row) >= 0.0:
            return np.asarray(row)
    found = np.floor(at / step * 100.0 + 1e-6) * step / 100.0
    while found.any() and _least_margin(trip, cases, found) < 0.0:
        found = np.maximum(found - step / 100.0, 0.0)
    return np.asarray(found)


def _room(trip: Trip, cases: Sequence[Opened]) -> float:
    """m³ of water that there is room for whoever is off."""
    rooms = [case.aim.room for case in cases if case.aim.room is not None]
    return max(min(rooms), 0.0) / trip.seen.density if rooms else math.inf


def _steps_about(at: Array, step: float, most: Array) -> Array:
    """(k, tanks): fills in whole steps about ``at``."""
    beside = (-1, 0, 1) if len(at) <= FEW else (0, 1)
    floor = np.floor(at / step + 1e-6)
    if len(at) > MANY:
        return floor[None] * step
    every = np.array([*itertools.product(beside, repeat=len(at))])
    return np.unique(np.clip((floor + every) * step, 0.0, most).round(9), axis=0)


def _least_margin(trip: Trip, cases: Sequence[Opened], fills: Array) -> float:
    """That of the rider for whom it is least; the first below 0 will do."""
    least = math.inf
    for case in cases:
        least = min(least, _margin(trip, case, fills))
        if least < 0.0:
            break
    return least


def _nearest(mean: Array, cuts: Sequence[tuple[Array, float]], most: Array) -> Array:
    """Least squares under ``slope · x >= least`` for each cut."""
    if all(slope @ mean >= least - 1e-12 for slope, least in cuts):
        return mean

    def departure(x: Array) -> float:
        return float((x - mean) @ (x - mean))

    def slope_of(x: Array) -> Array:
        return np.asarray(2.0 * (x - mean))

    found = minimize(
        departure, np.minimum(mean, most), jac=slope_of, method="SLSQP",
        bounds=list(zip(np.zeros(len(most)).tolist(), most.tolist(), strict=True)),
        constraints=[LinearConstraint(slope, least, np.inf) for slope, least in cuts],
        tol=1e-12,
    )  # fmt: skip
    return np.asarray(np.clip(found.x, 0.0, most))


def _margin(trip: Trip, case: Opened, fills: Array) -> float:
    """Metres from the nearest limit, negative beyond it."""
    ids = [tank.id for tank in case.case.condition.boat.tanks]
    attitude = as_set(case, dict(zip(ids, fills.tolist(), strict=True))).attitude
    board, lean, gm = attitude.freeboard, attitude.lean, attitude.floating.gm
    if not attitude.floats or board is None or lean is None or gm is None:
        return -1.0
    most = trip.base.number("attitude.lean_caution")
    return min(board.least - case.aim.least_freeboard, DEGREE * (most - abs(lean)), gm)


def _slope(trip: Trip, case: Opened, fills: Array, margin: float) -> Array:
    """Change of the margin with each fill, by a step of 2 % towards less water."""
    step = 0.02
    slope = np.zeros(len(fills))
    for tank in range(len(fills)):
        there = fills.copy()
        there[tank] -= step if fills[tank] >= step else -step
        slope[tank] = (_margin(trip, case, there) - margin) / (there[tank] - fills[tank])
    return slope


def water_moved(one: Mapping[str, float], other: Mapping[str, float]) -> float:
    """Sum of the differences of two sets of volumes."""
    return math.fsum(abs(one[tank] - other[tank]) for tank in one)
