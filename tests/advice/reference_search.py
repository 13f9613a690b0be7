"""The best loading by trying every one: the reference for the solver.

Every seating, and every fill in steps, judged on the nonlinear equilibrium, which is solved here by
Newton's method for thousands of loadings in one array. The cost is written down again from what
:mod:`service.advice.balance.problem` says it is. No linear model, no search.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from service.advice.balance.model import Practice, Wanted
from service.advice.crew import CrewRoles, settle_roles
from service.advice.loading_condition import LoadingCondition, amid_seats, bow_begins
from service.advice.requests import Person
from service.boats.model import Seat, SeatRole
from service.hydrostatics.hull import Hull
from service.hydrostatics.immersion import AREA, Pull, energy, immersed
from service.hydrostatics.weights import Weight

Array = NDArray[np.float64]
BLOCK = 256
"""Loadings judged in one array."""
METRE = 4e3
"""kg of water that a metre under a firm limit costs while people are seated, as documented;"""
LINE = 0.3 * METRE
"""and under another one."""
CROWD = 1e6
ALONE = 1e5
STANDING = 1e4
MOVE = 10.0
OWN, STANDS = -1, -2
"""In place of a seat's index: at a place of their own, or amid the seats."""


@dataclass(frozen=True, slots=True)
class Judged:
    """Of many loadings, each (k): degrees, and metres under the firm and the other limits."""

    lean: Array
    trim: Array
    firm: Array
    lines: Array

    def off(self, wanted: Wanted) -> Array:
        """(2, k): lean and trim in half-bands from what is wanted."""
        return np.stack(
            [
                np.abs(angle - band.wanted) / band.either_side
                for angle, band in ((self.lean, wanted.lean), (self.trim, wanted.trim))
            ]
        )

    def degrees(self, wanted: Wanted) -> Array:
        return np.abs(self.lean - wanted.lean.wanted) + np.abs(self.trim - wanted.trim.wanted)

    def angles(self, wanted: Wanted) -> Array:
        """What lean and trim cost (kg of water)."""
        practice = wanted.practice
        beyond = np.maximum(self.off(wanted) - practice.soft, 0.0)
        return np.asarray(practice.edge * (beyond**2).sum(axis=0))


@dataclass(frozen=True, slots=True)
class Crew:
    """Every seating: ``rows`` (k, people) of seats' indices, ``moved`` (k) of those given seats."""

    rows: list[tuple[int, ...]]
    moved: Array


def seatings(found: LoadingCondition, wanted: Wanted) -> Crew:
    """All that differ, driver and observer in their places, nobody on a seat that is no use."""
    seats, people, practice = found.boat.seats, found.people, wanted.practice
    roles = settle_roles(found, practice.crew)
    index = {seat.id: n for n, seat in enumerate(seats)}
    home = [OWN if p.x is not None else STANDS if p.seat is None else index[p.seat] for p in people]
    choices = _choices(found, practice, roles, home)
    given = [i for i, at in enumerate(home) if at in choices[i] and at >= 0]
    known: dict[tuple[object, ...], tuple[tuple[int, ...], int]] = {}
    for row in itertools.product(*choices):
        if any(row.count(n) > seat.places for n, seat in enumerate(seats)):
            continue
        kinds = sorted((p.mass, p.age, h, at) for p, h, at in zip(people, home, row, strict=True))
        moved = sum(row[i] != home[i] for i in given)
        known.setdefault(tuple(kinds), (row, moved))
    rows = [row for row, _ in known.values()]
    return Crew(rows, np.array([moved for _, moved in known.values()], dtype=np.float64))


def _settled(
    found: LoadingCondition, roles: CrewRoles, home: list[int]
) -> tuple[list[int], set[int], list[int]]:
    """Seats once driver and observer have theirs, who of them has, and where one may watch."""
    seats, at, fixed = found.boat.seats, list(home), set[int]()
    if (driver := roles.driver) is not None:
        wheel = [n for n, seat in enumerate(seats) if seat.role is SeatRole.DRIVER]
        if at[driver] != OWN and at[driver] not in wheel and wheel:
            others = [i for i, n in enumerate(at) if n == wheel[0] and i != driver]
            if len(others) >= seats[wheel[0]].places:
                at[others[0]] = STANDS
            at[driver] = wheel[0]
        fixed.add(driver)
    inside = found.boat.hull.x_min
    watch = [n for n, seat in enumerate(seats) if seat.can_watch and seat.x > inside]
    if (observer := roles.observer) is not None:
        own = [n for n in watch if seats[n].role is SeatRole.OBSERVER]
        free = [n for n in own if at.count(n) < seats[n].places]
        if at[observer] != OWN and at[observer] not in watch and free:
            at[observer] = free[0]
        if at[observer] == OWN or at[observer] in watch:
            fixed.add(observer)
    return at, fixed, watch


