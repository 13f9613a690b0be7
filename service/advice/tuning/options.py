"""All ways of carrying a move out that are worth weighing: how far, by whom, with which tank.

Each says where the levers would be after it, to first order and in the units of
``rules/tuning/levers.yaml``, so that hundreds can be weighed before one is worked out in full.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from rules.tuning import TuningBase
from service.advice.balance.way import put
from service.advice.loading_condition import Attitude
from service.advice.tuning.answer import Change
from service.advice.tuning.moves import (
    Aim,
    alike,
    all_tanks,
    change_of,
    change_people,
    in_bow,
    one_tank,
    people_moves,
    steps,
    turns_of,
)
from service.advice.tuning.run import Run

Array = NDArray[np.float64]

SPEEDS = 0.1
"""km/h, the finest step of a driver's GPS."""
PLATES = 5.0
"""Percent: plates go in steps of five."""
LEAST_TURN = 0.1
"""Degrees; a move of weight that turns the boat less than this the wanted way is none."""


@dataclass(frozen=True, slots=True)
class Option:
    """One change, not worked out yet. ``moved``: by how much each lever moves, in its own terms.

    ``people`` who change seats and ``pumps`` that run are what it takes.
    """

    moved: Mapping[str, float]
    make: Callable[[], Change]
    people: int = 0
    pumps: int = 0

    def position(self, now: Array, tuning: TuningBase) -> Array:
        """Where the levers are after it, in units of each."""
        by = [self.moved.get(name, 0.0) / lever.unit for name, lever in tuning.levers.items()]
        position: Array = now + np.array(by)
        return position


def options(run: Run, tuning: TuningBase, aim: Aim, attitude: Attitude) -> Iterator[Option]:
    """Every option for a move of a lever of ``levers.yaml``, none further than :func:`longest`."""
    lever = aim.move.lever
    if aim.move.name == "off_side_water_out":
        size = steps(tuning, "side", aim.strength, "water_step") * aim.half
        yield from _off_side(run, aim, attitude, size)
    elif lever == "speed":
        yield from _speeds(run, tuning, aim)
    elif lever in ("centre_plate", "off_side_plate"):
        yield from _plates(run, tuning, aim)
    elif lever == "total":
        yield from _totals(run, tuning, aim, attitude)
    else:
        way = 1.0 if aim.move.name in ("to_surf_side", "aft") else -1.0
        over = run.lean_over(attitude) if lever == "side" else run.bow_over(attitude)
        most = longest(tuning, aim, lever, -way * (over or 0.0))
        for option in (*_people(run, aim, attitude), *_tanks(run, tuning, aim, attitude)):
            if LEAST_TURN < way * option.moved[lever] <= most:
                yield option


def longest(tuning: TuningBase, aim: Aim, topic: str, short: float) -> float:
    """How far a change may go at once: a step, or to the advised setting where that is ``short``.

    Where the sign is slight, a step only. The more settings were looked at, the more is known, and
    the more steps it may be.
    """
    step = steps(tuning, topic, aim.strength) * aim.settings
    return (step if aim.strength == "slight" else max(step, short)) * aim.half


def _reach(step: float, most: float, way: float) -> list[float]:
    """One step, two steps … that way, up to ``most``; at least one."""
    return [way * step * n for n in range(1, max(int(most / step + 1e-9), 1) + 1)]


def _speeds(run: Run, tuning: TuningBase, aim: Aim) -> Iterator[Option]:
    low, high = (run.base.number(f"speed.{name}") for name in ("least", "most"))
    now, way = run.state.speed, 1.0 if aim.move.name == "faster" else -1.0
    short = way * (run.advised.speed - now)
    for by in _reach(SPEEDS, longest(tuning, aim, "speed", short), way):
        goal = round(now + by, 1)
        if low <= goal <= high:
            yield Option(
                {"speed": goal - now},
                partial(change_of, run, aim, "speed", "speed", now, goal, speed=goal),
            )


