"""The best loading by trying every one: the reference for the solver.

Every seating and every fill on a grid, judged by the same cost on the nonlinear equilibrium, which
is solved here by Newton's method for thousands of loadings in one array. No linear model, no cuts.
"""

from __future__ import annotations

import itertools
import math
from collections import Counter
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from service.advice.balance.cost import (
    BOW,
    CARRY,
    FORWARD,
    LIMIT,
    LINES,
    MIDDLE,
    MINUTE,
    MOVE,
    ODD,
    OFF,
    OVER,
    SHORT,
    SLACK,
    Task,
)
from service.advice.balance.model import Wanted
from service.advice.loading_plan import HELM
from service.advice.situation import Bag, Cargo, Occupant
from service.advice.weighing import bow_begins, standing_spot
from service.hydrostatics.hull import Hull
from service.hydrostatics.immersion import AREA, Pull, energy, immersed
from tests.advice.boats import FUEL, WATER

Array = NDArray[np.float64]
BLOCK = 256
"""Loadings judged in one array."""


@dataclass(frozen=True, slots=True)
class Found:
    """The least cost there is on the grid, and where."""

    cost: float
    aboard: tuple[Occupant, ...]
    percents: tuple[float, ...]


def seatings(cargo: Cargo) -> list[tuple[Occupant, ...]]:
    """All that differ: everybody without a place on any free seat, the seated on any or their own,

    bags by any seat but the helm or where they are. The driver stays, and somebody takes the free
    helm, from a seat only when nobody is without a place.
    """
    seats = cargo.boat.seats
    bags = [
        Bag(load.mass, x=load.x, y=load.y, z=load.z, load=number)
        for number, load in enumerate(cargo.loads)
        if load.movable
    ]
    laid = [
        [bag, *(replace(bag, seat=i, x=None, y=None) for i, s in enumerate(seats) if s.id != HELM)]
        for bag in bags
    ]
    return [(*people, *there) for people in _seated(cargo) for there in itertools.product(*laid)]


def _seated(cargo: Cargo) -> list[tuple[Occupant, ...]]:
    seats = cargo.boat.seats
    helm = next((i for i, seat in enumerate(seats) if seat.id == HELM), None)
    choices = [
        [person.seat] if person.x is not None or (person.seat == helm and helm is not None)
        else range(len(seats))
        for person in cargo.people
    ]  # fmt: skip
    taken = any(person.seat == helm for person in cargo.people) or helm is None
    driver_wanted = not taken and any(person.x is None for person in cargo.people)
    found: dict[tuple[object, ...], tuple[Occupant, ...]] = {}
    for chosen in itertools.product(*choices):
        count = Counter(seat for seat in chosen if seat is not None)
        if any(count[i] > seat.places for i, seat in enumerate(seats)):
            continue
        if driver_wanted and helm is not None and not count[helm]:
            continue
        people = tuple(
            replace(person, seat=seat) for person, seat in zip(cargo.people, chosen, strict=True)
        )
        kind = Counter(
            (before.mass, before.seat, after.seat)
            for before, after in zip(cargo.people, people, strict=True)
        )
        found.setdefault(tuple(sorted(kind.items(), key=str)), people)
    return list(found.values())


