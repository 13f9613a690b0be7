"""From a move to a change: which lever, from where, to where, and how the boat lies after it.

People before pumps: weight is moved by people where someone can go to a seat that does what is
wanted without upsetting the rest; else by one tank. Everything is in the surf frame (surf side
to port), so the two sides of a boat are treated alike.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rules.tuning import Move, TuningBase
from service.advice.balance.way import put
from service.advice.loading_condition import Attitude, bow_begins
from service.advice.tuning.answer import Change
from service.advice.tuning.run import Run
from service.advice.tuning.state import State, reseat, sitting
from service.boats.model import SeatRole
from service.hydrostatics.equilibrium import response

Array = NDArray[np.float64]

MOST_PEOPLE = 3
"""As many go from one seat to another in one change."""
PER_PERSON = 0.1
FORWARD = 0.3
"""What one more person who has to move, or a seat in the bow, costs in degrees of the aim."""
SIDEWAYS = 0.5
"""Weight of what a move upsets across its own direction."""
WEIGHED = {"side": (0, 1.0), "fore_and_aft": (1, 0.6)}
"""For weight levers: lean or trim, and the degrees of it that matter as much as one of lean."""
NOT_ENOUGH = 0.3
"""A move of weight that reaches less of the aim than this is no move."""
LEAST_TURN = 0.05
"""Degrees; a tank that turns the boat less than this does not count."""


@dataclass(frozen=True, slots=True)
class Aim:
    """A move with its strength (``slight`` …) and whether the lever is known to be out of place."""

    move: Move
    strength: str
    known: bool
    half: float
    """What is left of a step after changes that went past the mark: 1, a half, a quarter …"""
    settings: int = 1
    """At how many settings the wave was looked at, less those that went past the mark."""


@dataclass(frozen=True, slots=True)
class _Target:
    """What a move of weight aims at: ``want`` degrees of lean (axis 0) or trim (axis 1).

    ``unit`` is how many degrees of it matter as much as one of lean; ``over`` how far lean and
    trim are beyond the wanted ones now.
    """

    want: float
    axis: int
    unit: float
    over: tuple[float, float]

    def served(self, turn: Array) -> bool:
        """Whether a turn (lean, trim) reaches enough of the aim to be worth a move."""
        return bool(turn[self.axis] / self.want >= NOT_ENOUGH)

    def cost(self, turn: Array) -> float:
        """How far a turn misses the aim and what it upsets across it, in degrees of lean."""
        other = 1 - self.axis
        upset = abs(self.over[other] + float(turn[other])) - abs(self.over[other])
        across = WEIGHED["side" if other == 0 else "fore_and_aft"][1]
        return abs(float(turn[self.axis]) - self.want) / self.unit + SIDEWAYS * upset / across


def realise(run: Run, tuning: TuningBase, aimed: Aim, attitude: Attitude) -> Change | None:
    """The change that carries a move out; ``None`` where its lever is at its end."""
    move, state = aimed.move, run.state
    if move.lever == "speed":
        low, high = (run.base.number(f"speed.{name}") for name in ("least", "most"))
        goal = _step(tuning, aimed, "speed", state.speed, run.advised.speed, (low, high), 1)
        if goal is None:
            return None
        return change_of(run, aimed, "speed", "speed", state.speed, goal, speed=goal)
    if move.lever in ("centre_plate", "off_side_plate"):
        return _plate(run, tuning, aimed)
    if move.name == "surf_side_plate_up":
        return change_of(
            run, aimed, f"plates.{run.side}", "percentage", state.surf_side, 0.0, surf_side=0.0
        )
    if move.name == "off_side_water_out":
        return _off_side_water(run, tuning, aimed)
    if move.lever in WEIGHED:
        return _weight(run, tuning, aimed, attitude)
    if move.lever == "total":
        return _total(run, tuning, aimed)
    if move.lever == "depth":
        good = run.base.number("depth.good")
        if state.depth is not None and state.depth >= good:
            return None
        return change_of(run, aimed, "depth", "length", state.depth, good, depth=good)
    return change_of(run, aimed, move.lever, "", None, None)


def change_of(
    run: Run, aimed: Aim, lever: str, quantity: str, origin: float | str | None,
    goal: float | str | None, people: int = 0, state: State | None = None, **to: float,
) -> Change:  # fmt: skip
    after = replace(run.state, **to) if state is None else state  # type: ignore[arg-type]
    return Change(aimed.move, lever, quantity, origin, goal, people, (), after, run.lie(after))


def steps(tuning: TuningBase, topic: str, strength: str, name: str = "step") -> float:
    """The size of one step for a sign of this strength."""
    table = tuning.rules.parameters[f"tuning_{topic}.{name}"].value
    assert isinstance(table, dict)  # noqa: S101  # the topic file says so
    return float(table[strength])


def _step(
    tuning: TuningBase, aimed: Aim, topic: str, now: float, advised: float,
    bounds: tuple[float, float], digits: int,
) -> float | None:  # fmt: skip
    """One step, or to the advised value where the lever is known to be out of place."""
    up = aimed.move.name in ("faster", "off_side_plate_down", "centre_plate_down")
    size = steps(tuning, topic, aimed.strength) * aimed.half
    goal = now + size if up else now - size
    if aimed.known and (advised > goal if up else advised < goal):
        goal = advised
    goal = round(min(max(goal, bounds[0]), bounds[1]), digits)
    return goal if (goal > now if up else goal < now) else None


def _plate(run: Run, tuning: TuningBase, aimed: Aim) -> Change | None:
    centre = aimed.move.lever == "centre_plate"
    now, advised = ((s.centre if centre else s.off_side) for s in (run.state, run.advised))
    if now is None or advised is None:
        return None
    most = 100.0 if centre else run.base.number("off_side_plate.most")
    goal = _step(tuning, aimed, "plates", now, advised, (0.0, most), 0)
    if goal is None:
        return None
    if centre:
        return change_of(run, aimed, "plates.centre", "percentage", now, goal, centre=goal)
    lever = f"plates.{run.side.other}"
    return change_of(run, aimed, lever, "percentage", now, goal, off_side=goal)


def _off_side_water(run: Run, tuning: TuningBase, aimed: Aim) -> Change | None:
    """A little out of the fullest tank of the off side; of two alike the one further aft."""
    tanks, fills = run.condition.boat.tanks, run.state.fills
    off = [(-fills[n], n) for n, tank in enumerate(tanks) if tank.y < 0 and fills[n] > 0]
    if not off:
        return None
    number = min(off)[1]
    size = steps(tuning, "side", aimed.strength, "water_step") * aimed.half
    return one_tank(run, aimed, number, max(round(fills[number] - size), 0.0))


def one_tank(run: Run, aimed: Aim, number: int, goal: float) -> Change:
    fills = run.state.fills
    state = replace(run.state, fills=put(fills, number, goal))
    lever = f"tanks.{run.condition.boat.tanks[number].id}"
    return change_of(run, aimed, lever, "percentage", fills[number], goal, state=state)


def _weight(run: Run, tuning: TuningBase, aimed: Aim, attitude: Attitude) -> Change | None:
    """People to another seat, or else water in one tank, for more or less lean or trim."""
    lever = aimed.move.lever
    over = (run.lean_over(attitude), run.bow_over(attitude))
    if over[0] is None or over[1] is None or attitude.floating.hessian is None:
        return None
    axis, unit = WEIGHED[lever]
    more = aimed.move.name in ("to_surf_side", "aft")
    size = steps(tuning, lever, aimed.strength) * aimed.half
    if aimed.known:
        size = max(size, abs(over[axis] or 0.0))
    want = size if more else -size
    target = _Target(want, axis, unit, (over[0], over[1]))
    people = [
        (cost, origin, goal, count)
        for origin, goal, count, turn in people_moves(run, attitude)
        for cost in [target.cost(turn) + PER_PERSON * count + FORWARD * in_bow(run, goal)]
        if cost < abs(want) / unit and target.served(turn)
    ]
    if people:
        _, origin, goal, count = min(people)
        return change_people(run, aimed, origin, goal, count)
    water = [
        (target.cost(turn), number, fill)
        for number, fill, turn in _tank_moves(run, tuning, aimed, attitude)
        if turn[axis] * want > 0 and abs(turn[axis]) > LEAST_TURN
    ]
    if not water:
        return None
    _, number, fill = min(water)
    return one_tank(run, aimed, number, fill)


def turns_of(attitude: Attitude, points: Iterable[tuple[float, float, float]]) -> Array:
    """Lean and trim (degrees) for 1 kg more at each point, to first order."""
    x, y, z = np.array(list(points)).T
    _, trim, heel = response(attitude.floating, 1.0, x, y, z)
    turns: Array = np.degrees(np.stack((-np.asarray(heel), np.asarray(trim)), axis=1))
    return turns


def change_people(run: Run, aimed: Aim, origin: str, goal: str, count: int) -> Change:
    """So many people from one seat to another: the lightest of those who may move."""
    here = sitting(run.state.people, origin, run.staying)[:count]
    state = reseat(
        run.state, origin, goal, count, [run.state.people[index].number for index in here]
    )
    return change_of(run, aimed, "people", "seat", origin, goal, people=count, state=state)


def people_moves(run: Run, attitude: Attitude) -> Iterator[tuple[str, str, int, Array]]:
    """Origin, goal, how many, and the turn of lean and trim; driver and observer stay."""
    boat, people = run.condition.boat, run.state.people
    seats = boat.seats
    if not seats:
        return
    turns = turns_of(attitude, ((s.x, s.y, s.z) for s in seats))
    taken = Counter(person.seat for person in people)
    for origin, seat in enumerate(seats):
        here = sitting(people, seat.id, run.staying)
        for goal, other in enumerate(seats):
            free = other.places - taken[other.id]
            closed = other.role is SeatRole.DRIVER or other.x <= boat.hull.x_min
            if goal == origin or closed:
                continue
            mass = 0.0
            for count in range(1, min(MOST_PEOPLE, free, len(here)) + 1):
                mass += people[here[count - 1]].kilograms
                yield seat.id, other.id, count, mass * (turns[goal] - turns[origin])


def in_bow(run: Run, seat: str) -> bool:
    boat = run.condition.boat
    begins = bow_begins(boat.hull)
    return any(each.id == seat and each.x > begins for each in boat.seats)


def _tank_moves(
    run: Run, tuning: TuningBase, aimed: Aim, attitude: Attitude
) -> Iterator[tuple[int, float, Array]]:
    """Number, new fill and turn, for one step out of or into each tank."""
    tanks = run.condition.boat.tanks
    if not tanks:
        return
    turns = turns_of(attitude, ((t.x, t.y, t.z) for t in tanks))
    size = steps(tuning, "total", aimed.strength) * aimed.half
    for number, (tank, fill) in enumerate(zip(tanks, run.state.fills, strict=True)):
        most = math.floor(100 * tank.max_fill + 1e-9)
        for goal in (max(fill - size, 0.0), min(fill + size, most)):
            if abs(round(goal) - fill) >= 1:
                mass = run.density * tank.capacity * (round(goal) - fill) / 100
                yield number, float(round(goal)), mass * turns[number]


def _total(run: Run, tuning: TuningBase, aimed: Aim) -> Change | None:
    """One step more or less in all tanks, to the advised fills where they are known short."""
    tanks, fills = run.condition.boat.tanks, run.state.fills
    if not tanks:
        return None
    size = steps(tuning, "total", aimed.strength) * aimed.half
    more = aimed.move.name == "more_water"
    goals = alike(run, size if more else -size)
    if more and aimed.known:
        most = [float(math.floor(100 * tank.max_fill + 1e-9)) for tank in tanks]
        goals = tuple(
            max(goal, float(round(min(advised, top))))
            for goal, advised, top in zip(goals, run.advised.fills, most, strict=True)
        )
    if all(abs(goal - fill) < 1 for goal, fill in zip(goals, fills, strict=True)):
        return None
    return all_tanks(run, aimed.move, replace(run.state, fills=goals))


def alike(run: Run, by: float) -> tuple[float, ...]:
    """The fills after ``by`` percent more, or less, in every tank that has room for it.

    Of two tanks that mirror each other neither goes further than both can: the total is one lever,
    the balance of the sides another.
    """
    tanks, fills = run.condition.boat.tanks, run.state.fills
    places = [(round(tank.x, 3), round(abs(tank.y), 3), round(tank.z, 3)) for tank in tanks]
    room: dict[object, float] = {}
    for tank, place, fill in zip(tanks, places, fills, strict=True):
        free = math.floor(100 * tank.max_fill + 1e-9) - fill if by > 0 else fill
        room[place] = min(room.get(place, abs(by)), free)
    return tuple(
        # Less than a gauge shows is none.
        float(round(fill + math.copysign(room[place], by))) if room[place] >= 1 else fill
        for place, fill in zip(places, fills, strict=True)
    )


def all_tanks(run: Run, move: Move, state: State) -> Change:
    """A change of several tanks at once: the one lever is the total, told as share of capacity."""
    tanks = run.condition.boat.tanks
    capacity = math.fsum(tank.capacity for tank in tanks)

    def share(fills: Iterable[float]) -> float:
        held = math.fsum(f * t.capacity for f, t in zip(fills, tanks, strict=True))
        return round(held / capacity, 1)

    changed = tuple(
        (tank.id, before, after)
        for tank, before, after in zip(tanks, run.state.fills, state.fills, strict=True)
        if before != after
    )
    origin, goal = share(run.state.fills), share(state.fills)
    return Change(move, "tanks", "percentage", origin, goal, 0, changed, state, run.lie(state))