def _plates(run: Run, tuning: TuningBase, aim: Aim) -> Iterator[Option]:
    kind = aim.move.lever
    centre, way = kind == "centre_plate", 1.0 if aim.move.name.endswith("_down") else -1.0
    now, advised = ((s.centre if centre else s.off_side) for s in (run.state, run.advised))
    if now is None or advised is None:
        return
    lever = "plates.centre" if centre else f"plates.{run.side.other}"
    most = 100.0 if centre else run.base.number("off_side_plate.most")
    tried = {now}
    for by in _reach(PLATES, longest(tuning, aim, "plates", way * (advised - now)), way):
        goal = float(round(min(max(now + by, 0.0), max(most, now))))
        if goal in tried:
            continue
        tried.add(goal)
        to = replace(run.state, centre=goal) if centre else replace(run.state, off_side=goal)
        make = partial(change_of, run, aim, lever, "percentage", now, goal, state=to)
        yield Option({kind: goal - now}, make)


def _people(run: Run, aim: Aim, attitude: Attitude) -> Iterator[Option]:
    for origin, goal, count, turn in people_moves(run, attitude):
        make = partial(change_people, run, aim, origin, goal, count)
        yield Option(_turned(turn), make, people=count + (1 if in_bow(run, goal) else 0))


def _tanks(run: Run, tuning: TuningBase, aim: Aim, attitude: Attitude) -> Iterator[Option]:
    """One tank by a step of the total, up to the step for the strength of the sign."""
    table = tuning.rules.parameters["tuning_total.step"].value
    assert isinstance(table, Mapping)  # noqa: S101  # the topic file says so
    most = steps(tuning, "total", aim.strength)
    for size in sorted({size for size in table.values() if size <= most}):
        for number, tank in enumerate(run.condition.boat.tanks):
            fill = run.state.fills[number]
            full = float(math.floor(100 * tank.max_fill + 1e-9))
            for goal in (max(fill - size * aim.half, 0.0), min(fill + size * aim.half, full)):
                yield from _tank(run, aim, attitude, number, float(round(goal)))


def _off_side(run: Run, aim: Aim, attitude: Attitude, size: float) -> Iterator[Option]:
    for number, tank in enumerate(run.condition.boat.tanks):
        if tank.y < 0:
            goal = max(run.state.fills[number] - size, 0.0)
            yield from _tank(run, aim, attitude, number, float(round(goal)))


def _tank(run: Run, aim: Aim, attitude: Attitude, number: int, goal: float) -> Iterator[Option]:
    fills = run.state.fills
    if abs(goal - fills[number]) >= 1:
        moved = _poured(run, attitude, put(fills, number, goal))
        yield Option(moved, partial(one_tank, run, aim, number, goal), pumps=1)


def _totals(run: Run, tuning: TuningBase, aim: Aim, attitude: Attitude) -> Iterator[Option]:
    tanks, fills = run.condition.boat.tanks, run.state.fills
    if not tanks:
        return
    more, whole = aim.move.name == "more_water", [100.0] * len(tanks)
    short = run.water(run.advised.fills) - run.water(fills)
    short = 100.0 * (short if more else -short) / run.water(whole)
    step = steps(tuning, "total", "slight") * aim.half
    for by in _reach(step, longest(tuning, aim, "total", short), 1.0 if more else -1.0):
        goals = alike(run, by)
        if any(abs(goal - fill) >= 1 for goal, fill in zip(goals, fills, strict=True)):
            state = replace(run.state, fills=goals)
            yield Option(
                _poured(run, attitude, goals),
                partial(all_tanks, run, aim.move, state),
                pumps=1,
            )


def _poured(run: Run, attitude: Attitude, fills: tuple[float, ...]) -> dict[str, float]:
    """By how much water at these fills moves the levers."""
    tanks = run.condition.boat.tanks
    masses = np.array(
        [
            run.density * tank.capacity * (goal - fill) / 100
            for tank, goal, fill in zip(tanks, fills, run.state.fills, strict=True)
        ]
    )
    turn = masses @ turns_of(attitude, ((t.x, t.y, t.z) for t in tanks))
    return _turned(turn) | {"total": float(masses.sum())}


def _turned(turn: Array) -> dict[str, float]:
    return {"side": float(turn[0]), "fore_and_aft": float(turn[1])}