def best_on_grid(
    cargo: Cargo, wanted: Wanted, step: float, below: float = np.inf, most: int | None = None,
    firm: bool = False,
) -> Found | None:  # fmt: skip
    """The cheapest of all seatings and all fills in steps of ``step`` percent, and the asked ones.

    With ``below`` only loadings whose cost without lean and trim is less are looked at: enough to
    know whether anything is better than an answer of that cost. Of more than ``most`` loadings
    only every second, third, … seating is looked at. ``firm``: only what holds the firm limits.
    ``None`` where nothing is left.
    """
    task = Task.of(cargo, wanted, WATER, FUEL)
    levels = [
        sorted({*np.arange(0.0, most + 1e-9, step).tolist(), start, most})
        for start, most in zip(task.start.tolist(), task.most.tolist(), strict=True)
    ]
    grid = np.array(list(itertools.product(*levels))).reshape(-1 if levels else 1, len(levels))
    if wanted.room is not None:
        grid = grid[grid @ task.kg <= wanted.room + 1e-6]
    dry = (grid == 0.0).all(axis=1)
    fixed = _moments([(w.mass, w.x, w.y, w.z) for w in task.fixed])
    water = _tanks(cargo, grid)
    of_tanks = (
        SHORT * np.maximum((1.0 - wanted.spare) * task.asked - grid @ task.kg, 0.0)
        + np.abs(grid - task.start) @ task.litres
        + ODD
        * (
            (grid != 0.0)
            & (grid != np.minimum(task.most, 100.0))
            & (grid != task.most)
            & (grid != task.start)
        ).sum(axis=1)
        + MINUTE * task.minutes(grid)
        + SLACK * ((grid > 0.0) & (grid < 100.0)).sum(axis=1)
    )
    every, bow = seatings(cargo), bow_begins(cargo.boat.hull)
    stride = 1 if most is None else math.ceil(len(every) * len(grid) / most)
    every = every[::stride]
    people = np.array([_moments([_spot(person, cargo) for person in aboard]) for aboard in every])
    of_people = np.array([_of_people(aboard, task, wanted, bow) for aboard in every])
    # The cheapest first: nothing can come after one that costs less than the rest without lean.
    cheap = (of_people[:, None] + of_tanks).ravel()
    order = np.argsort(cheap)
    order = order[cheap[order] < below]
    best: Found | None = None
    for start in range(0, len(order), BLOCK):
        chosen = order[start : start + BLOCK]
        if best is not None and cheap[chosen[0]] >= best.cost:
            break
        who, fill = np.divmod(chosen, len(grid))
        limits, lines, off, middle = _judge(
            cargo.boat.hull, wanted, water[fill] + people[who] + fixed
        )
        cost = cheap[chosen] + OFF * off + MIDDLE * middle
        cost += LIMIT * (limits + (limits > 0.0)) + LINES * LIMIT * lines + OVER * (lines > 0.0)
        cost[(limits > 0.0) & (firm | ~dry[fill])] = np.inf
        least = int(np.argmin(cost))
        if cost[least] < (best.cost if best else np.inf):
            best = Found(float(cost[least]), every[who[least]], tuple(grid[fill[least]].tolist()))
    return best


def _of_people(aboard: tuple[Occupant, ...], task: Task, wanted: Wanted, bow: float) -> float:
    """What it costs who was moved and who sits in the bow."""
    cargo = task.cargo
    forward = sum(
        person.mass
        for person in aboard
        if not isinstance(person, Bag) and _spot(person, cargo)[1] > bow
    )
    no_worry = math.inf if wanted.most_forward is None else wanted.most_forward
    return FORWARD * max(forward - no_worry, 0.0) + sum(
        (CARRY if isinstance(before, Bag) else MOVE) * (before.placed and before != after)
        + BOW * (after.seat is not None and cargo.boat.seats[after.seat].x > bow)
        for before, after in zip(task.aboard, aboard, strict=True)
    )


def _spot(person: Occupant, cargo: Cargo) -> tuple[float, float, float, float]:
    if person.seat is not None:
        seat = cargo.boat.seats[person.seat]
        return person.mass, seat.x, seat.y, person.z if isinstance(person, Bag) else seat.z
    if isinstance(person, Bag):
        return person.mass, person.x or 0.0, person.y or 0.0, person.z
    if person.x is not None and person.y is not None:
        return person.mass, person.x, person.y, cargo.seat_height
    return person.mass, *standing_spot(cargo)


def _moments(weights: list[tuple[float, float, float, float]]) -> Array:
    """(5): mass, its moments in x, y, z, free surfaces."""
    out = np.zeros(5)
    for mass, x, y, z in weights:
        out += mass * np.array([1.0, x, y, z, 0.0])
    return out


def _tanks(cargo: Cargo, grid: Array) -> Array:
    """(k, 5) of the water: box-shaped tanks, ρ i of the free surface where part-filled."""
    out = np.zeros((len(grid), 5))
    for number, tank in enumerate(cargo.boat.tanks):
        fill = grid[:, number] / 100.0
        mass = WATER * tank.capacity * fill
        area = tank.length * tank.width
        drop = tank.capacity / area * (1.0 - np.minimum(fill, 1.0)) / 2.0 if area else 0.0 * fill
        out[:, 0] += mass
        out[:, 1] += mass * tank.x
        out[:, 2] += mass * tank.y
        out[:, 3] += mass * (tank.z - drop)
        slack = (fill > 0.0) & (fill < 1.0)
        out[:, 4] += slack * WATER * tank.length * tank.width**3 / 12.0
    return out


