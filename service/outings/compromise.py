"""One set-up for several riders: as near to each one's own numbers as the limits allow.

Least summed squared departure, number by number: for speed, plates and fills that is the mean.
Where the mean breaks a limit for any rider the fills are the nearest that do not: the limits are
linearised where they are broken worst, as often as needed (Kelley's cutting planes).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import LinearConstraint, minimize

from service.advice.assembly import KMH
from service.advice.wanted import water_wanted
from service.boats.model import Side
from service.outings.requests import Mode
from service.outings.setups import Opened, Origin, Turn, as_set, concluded, opened, own_turn
from service.outings.trip import Trip

Array = NDArray[np.float64]

CUTS = 8
CLEAR = 0.001
"""Metres that the linear model stays clear of the limits; rounding to whole percent needs it."""
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
    found = _within_limits(trip, cases, fills.mean(axis=0) if tanks else np.zeros(0))
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
    """The fills (whole percent) nearest to ``mean`` that hold the limits whoever is off."""
    tanks = cases[0].case.condition.boat.tanks
    most = np.array([tank.max_fill for tank in tanks])
    rooms = [case.aim.room for case in cases if case.aim.room is not None]
    cuts: list[tuple[Array, float]] = []
    if rooms:
        litres = np.array([tank.capacity for tank in tanks])
        cuts.append((-litres, -max(min(rooms), 0.0) / trip.seen.density))
    at = _nearest(mean, cuts, most)
    for _ in range(CUTS):
        margins = [_margin(trip, case, at) for case in cases]
        worst = int(np.argmin(margins))
        if margins[worst] >= 0.0:
            break
        slope = _slope(trip, cases[worst], at, margins[worst])
        cuts.append((slope, float(slope @ at) - margins[worst] + CLEAR))
        at = _nearest(mean, cuts, most)
    found = _whole(at) if rooms or len(cuts) > 0 else np.round(at, 2)
    while found.any() and min(_margin(trip, case, found) for case in cases) < 0.0:
        found = np.maximum(found - 0.01, 0.0).round(2)
    return found


def _whole(fills: Array) -> Array:
    return np.floor(100.0 * fills + 1e-6) / 100.0


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
