"""What changes between two turns, how long it takes, and that no state on the way is unsafe."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from service.advice.balance.model import Limit
from service.advice.balance.way import put
from service.advice.changeover import Changeover, OnTheWay, Patience, Step, changeover
from service.advice.loading_condition import Attitude, LoadingCondition
from service.outings.steps import MOVE, Move, Pumping, Shift, carrying
from service.outings.trip import Spot, Stand, Trip

SAME = 0.001
"""Seconds that are no difference: fills are rounded on the way."""


@dataclass(frozen=True, slots=True)
class Broken:
    """A limit that a state on the way breaks, by how much (m or degrees)."""

    limit: Limit
    off: float


@dataclass(frozen=True, slots=True)
class Between:
    """A change-over. ``steps`` in their safe order; ``seconds`` without boarding.

    ``pumping`` (s): the pumps as they run, ``in_sequence`` (s): one after the other. ``settling``:
    people and loads settle while pumps run. ``least_freeboard`` (m), ``most_lean`` (degrees) and
    ``least_gm`` (m) in the ``states`` before and after each step, ``None`` where the boat does not
    float.
    """

    steps: tuple[Move | Shift | Pumping, ...]
    seconds: float
    pumping: float
    in_sequence: float
    settling: bool
    least_freeboard: float | None
    most_lean: float | None
    least_gm: float | None
    broken: tuple[Broken, ...]
    states: tuple[LoadingCondition, ...] = ()

    @property
    def moves(self) -> tuple[Move, ...]:
        return tuple(step for step in self.steps if isinstance(step, Move))

    @property
    def shifts(self) -> tuple[Shift, ...]:
        return tuple(step for step in self.steps if isinstance(step, Shift))

    @property
    def pumps(self) -> tuple[Pumping, ...]:
        return tuple(step for step in self.steps if isinstance(step, Pumping))

    @property
    def milliseconds(self) -> int:
        return whole(self.seconds)


def whole(seconds: float) -> int:
    """Milliseconds, so that sums of times are exact."""
    return round(1000.0 * seconds)


def least(trip: Trip, before: Stand, after: Stand) -> int:
    """Milliseconds that the change-over takes at least: everything at once.

    Hands that need longer than any pump runs do not settle meanwhile (``_may_settle``).
    """
    pumps = [
        _pump_seconds(trip, tank, now, then)
        for tank, (now, then) in enumerate(zip(before.fills, after.fills, strict=True))
        if now != then
    ]
    hands, longest = _hands(trip, before, after), max(pumps, default=0.0)
    pumping = longest if trip.pumps_together else math.fsum(pumps)
    return whole(hands + pumping if hands > longest + SAME else max(hands, pumping))


def _hands(trip: Trip, before: Stand, after: Stand) -> float:
    """Seconds that people take to change places and to shift loads, one after the other."""
    bags = zip(trip.movable, before.bags, after.bags, strict=True)
    shifting = math.fsum(carrying(load.mass) for load, now, then in bags if now != then)
    return MOVE * len(_movers(before, after)) + shifting


def _pump_seconds(trip: Trip, tank: int, now: float, then: float) -> float:
    found = trip.seen.boat.tanks[tank]
    rate = (found.fill_rate if then > now else found.drain_rate) or 0.0
    return abs(then - now) * found.capacity / rate


def _movers(before: Stand, after: Stand) -> list[int]:
    """People aboard all the time who change places."""
    return [
        person
        for person, (now, then) in enumerate(zip(before.places, after.places, strict=True))
        if now != then and person not in (before.off, after.off)
    ]


def between(
    trip: Trip, before: Stand, after: Stand, fuel: float, patience: Patience | None = None
) -> Between:
    """From one stand to the next with everybody aboard, ``fuel`` as a fraction.

    The rider who comes back stands amid the seats and then takes a seat; the next one keeps the
    seat until the end, unless someone needs it, and then steps off.
    """
    start, end = list(before.places), list(after.places)
    if before.off is not None and before.off != after.off:
        start[before.off] = None
    if after.off is not None:
        end[after.off] = _until_the_end(trip, before, after)
        if before.off == after.off:
            start[after.off] = end[after.off]
    now, then = trip.condition(before, fuel, start), trip.condition(after, fuel, end)
    board, lean = (
        [trip.base.number(f"attitude.{name}_{line}") for line in ("caution", "stop")]
        for name in ("freeboard", "lean")
    )
    limits, firm = OnTheWay(board[0], lean[0]), OnTheWay(sum(board) / 2.0, sum(lean) / 2.0)
    found = changeover(now, then, limits, patience, firm)
    return _told(trip, now, then, found, start, end, before, after)


def _until_the_end(trip: Trip, before: Stand, after: Stand) -> Spot:
    """Where the next rider stays: on the seat they have, or standing where others need it."""
    rider = after.off
    if rider is None or rider == before.off:
        return None
    spot = before.places[rider]
    places = {seat.id: seat.places for seat in trip.seen.boat.seats}
    taken = Counter(place for n, place in enumerate(after.places) if n != rider)
    full = isinstance(spot, str) and taken[spot] >= places[spot]
    return None if full else spot


def _told(
    trip: Trip, now: LoadingCondition, then: LoadingCondition, found: Changeover,
    start: list[Spot], end: list[Spot], before: Stand, after: Stand,
) -> Between:  # fmt: skip
    steps: list[Move | Shift | Pumping] = []
    states, unseen = [now], [now]
    going = [n for n, (a, b) in enumerate(zip(start, end, strict=True)) if a != b]
    sits_down = before.off in going
    for step in found.steps:
        if step.pumps:
            steps.append(_pumping(trip, step))
            now = replace(now, fills=put(now.fills, step.tank or 0, step.to_fill))
            states.append(now)
            continue
        if step.load is not None:
            load = then.loads[step.load]
            steps.append(Shift(load.name, load.mass, now.loads[step.load].seat, load.seat))
            now = replace(now, loads=put(now.loads, step.load, load))
            states.append(now)
        for who in step.who:
            going.remove(who)
            now = replace(now, people=put(now.people, who, then.people[who]))
            steps.append(Move(trip.people[who].label, start[who], end[who]))
            states.append(now)
            if who != step.who[-1]:
                unseen.append(now)
    hands = _hands(trip, before, after)
    in_sequence = found.in_sequence or 0.0
    pumping = (found.at_once or 0.0) if trip.pumps_together else in_sequence
    settling = pumping > 0.0 and hands > 0.0 and _may_settle(trip, found, steps, states, hands)
    # Someone who gives up a seat without taking another one stands by.
    steps += [Move(trip.people[n].label, start[n], end[n]) for n in going]
    if before.off is not None and after.off != before.off and not sits_down:
        steps.insert(0, Move(trip.people[before.off].label, None, end[before.off]))
    looked = [_afloat(state.attitude()) for state in unseen]
    looked += [
        (s.after.least_freeboard, s.after.lean, s.after.gm) if s.after.floats else (None,) * 3
        for s in found.steps
    ]
    board, lean, gm = _worst(looked)
    return Between(
        steps=tuple(steps),
        seconds=max(hands, pumping) if settling or not hands else hands + pumping,
        pumping=pumping,
        in_sequence=in_sequence,
        settling=settling,
        least_freeboard=board,
        most_lean=lean,
        least_gm=gm,
        broken=_broken(trip, found),
        states=tuple(states),
    )


def _pumping(trip: Trip, step: Step) -> Pumping:
    tank = step.tank or 0
    return Pumping(
        trip.tanks[tank], step.fill, step.to_fill, step.volume, step.seconds or 0.0, step.batch
    )


def _worst(
    every: Iterable[tuple[float | None, float | None, float | None]],
) -> tuple[float | None, float | None, float | None]:
    """Least freeboard (m), most lean (degrees) and least GM (m); ``None`` where not afloat."""
    boards, leans, gms = [], [], []
    for board, lean, gm in every:
        if board is None or lean is None or gm is None:
            return None, None, None
        boards.append(board)
        leans.append(abs(lean))
        gms.append(gm)
    return min(boards), max(leans), min(gms)


def _afloat(attitude: Attitude) -> tuple[float | None, float | None, float | None]:
    board = attitude.freeboard
    if not attitude.floats or board is None:
        return None, None, None
    return board.least, attitude.lean, attitude.floating.gm


def with_fuel(
    trip: Trip, found: Between, before: Stand, after: Stand, fuel: float, patience: Patience
) -> Between:
    """The same with another amount of fuel, confirmed state by state; anew where that fails."""
    board, lean, gm = _worst(
        _afloat(replace(state, fuel=fuel).attitude()) for state in found.states
    )
    number = trip.base.number
    if board is not None and lean is not None:
        low = found.least_freeboard
        inside = low is not None and low >= number("attitude.freeboard_caution")
        least_board = number(f"attitude.freeboard_{'caution' if inside else 'stop'}")
        leans = found.most_lean or 0.0
        upright = leans <= number("attitude.lean_caution")
        most_lean = number(f"attitude.lean_{'caution' if upright else 'stop'}")
        if board >= least_board and lean <= most_lean:
            return replace(found, least_freeboard=board, most_lean=lean, least_gm=gm)
    return between(trip, before, after, fuel, patience)


def _broken(trip: Trip, found: Changeover) -> tuple[Broken, ...]:
    """Below the lines at which the boat does not go, which lie under those planned for."""
    number = trip.base.number
    spare = {
        Limit.FREEBOARD: number("attitude.freeboard_caution") - number("attitude.freeboard_stop"),
        Limit.MOST_LEAN: number("attitude.lean_stop") - number("attitude.lean_caution"),
    }
    worst: dict[Limit, float] = {}
    for entry in found.breaks:
        off = entry.off - spare.get(entry.limit, 0.0)
        if off > 0.0:
            worst[entry.limit] = max(off, worst.get(entry.limit, 0.0))
    return tuple(Broken(limit, off) for limit, off in worst.items())


def _may_settle(
    trip: Trip, found: Changeover, steps: Sequence[Move | Shift | Pumping],
    states: Sequence[LoadingCondition], hands: float,
) -> bool:  # fmt: skip
    """Whether people may change places and shift loads while the first pumps run.

    They go one by one, in the order found; each state is put to the hydrostatics. Only where they
    come first in that order and the first pumps run at least as long.
    """
    kinds = [step.pumps for step in found.steps]
    pumps = [step for step in found.steps if step.pumps]
    if kinds != sorted(kinds):
        return False
    batch = [step for step in pumps if step.batch == pumps[0].batch]
    if not trip.pumps_together:
        batch = batch[:1]
    if hands > max(step.seconds or 0.0 for step in batch):
        return False
    number = trip.base.number
    fills, clock = list(states[0].fills), 0.0
    worst = states[0].attitude().freeboard
    floor = number("attitude.freeboard_caution")
    floor = min(floor, worst.least if worst else floor)
    floor = min([floor, *(s.after.least_freeboard or floor for s in found.steps)])
    for step, state in zip(steps, states[1:], strict=True):
        if isinstance(step, Pumping):
            break
        clock += MOVE if isinstance(step, Move) else step.seconds
        for pump in batch:
            part = min(clock / (pump.seconds or 1.0), 1.0)
            fills[pump.tank or 0] = pump.fill + (pump.to_fill - pump.fill) * part
        there = replace(state, fills=tuple(fills)).attitude()
        board, lean, gm = there.freeboard, there.lean, there.floating.gm
        if not there.floats or board is None or lean is None or gm is None:
            return False
        if board.least < floor - 1e-9 or abs(lean) > number("attitude.lean_caution"):
            return False
    return True