def _judge(hull: Hull, wanted: Wanted, sums: Array) -> tuple[Array, Array, Array, Array]:
    """Firm limits and lines broken (m), half bands off and from the middle, as in the cost."""
    mass = sums[:, 0]
    x, y, z, rise = (sums[:, 1:] / mass[:, None]).T
    c, trim, heel, gm, found = _newton(hull, np.stack([mass / WATER, x, y, z, rise]))
    good = found == 1.0
    level = np.sin(trim)[:, None] * hull.sheer[:, 0] - c[:, None]
    level = level + (np.cos(trim) * np.cos(heel))[:, None] * hull.sheer[:, 2]
    tilt = (np.cos(trim) * np.sin(heel))[:, None] * hull.sheer[:, 1]
    both = np.minimum(level + tilt, level - tilt)
    lean = -np.degrees(heel)
    under = np.maximum(wanted.least_freeboard - both.min(axis=1), 0.0)
    lines = np.zeros_like(under)
    if wanted.least_bow is not None:
        lines += np.maximum(wanted.least_bow - both[:, -1], 0.0)
    if wanted.most_lean is not None:
        lines += 0.01 * np.maximum(np.abs(lean) - wanted.most_lean, 0.0)
    if wanted.ample_gm is not None:
        lines += np.maximum(wanted.ample_gm - gm, 0.0)
    flat = gm <= wanted.least_gm
    under = np.where(flat, under + np.maximum(wanted.least_gm - gm, 1e-6), under)
    under = np.where(good & (both.min(axis=1) > -1e-9), under, 10.0 + under)
    from_lean = np.abs(lean - wanted.lean.wanted) / wanted.lean.either_side
    from_trim = np.abs(np.degrees(trim) - wanted.trim.wanted) / wanted.trim.either_side
    off = np.maximum(from_lean - 1.0, 0.0) + np.maximum(from_trim - 1.0, 0.0)
    return under, lines, off, from_lean + from_trim


def _newton(hull: Hull, loads: Array) -> Array:
    """Sinkage, trim, heel, GM and 1 where found: (5, k), for ``loads``, (5, k) of volume, centre
    and free surfaces. Those that have converged drop out on the way.
    """
    state = np.zeros((3, loads.shape[1]))
    state[0] = np.interp(loads[0], hull.below[:, AREA, 0], hull.levels)
    found = np.zeros((5, loads.shape[1]))
    active = np.arange(loads.shape[1])
    for _ in range(25):  # of 17,000 that are found, none takes more than 22
        c, trim, heel = now = state[:, active]
        turned = (c, np.sin(trim), np.cos(trim), np.sin(heel), np.cos(heel))
        sums = immersed(hull, *turned)
        volume, x, y, z, rise = loads[:, active]
        pull = Pull(volume, x, y, z, rise)
        at = energy(list(np.moveaxis(sums, 0, -1)), pull, y, *turned)
        slope = np.stack([at.g_c, at.g_t, at.g_f], axis=-1)
        rows = [
            [at.h_cc, at.h_ct, at.h_cf],
            [at.h_ct, at.h_tt, at.h_tf],
            [at.h_cf, at.h_tf, at.h_ff],
        ]
        hessian = np.moveaxis(np.array(rows), -1, 0)
        step = -np.linalg.solve(hessian, slope[..., None])[..., 0]
        size = np.abs(step * [1.0, hull.length, hull.length]).max(axis=1)
        state[:, active] = now + step.T * np.minimum(1.0, 0.3 / (size + 1e-12))
        done = size < 1e-7
        if done.any():
            gm = 1.0 / np.linalg.inv(hessian[done])[:, 2, 2] / (volume * np.cos(trim))[done]
            stable = np.linalg.eigvalsh(hessian[done])[:, 0] > 0.0
            found[:, active[done]] = *state[:, active[done]], gm, stable
            active = active[~done]
        if not len(active):
            break
    return found