def _choices(
    found: LoadingCondition, practice: Practice, roles: CrewRoles, home: list[int]
) -> list[list[int]]:
    """For each person the seats, in the order of preference of driver and observer."""
    seats, people, rules = found.boat.seats, found.people, practice.crew
    inside = [n for n, seat in enumerate(seats) if seat.x > found.boat.hull.x_min]
    at, fixed, watch = _settled(found, roles, home)
    choices: list[list[int]] = [[] for _ in people]
    if roles.observer is not None and roles.observer not in fixed:
        choices[roles.observer] = watch
    grown_in_bow = any(map(rules.is_adult, found.bow_people()))
    forward = bow_begins(found.boat.hull)
    for i, person in enumerate(people):
        if i in fixed or at[i] == OWN:
            choices[i] = [at[i]]
        elif not choices[i]:
            choices[i] = [
                n
                for n in inside
                if seats[n].role is not SeatRole.DRIVER
                or (roles.driver is not None and not rules.is_child(person))
            ]
            alone = rules.is_child(person) and at[i] >= 0 and seats[at[i]].x > forward
            if at[i] >= 0 and at[i] not in choices[i] and not (alone and not grown_in_bow):
                choices[i].append(at[i])
    return [chosen or [STANDS] for chosen in choices]


def seating_costs(
    found: LoadingCondition, wanted: Wanted, rows: list[tuple[int, ...]], start: Array
) -> tuple[Array, Judged]:
    """(k): the cost of each seating (kg of water) with ``start`` (percents) in the tanks."""
    practice, seats, people = wanted.practice, found.boat.seats, found.people
    order = dict(practice.seat_cost)
    fixed = moments(
        [*found.lightship(), *_loads(found), *found.water_weights((start / 100.0).tolist())]
    )
    sums = np.array([fixed + _people(found, row) for row in rows])
    judge = judged(found.boat.hull, wanted, sums)
    seated = [
        _bow_and_children(found, practice, row)
        + sum(order[seats[at].role] for at in row if at >= 0)
        + STANDING * row.count(STANDS)
        for row in rows
    ]
    assert len(people) == len(rows[0])
    return (
        judge.angles(wanted)
        + practice.pull * (judge.off(wanted) ** 2).sum(axis=0)
        + METRE * judge.firm
        + LINE * judge.lines
        + np.array(seated)
    ), judge


def _bow_and_children(found: LoadingCondition, practice: Practice, row: tuple[int, ...]) -> float:
    """People too many in the bow, and children apart (kg of water)."""
    rules, begins = practice.crew, bow_begins(found.boat.hull)
    spots = [_spot(found, person, at) for person, at in zip(found.people, row, strict=True)]
    forward = [
        p for p, at, spot in zip(found.people, row, spots, strict=True)
        if spot[0] > begins and at != STANDS
    ]  # fmt: skip
    mass = sum(person.kilograms for person in forward)
    total = CROWD * max(mass - practice.bow_mass, 0.0)
    total += CROWD * max(len(forward) - practice.bow_people, 0)
    total += practice.bow_worry * max(mass - practice.no_worry, 0.0)
    adults = [
        spot[:2] for p, at, spot in zip(found.people, row, spots, strict=True)
        if rules.is_adult(p) and at != STANDS
    ]  # fmt: skip
    alone = not any(map(rules.is_adult, forward))
    for person, at, spot in zip(found.people, row, spots, strict=True):
        if at >= 0 and rules.is_child(person):
            near = any(math.dist(spot[:2], adult) <= rules.beside_child for adult in adults)
            total += (0.0 if near else practice.child_apart) + ALONE * (spot[0] > begins and alone)
    return total


def every_move(found: LoadingCondition, level: Array, step: float, most: Array) -> Array:
    """(k, tanks): ``level`` after each pair of moves across and fore and aft, as documented.

    Across: out of the off side; the other way into the off side up to the surf side's level and
    then out of the surf side. A tank counts for a move with at least half the longest lever there.
    """
    hull, tanks = found.boat.hull, found.boat.tanks
    middle = hull.x_min + 0.4 * hull.length
    off, surf = (_far([side * tank.y for tank in tanks]) for side in (-1, 1))
    aft, fore = (_far([side * (tank.x - middle) for tank in tanks]) for side in (-1, 1))
    steps = range(int(np.ceil(max(most) / step)) + 1)
    full = max((level[i] for i in surf), default=0.0)
    sideways = [_less(level, off, n * step) for n in steps]
    into = 0.0
    up = max([full - level[i] for i in off] + [0.0])
    while off and into < up - 1e-9:
        into += step
        row = level.copy()
        for i in off:
            row[i] = min(row[i] + min(into, up), max(full, level[i]), most[i])
        sideways.append(row)
    sideways += [_less(sideways[-1], surf, n * step) for n in steps]
    rows = [
        _less(row, tanks_less, n * step) for row in sideways for tanks_less in (aft, fore)
        for n in steps
    ]  # fmt: skip
    return np.unique(np.array(rows), axis=0)


def _far(levers: list[float]) -> list[int]:
    longest = max(levers, default=0.0)
    return [i for i, lever in enumerate(levers) if longest > 0.05 and lever >= 0.5 * longest]


def _less(row: Array, tanks: list[int], percent: float) -> Array:
    row = row.copy()
    row[tanks] = np.maximum(row[tanks] - percent, 0.0)
    return row


def water_costs(
    found: LoadingCondition, wanted: Wanted, rows: Array, level: Array
) -> tuple[Array, Judged]:
    """(k): what fills (percent) cost that balance ``level`` (kg of water), ``found`` seated."""
    tanks = found.boat.tanks
    kg = WATER_PERCENT * found.density * np.array([tank.capacity for tank in tanks])
    fixed = moments([*found.lightship(), *_loads(found), *found.people_weights(found.people)])
    judge = judged(found.boat.hull, wanted, fixed + _tanks(found, rows))
    off, surf = (_far([side * tank.y for tank in tanks]) for side in (-1, 1))
    wrong = np.zeros(len(rows))
    if off and surf:
        parts = [rows[:, side] @ kg[side] / kg[side].sum() for side in (off, surf)]
        wrong = np.maximum(parts[0] - parts[1], 0.0) * kg[surf].sum()
    return judge.angles(wanted) + np.abs(rows - level) @ kg + wrong, judge


WATER_PERCENT = 0.01


def on_rows(found: LoadingCondition, row: tuple[int, ...]) -> tuple[Person, ...]:
    """The people on these seats."""
    seats = found.boat.seats
    return tuple(
        person.on(seats[at].id) if at >= 0 else person
        for person, at in zip(found.people, row, strict=True)
    )


def row_of(found: LoadingCondition, people: tuple[Person, ...]) -> tuple[int, ...]:
    """The seats' indices of these people."""
    index = {seat.id: n for n, seat in enumerate(found.boat.seats)}
    return tuple(
        OWN if p.x is not None else STANDS if p.seat is None else index[p.seat] for p in people
    )


def moments(weights: list[Weight]) -> Array:
    """(5): mass, its moments in x, y, z, free surfaces."""
    out = np.zeros(5)
    for one in weights:
        out += [one.mass, *(one.mass * at for at in (one.x, one.y, one.z)), one.free_surface]
    return out


def _loads(found: LoadingCondition) -> list[Weight]:
    return [Weight(load.name, load.mass, load.x, load.y, load.z) for load in found.loads]


def _spot(found: LoadingCondition, person: Person, at: int) -> tuple[float, float, float]:
    if at >= 0:
        seat: Seat = found.boat.seats[at]
        return seat.x, seat.y, seat.z
    if at == OWN:
        return person.x or 0.0, person.y or 0.0, found.seat_height
    return amid_seats(found.boat)


def _people(found: LoadingCondition, row: tuple[int, ...]) -> Array:
    return moments(
        [
            Weight("one", person.kilograms, *_spot(found, person, at))
            for person, at in zip(found.people, row, strict=True)
        ]
    )


def _tanks(found: LoadingCondition, grid: Array) -> Array:
    """(k, 5) of the water: box-shaped tanks, ρ i of the free surface where part-filled."""
    out = np.zeros((len(grid), 5))
    for number, tank in enumerate(found.boat.tanks):
        fill = grid[:, number] / 100.0
        mass = found.density * tank.capacity * fill
        area = tank.length * tank.width
        drop = tank.capacity / area * (1.0 - np.minimum(fill, 1.0)) / 2.0 if area else 0.0 * fill
        out[:, 0] += mass
        out[:, 1] += mass * tank.x
        out[:, 2] += mass * tank.y
        out[:, 3] += mass * (tank.z - drop)
        slack = (fill > 0.0) & (fill < 1.0)
        out[:, 4] += slack * found.density * tank.length * tank.width**3 / 12.0
    return out


def judged(hull: Hull, wanted: Wanted, sums: Array) -> Judged:
    """The attitude with these sums (k, 5), and by how much each breaks the limits."""
    parts = [_judge(hull, wanted, sums[n : n + BLOCK]) for n in range(0, len(sums), BLOCK)]
    return Judged(*(np.concatenate(of_all) for of_all in zip(*parts, strict=True)))


def _judge(hull: Hull, wanted: Wanted, sums: Array) -> tuple[Array, Array, Array, Array]:
    mass = sums[:, 0]
    x, y, z, rise = (sums[:, 1:] / mass[:, None]).T
    c, trim, heel, gm, found = _newton(hull, np.stack([mass / 998.0, x, y, z, rise]))
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
    return lean, np.degrees(trim), under, lines


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


def seated(found: LoadingCondition, people: tuple[Person, ...]) -> LoadingCondition:
    return replace(found, people=people)
